import { OutOfRange } from '#libs/numeric/index.js';

/** Sea-level pressure (Pa) and temperature (K) of the standard atmosphere. */
export const SEA_LEVEL_PRESSURE = 101_325;
const SEA_LEVEL_TEMPERATURE = 288.15;
/** K/m. */
const LAPSE = 0.0065;
/** g0 M0 / (R* L) with g0 = 9.80665 m/s2, M0 = 0.0289644 kg/mol, R* = 8.31432 J/(mol K) as the 1976 standard has them. */
const EXPONENT = (9.80665 * 0.0289644) / (8.31432 * LAPSE);
/** Effective radius of the earth, m. */
const EARTH_RADIUS = 6_356_766;
const H_MIN = -5_000;
const H_MAX = 11_000;

function checkGeopotential(H: number): void {
  if (!(H >= H_MIN && H <= H_MAX)) throw new OutOfRange('altitude', H, H_MIN, H_MAX, 'm');
}

/** Geopotential altitude of a geometric elevation: H = r z/(r + z), m. */
export function geopotentialAltitude(elevation: number): number {
  return (EARTH_RADIUS * elevation) / (EARTH_RADIUS + elevation);
}

/** Pressure at geopotential altitude H (m, -5,000 to 11,000): p = p0 (1 - L H/T0)^(g0 M0/(R* L)), Pa. */
export function standardPressureAtGeopotential(H: number): number {
  checkGeopotential(H);
  return SEA_LEVEL_PRESSURE * (1 - (LAPSE * H) / SEA_LEVEL_TEMPERATURE) ** EXPONENT;
}

/** Temperature of the standard atmosphere at geopotential altitude H: T0 - L H, K. */
export function standardTemperatureAtGeopotential(H: number): number {
  checkGeopotential(H);
  return SEA_LEVEL_TEMPERATURE - LAPSE * H;
}

/**
 * Pressure of the US Standard Atmosphere 1976 at an elevation above sea level as maps give it (geometric, m), Pa.
 *
 * Weather moves the real pressure by about 1 % around it. Valid from -5,000 to 11,000 m (troposphere), OutOfRange outside.
 * source   U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), equations 18 and 33a.
 */
export function standardAtmospherePressure(elevation: number): number {
  return standardPressureAtGeopotential(geopotentialAltitude(elevation));
}

/** Elevation (geometric, m) at which the standard atmosphere has this pressure: inverse of the above; 22,633 to 177,000 Pa, OutOfRange outside. */
export function standardAtmosphereElevation(pressure: number): number {
  const lowest = standardPressureAtGeopotential(H_MAX);
  const highest = standardPressureAtGeopotential(H_MIN);
  if (!(pressure >= lowest && pressure <= highest)) throw new OutOfRange('pressure', pressure, lowest, highest, 'Pa');
  const H = (SEA_LEVEL_TEMPERATURE / LAPSE) * (1 - (pressure / SEA_LEVEL_PRESSURE) ** (1 / EXPONENT));
  return (EARTH_RADIUS * H) / (EARTH_RADIUS - H);
}

/** Station pressure from a weather report's pressure (reduced to sea level), by the standard atmosphere's ratio, Pa. */
export function stationFromSeaLevel(reduced: number, elevation: number): number {
  return (reduced * standardAtmospherePressure(elevation)) / SEA_LEVEL_PRESSURE;
}

/** A weather report's pressure from a station pressure, Pa. */
export function seaLevelFromStation(station: number, elevation: number): number {
  return (station * SEA_LEVEL_PRESSURE) / standardAtmospherePressure(elevation);
}

export type BarometerKind = 'station' | 'reduced to sea level' | 'cannot tell' | 'neither';

export interface BarometerJudgement {
  readonly kind: BarometerKind;
  /** Local absolute pressure, Pa: the reading itself, or brought down to the elevation; null when neither reading of it is possible. */
  readonly station: number | null;
  /** What the standard atmosphere has at the elevation, Pa. */
  readonly expected: number;
}

/**
 * Sea-level pressures between deep lows and strong highs, Pa. Observed extremes are 870 and 1,085 hPa (storm centres, Siberian winter); what a
 * shop sees lies within 950 to 1,055 hPa (common practice).
 */
const WEATHER_LOW = 95_000;
const WEATHER_HIGH = 105_500;

/**
 * Whether a barometer reading is the local (station) pressure or a weather report's, reduced to sea level.
 *
 * Either is possible when the sea-level pressure it implies is ordinary weather. Near sea level both are, and the difference does not matter much;
 * then the kind is "cannot tell" and the reading itself is taken as the local pressure.
 *
 * reading     Pa absolute
 * elevation   m above sea level
 */
export function judgeBarometer(reading: number, elevation: number): BarometerJudgement {
  const expected = standardAtmospherePressure(elevation);
  const ordinary = (seaLevel: number): boolean => seaLevel >= WEATHER_LOW && seaLevel <= WEATHER_HIGH;
  const asStation = ordinary(seaLevelFromStation(reading, elevation));
  const asReduced = ordinary(reading);
  if (asStation && asReduced) return { kind: 'cannot tell', station: reading, expected };
  if (asStation) return { kind: 'station', station: reading, expected };
  if (asReduced) return { kind: 'reduced to sea level', station: stationFromSeaLevel(reading, elevation), expected };
  return { kind: 'neither', station: null, expected };
}
