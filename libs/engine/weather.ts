import type { Barometer } from './barometer.js';
import { SEA_LEVEL_PA } from './barometer.js';
import type { EngineInput } from './evidence.js';

/** A condition with what is not known about it, one standard deviation. */
export interface Uncertain {
  readonly value: number;
  readonly sigma: number;
}

/** The air the test was made in, with an honest width for whatever was not written down. */
export interface Weather {
  readonly condenserAir: Uncertain;
  readonly evaporatorAir: Uncertain;
  readonly humidity: Uncertain;
  /** Compressor speed, revolutions per second. */
  readonly speed: Uncertain;
  readonly blower: Uncertain;
  readonly barometerPa: number;
}

/** Pulley ratio of belt-driven compressors, 1.1 to 1.5 (common practice). */
const PULLEY = 1.3;

/**
 * Weather of a case. Unknown temperatures follow from the known ones with a width: air at the grille is 2 K above outside air, to within 2 K
 * (shop floor, own recirculation), cabin air on recirculation settles near 27 C (common practice); without any temperature a warm day is assumed
 * with a width of 7 K, so that pressures alone say little.
 */
export function weatherOf(input: EngineInput, barometer: Barometer): Weather {
  const c = input.conditions;
  const place = (name: string) =>
    input.readings.filter((r) => r.quantity === 'temperature' && r.place === name && (r.stage ?? 'before') === (input.stage ?? 'before'));
  const average = (name: string) => {
    const found = place(name)
      .map((r) => r.value)
      .sort((a, b) => a - b);
    return found.length > 0 ? found.reduce((a, b) => a + b, 0) / found.length : undefined;
  };
  const outside = c.outsideAirK ?? average('outside');
  const grille = c.condenserAirK ?? average('condenser-air-inlet');
  const cabin = c.evaporatorAirK ?? average('evaporator-air-inlet');

  const condenserAir: Uncertain =
    grille !== undefined
      ? { value: grille, sigma: 1 }
      : outside !== undefined
        ? { value: outside + 2, sigma: 2 }
        : { value: seasonalK(input.day), sigma: 7 };
  let evaporatorAir: Uncertain;
  if (cabin !== undefined) evaporatorAir = { value: cabin, sigma: 1 };
  else if (c.airSource === 'recirculated') evaporatorAir = { value: Math.min(outside ?? condenserAir.value, 300), sigma: 3 };
  else if (c.airSource === 'outside' && outside !== undefined) evaporatorAir = { value: outside, sigma: 1.5 };
  else evaporatorAir = { value: (Math.min(outside ?? condenserAir.value, 306) + 300) / 2, sigma: outside === undefined ? 5 : 3.5 };

  const own = input.readings.find((r) => r.meaning === 'compressor-speed');
  const engineRead = input.readings.find((r) => r.meaning === 'engine-speed');
  const engine = c.engineSpeedPerS ?? engineRead?.value;
  const electric = input.platform.compressor === 'electric';
  const speed: Uncertain =
    c.compressorSpeedPerS !== undefined || own !== undefined
      ? { value: c.compressorSpeedPerS ?? own!.value, sigma: 1 }
      : electric
        ? { value: 60, sigma: 25 }
        : engine !== undefined
          ? { value: engine * PULLEY, sigma: engine * 0.12 }
          : { value: 28, sigma: 9 };

  return {
    condenserAir,
    evaporatorAir,
    humidity: c.relativeHumidity === undefined ? { value: 0.45, sigma: 0.16 } : { value: c.relativeHumidity, sigma: 0.05 },
    speed,
    blower: c.blower === undefined ? { value: 0.85, sigma: 0.15 } : { value: c.blower, sigma: 0.05 },
    barometerPa: Math.min(Math.max(barometer.pressurePa, 60_000), SEA_LEVEL_PA * 1.03),
  };
}

/** Typical air on a day somebody complains about cooling, K: 30 C in summer, 24 C otherwise (common practice; the width does the work). */
function seasonalK(day: string | undefined): number {
  const month = day === undefined ? 7 : Number(day.slice(5, 7));
  return month >= 5 && month <= 9 ? 303 : 299;
}
