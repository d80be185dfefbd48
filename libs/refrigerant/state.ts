import type { Fluid } from './fluids.js';

/** A thermodynamic state. SI; h and s on the datum of the IIR (200 kJ/kg and 1 kJ/(kg K) for saturated liquid at 0 °C). */
export interface State {
  /** K. */
  readonly T: number;
  /** Pa. */
  readonly p: number;
  /** kg/m3. */
  readonly rho: number;
  /** J/kg. */
  readonly h: number;
  /** J/(kg K). */
  readonly s: number;
  /** J/kg. */
  readonly u: number;
  /** Gibbs energy, J/kg. */
  readonly g: number;
  /** Heat capacities, J/(kg K). Undefined thermodynamically inside the dome: NaN for a two-phase state. */
  readonly cp: number;
  readonly cv: number;
  /** Speed of sound, m/s. NaN for a two-phase state. */
  readonly w: number;
  /** Vapour mass fraction of a two-phase state; null for a single phase. */
  readonly quality: number | null;
}

/** Pressure at (T, rho), Pa: p = rho R T (1 + delta alphar_delta). */
export function pressureAt(fluid: Fluid, T: number, rho: number): number {
  const { eos } = fluid;
  eos.density(T, rho);
  return rho * eos.R * T * (1 + eos.ard);
}

/**
 * Every property of the homogeneous phase at (T, rho). Inside the dome this is the equation's own loop, not the two-phase mixture.
 *
 *   p = rho R T (1 + ard)                       s = R (a0t + art - a0 - ar)
 *   u = R T (a0t + art)                         h = u + p/rho
 *   cv = -R (a0tt + artt)                       cp = cv + R (1 + ard - ardt)^2 / (1 + 2 ard + ardd)
 *   w^2 = R T (1 + 2 ard + ardd + R (1 + ard - ardt)^2 / cv)
 *
 * T K, rho kg/m3. Reproduces 17-digit values of an independent evaluation of the same equation to 1e-12 relative.
 */
export function stateAtTRho(fluid: Fluid, T: number, rho: number): State {
  const { eos } = fluid;
  eos.all(T, rho);
  const { R } = eos;
  const RT = R * T;
  const p = rho * RT * (1 + eos.ard);
  const u = RT * (eos.a0t + eos.art);
  const h = u + RT * (1 + eos.ard);
  const s = R * (eos.a0t + eos.art - eos.a0 - eos.ar);
  const cv = -R * (eos.a0tt + eos.artt);
  const expansion = 1 + eos.ard - eos.ardt;
  const stiffness = 1 + 2 * eos.ard + eos.ardd;
  const cp = cv + (R * expansion * expansion) / stiffness;
  const w = Math.sqrt(RT * (stiffness + (R * expansion * expansion) / cv));
  return { T, p, rho, h, s, u, g: h - T * s, cp, cv, w, quality: null };
}
