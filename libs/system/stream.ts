/** The refrigerant at a place: pressure of the refrigerant alone (Pa) and specific enthalpy (J/kg). Components change it in place, in flow order. */
export interface Stream {
  p: number;
  h: number;
}

/**
 * Pressure behind a resistance: p - k m^2/rho.
 *
 * Beyond four fifths of the pressure available above `floor` the loss saturates smoothly (same value and slope at the join), because a
 * resistance cannot take more than there is. The flow at which this happens is then set by the rest of the circuit.
 */
export function afterDrop(p: number, drop: number, floor: number): number {
  const available = p - floor;
  if (available <= 0) return p;
  const y = drop / available;
  return y <= 0.8 ? p - drop : floor + 0.2 * available * Math.exp(-(y - 0.8) / 0.2);
}

/** Odd square root, regular at zero: x/sqrt(|x| + e). Keeps a valve's flow smooth where its pressure difference changes sign. */
export function oddRoot(x: number, e: number): number {
  return x / Math.sqrt(Math.abs(x) + e);
}
