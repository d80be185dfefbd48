/**
 * Liquid level of a receiver or accumulator from what the rest of the circuit leaves for it, as a share of its usable volume:
 *
 *   L = (M - M_elsewhere - V rhoV)/(V usable (rhoL - rhoV))
 *
 * Below 0 there is not enough charge for any liquid here, above 1 too much.
 */
export function levelNeeded(volume: number, usable: number, rest: number, rhoL: number, rhoV: number): number {
  return (rest - volume * rhoV) / (volume * usable * (rhoL - rhoV));
}

/** Enthalpy excess that a vessel's inlet may show before the switch between its three regimes, J/kg: only scales the residual. */
const SCALE = 50_000;

/**
 * The vessel's own condition as one equation, zero when it holds:
 *
 *   level partial   what enters is exactly what can leave: saturated liquid from a receiver, vapour with the bleed's liquid from an accumulator
 *   level 0         what enters is drier (vapour in the liquid line, superheat after the accumulator)
 *   level 1         what enters is wetter (liquid backs up; the accumulator floods the compressor)
 *
 *   F = L - min(1, max(0, L + (h* - h)/scale))        h* enthalpy that can leave from a partial level, h the enthalpy entering
 *
 * so the plateau of a charge map is the middle branch, and its width is the vessel's usable volume.
 */
export function vesselResidual(level: number, hLeaving: number, hEntering: number): number {
  const shifted = level + (hLeaving - hEntering) / SCALE;
  return level - (shifted < 0 ? 0 : shifted > 1 ? 1 : shifted);
}
