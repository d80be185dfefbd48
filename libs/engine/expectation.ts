import { SEA_LEVEL_PA } from './barometer.js';
import { CMD, D0, D1, DIMS, DUTY, E, L, Q1, Q2, SPD, TC, TD, TQ1, TQ2, TS, TV } from './dims.js';
import type { EnginePlatform } from './evidence.js';
import { saturationPressure, saturationTemperature } from './saturation.js';
import type { Weather } from './weather.js';

/** What a sound system of this kind would show in this weather: mean and covariance in the engine's dimensions. */
export interface Expectation {
  readonly mean: Float64Array;
  /** Row-major DIMS x DIMS: hardware of unlisted vehicles and unknown conditions, without instruments. */
  readonly covariance: Float64Array;
}

/** Loadings of one independent cause on the dimensions. */
type Loading = Partial<Record<number, number>>;

/**
 * Healthy expectation from published service windows and a small reference cycle model.
 *
 * Condensing approach = 18.3 + 0.53 (T_evaporator air - 300 K), K, raised by thin air; evaporating temperature from the evaporator air,
 * held by the set point of a variable compressor. Units K; shares for command, duty and speed.
 * Accuracy: with recirculated and outside air at 70 to 110 F the high side lies inside all ten windows of US Army TM 5-3805-290-23-1
 * (WP 0018, 1,000 rpm, max cool) where they apply. Hardware width: the windows' own, 35 to 45 psi.
 */
export function tabulatedExpectation(platform: EnginePlatform, weather: Weather): Expectation {
  const name = platform.refrigerant;
  const orifice = platform.layout === 'orifice-accumulator';
  const variable = platform.compressor === 'variable' || platform.compressor === 'variable-commanded';
  const air = weather.condenserAir.value;
  const cabin = weather.evaporatorAir.value;
  const thin = (SEA_LEVEL_PA - weather.barometerPa) / 17_500;

  const approach = Math.max(18.3 + 0.53 * (cabin - 300) + (orifice ? 0.8 : 0) + 1.3 * thin, 8);
  const condensing = air + approach;
  const load = cabin - 300 + 10 * (weather.humidity.value - 0.45);
  const held = 272.6 + Math.max(0, 0.5 * (load - 8));
  const free = 269.4 + 0.85 * load;
  const evaporating = variable ? held : Math.max(free, 269.4 + 0.35 * load, 263);

  const mean = new Float64Array(DIMS);
  const high = saturationPressure(name, condensing);
  mean[L] = evaporating;
  mean[E] = saturationTemperature(name, saturationPressure(name, evaporating) + 20_000);
  mean[D0] = saturationTemperature(name, high + 15_000);
  mean[D1] = condensing;
  mean[Q1] = saturationTemperature(name, high - 60_000);
  mean[Q2] = saturationTemperature(name, high - 75_000);
  const subcooling = platform.layout === 'valve-integral-receiver' ? 9 : orifice ? 6 : 5;
  mean[TS] = mean[orifice ? E : L]! + (orifice ? 4 : 8);
  mean[TQ1] = Math.max(mean[Q1]! - subcooling, air + 1);
  mean[TQ2] = mean[TQ1]! - 0.5;
  mean[TD] = condensing + 24;
  mean[TV] = Math.max(evaporating + 11 + 0.18 * load, 275);
  mean[TC] = mean[TV]! - 3;
  mean[CMD] = variable ? Math.min(0.6 + 0.03 * load, 1) : 0.6;
  mean[DUTY] = Math.min(0.9 + 0.01 * load, 1);
  mean[SPD] = 1;

  const covariance = new Float64Array(DIMS * DIMS);
  const add = (loading: Loading) => {
    const keys = Object.keys(loading).map(Number);
    for (const i of keys) for (const j of keys) covariance[i * DIMS + j]! += loading[i]! * loading[j]!;
  };
  const both = (x: number): Loading => ({ [D0]: x, [D1]: x, [Q1]: x, [Q2]: x, [TQ1]: x, [TQ2]: x, [TD]: x });
  const { condenserAir, evaporatorAir, humidity, speed } = weather;
  const te = variable ? 0.25 : 0.8;
  add(both(condenserAir.sigma));
  add({
    ...both(0.53 * evaporatorAir.sigma),
    [L]: te * evaporatorAir.sigma,
    [E]: te * evaporatorAir.sigma,
    [TS]: te * evaporatorAir.sigma,
    [TV]: 0.8 * evaporatorAir.sigma,
    [TC]: 0.7 * evaporatorAir.sigma,
    [CMD]: 0.03 * evaporatorAir.sigma,
  });
  add({
    ...both(4 * humidity.sigma),
    [L]: 8 * te * humidity.sigma,
    [E]: 8 * te * humidity.sigma,
    [TS]: 8 * te * humidity.sigma,
    [TV]: 8 * humidity.sigma,
    [TC]: 8 * humidity.sigma,
  });
  // Speed moves the two sides apart: about 1.5 K up and 2 K down for each third more speed (reference cycle model).
  const faster = (speed.sigma / Math.max(speed.value, 10)) * 3;
  add({
    ...both(1.5 * faster),
    [L]: -2 * te * faster,
    [E]: -2 * te * faster,
    [TS]: -2 * te * faster,
    [TV]: -1.5 * faster,
    [TC]: -1.5 * faster,
    [CMD]: -0.08 * faster,
  });
  add(both(2.6)); // condenser size and air flow
  add({ [L]: 1.7, [E]: 1.7, [TS]: 1.7, [TV]: 1.2, [TC]: 1.2 }); // evaporator and compressor size
  add({ [Q1]: 0.7, [Q2]: 0.7, [TQ1]: 0.7, [TQ2]: 0.7 }); // healthy drop over the condenser
  add({ [TQ1]: 2.5, [TQ2]: 2.5 }); // subcooling
  const own: [number, number][] = [
    [L, 0.7],
    [E, 0.7],
    [D0, 0.3],
    [D1, 0.3],
    [Q1, 0.2],
    [Q2, 0.4],
    [TS, orifice ? 3 : 2.5],
    [TQ1, 0.7],
    [TQ2, 0.8],
    [TD, 6],
    [TV, 1.6],
    [TC, 1.5],
    [CMD, 0.2],
    [DUTY, 0.12],
    [SPD, 0.04],
  ];
  for (const [i, sd] of own) covariance[i * DIMS + i]! += sd * sd;
  return { mean, covariance };
}
