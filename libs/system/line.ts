import type { LineHardware } from './hardware.js';

/**
 * Heat a line takes up from the engine bay, W: UA (T_bay - T), T at the line's known end. Lines are short: their gas warms by a few kelvin, so one
 * temperature is enough.
 */
export function heatFromBay(line: LineHardware, tBay: number, T: number): number {
  return line.conductance * (tBay - T);
}

/** Pressure a resistance takes, Pa: dP = k m^2/rho. */
export function pressureLoss(k: number, flow: number, rho: number): number {
  return (k * flow * flow) / rho;
}
