import { OutOfRange } from '#libs/numeric/index.js';

/**
 * Pressure of the US Standard Atmosphere 1976 below 11 km.
 *
 *   p = p0 (1 - L z / T0)^(g M / (R L))
 *
 * where    z — geopotential elevation above sea level [m]; p0 = 101325 Pa; T0 = 288.15 K; L = 0.0065 K/m; exponent 5.2558797
 * valid    -2000 to 11,000 m; OutOfRange beyond
 * accuracy exact by definition of the standard; geometric and geopotential elevation differ by 0.04 % at 2,300 m
 * source   US Standard Atmosphere 1976, NOAA/NASA/USAF, equation 33a (g = 9.80665, M = 0.0289644, R = 8.31432)
 */
const SEA_LEVEL_PA = 101_325;
const SEA_LEVEL_K = 288.15;
const LAPSE_K_PER_M = 0.0065;
const EXPONENT = (9.80665 * 0.0289644) / (8.31432 * LAPSE_K_PER_M);

export function standardAtmospherePressure(elevationM: number): number {
  if (!(elevationM >= -2000 && elevationM <= 11_000)) throw new OutOfRange('elevation', elevationM, -2000, 11_000, 'm');
  return SEA_LEVEL_PA * (1 - (LAPSE_K_PER_M * elevationM) / SEA_LEVEL_K) ** EXPONENT;
}

/** Elevation at which the standard atmosphere has this pressure, m: the inverse of the above, 22 to 128 kPa. */
export function standardAtmosphereElevation(pressurePa: number): number {
  if (!(pressurePa >= 22_632 && pressurePa <= 127_774)) throw new OutOfRange('pressure', pressurePa, 22_632, 127_774, 'Pa');
  return (SEA_LEVEL_K / LAPSE_K_PER_M) * (1 - (pressurePa / SEA_LEVEL_PA) ** (1 / EXPONENT));
}
