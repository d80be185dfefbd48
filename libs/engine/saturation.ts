import { fluidTables } from '#libs/refrigerant/index.js';
import type { RefrigerantName } from './codes.js';

/**
 * Saturation pressure of a pure refrigerant, Pa, from the fast tables of its equation of state; T in K, held to the tables' range
 * (an absurd temperature gives the pressure at the edge: it is judged elsewhere, and one wild value must not stop a case).
 */
export function saturationPressure(name: RefrigerantName, T: number): number {
  const tables = fluidTables(name);
  return tables.pSat(Math.min(Math.max(T, tables.tSaturationMin), tables.tSaturationMax));
}

/** Saturation temperature, K, at p Pa absolute, held to the tables' range. */
export function saturationTemperature(name: RefrigerantName, p: number): number {
  const tables = fluidTables(name);
  return tables.tSat(Math.min(Math.max(p, tables.pMin), tables.pSaturationMax));
}

/** Slope of the saturation curve dp/dT, Pa/K, by a central difference of 0.1 K. */
export function saturationSlope(name: RefrigerantName, T: number): number {
  return (saturationPressure(name, T + 0.05) - saturationPressure(name, T - 0.05)) / 0.1;
}
