import { SEA_LEVEL_PRESSURE, standardAtmospherePressure } from '#libs/air/index.js';
import type { EngineConditions } from './evidence.js';

/** Sea-level pressure, Pa: where sealed gauges and many transducers were zeroed. */
export const SEA_LEVEL_PA = SEA_LEVEL_PRESSURE;

/** Pressure of the standard atmosphere at an elevation above sea level, m, held to -500 to 9,000 m; Pa. */
export function standardPressure(elevationM: number): number {
  return standardAtmospherePressure(Math.min(Math.max(elevationM, -500), 9_000));
}

export interface Barometer {
  /** Local pressure, Pa. */
  readonly pressurePa: number;
  /** One standard deviation, Pa. */
  readonly sigmaPa: number;
  readonly source: 'station' | 'reduced' | 'elevation' | 'unknown';
  /** A barometer was given but it fits only when taken as reduced to sea level. */
  readonly looksReduced: boolean;
}

/** Weather moves the local barometer by about 0.8 kPa around its mean (one standard deviation, mid-latitudes; common practice). */
const WEATHER_PA = 800;
/** Without barometer and elevation: towns lie between 0 and 2,000 m, so the pressure is somewhere about 97 kPa. */
const ANYWHERE_PA = 97_000;
const ANYWHERE_SIGMA_PA = 4_500;

/**
 * The local barometric pressure of a case.
 *
 * A measured station barometer comes first. A weather report is reduced to sea level: it is brought back to the shop's elevation by the
 * standard atmosphere's ratio. A barometer of unknown kind is taken as reduced when only that agrees with the elevation (within 2.5 kPa).
 */
export function localBarometer(conditions: EngineConditions, elevationM: number | undefined): Barometer {
  const given = conditions.barometerPa;
  const expected = elevationM === undefined ? undefined : standardPressure(elevationM);
  if (given !== undefined && given > 0) {
    const kind = conditions.barometerKind ?? 'unknown';
    const far = expected !== undefined && Math.abs(given - expected) > 2_500;
    const reducedFits = expected !== undefined && Math.abs((given * expected) / SEA_LEVEL_PA - expected) <= 5_000;
    const looksReduced = far && reducedFits && Math.abs(given - SEA_LEVEL_PA) < 5_500;
    if (kind === 'sea-level' || (kind === 'unknown' && looksReduced)) {
      if (expected === undefined) return { pressurePa: ANYWHERE_PA, sigmaPa: ANYWHERE_SIGMA_PA, source: 'unknown', looksReduced };
      return { pressurePa: (given * expected) / SEA_LEVEL_PA, sigmaPa: 300, source: 'reduced', looksReduced };
    }
    return { pressurePa: given, sigmaPa: kind === 'station' ? 200 : 400, source: 'station', looksReduced };
  }
  if (expected !== undefined) return { pressurePa: expected, sigmaPa: WEATHER_PA, source: 'elevation', looksReduced: false };
  return { pressurePa: ANYWHERE_PA, sigmaPa: ANYWHERE_SIGMA_PA, source: 'unknown', looksReduced: false };
}
