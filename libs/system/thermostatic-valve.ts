import type { ThermostaticValveHardware } from './hardware.js';
import { oddRoot } from './stream.js';

/** Difference below which the root is made linear, Pa. */
const ROOT_REGULAR = 2_000;

/**
 * Opening function of a thermostatic valve, 0 closed to 1 fully open: 2A - A^2 with A = (SH - SHstatic)/SHopening.
 * Below A = 0 it goes on with its slope towards -2, so that a solver sees which way the valve is wrong; no steady state lies there.
 */
export function valveOpening(valve: ThermostaticValveHardware, superheat: number): number {
  const A = (superheat - valve.staticSuperheat) / valve.openingSuperheat;
  return A >= 1 ? 1 : A >= 0 ? A * (2 - A) : (2 * A) / (1 - A);
}

/**
 * Flow of the valve, kg/s: m = C f(A) sqrt(rho dP).
 *
 * rho   density before the valve (of the mixture when flash gas reaches it), kg/m3     dP   Pa
 * source   form of Li and Braun's rooftop-unit models.
 */
export function valveFlow(flowArea: number, opening: number, rho: number, dP: number): number {
  return flowArea * opening * Math.sqrt(rho) * oddRoot(dP, ROOT_REGULAR);
}
