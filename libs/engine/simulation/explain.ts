import { analyse } from '../analysis.js';
import { currentCalibration } from '../calibration/current.js';
import { bandsOf, groupKey } from '../calibration/model.js';
import { STRUCTURE } from '../calibration/structure.js';
import { applies } from '../catalogue/entries.js';
import type { FaultCode, HypothesisCode } from '../codes.js';
import { DIMS } from '../dims.js';
import type { EngineInput } from '../evidence.js';
import { functionalsOf, valueOn } from '../functionals.js';
import { logDensity, precision } from '../gaussian.js';
import { broadOf, normalise } from '../posterior.js';
import type { Uncertain, Weather } from '../weather.js';
import { FLOOR, quasi, severitiesOf } from './draws.js';
import { HARDWARE_DRAWS, type SimulatedWeather, steadySimulator } from './simulate.js';

/** What simulation at a case's own conditions says; the fitted likelihood of `diagnose` stands for it. */
export interface SimulatedExplanation {
  /** Probability of every hypothesis, most probable first. */
  readonly codes: readonly { readonly code: HypothesisCode; readonly probability: number }[];
  /** What the simulated systems would read under each fault and size: mean and one standard deviation over hardware and unknown conditions. */
  readonly predictions: readonly {
    readonly code: FaultCode;
    readonly severity: number;
    readonly observation: string;
    readonly label: string;
    readonly unit: 'Pa' | 'K' | '1';
    readonly mean: number;
    readonly sigma: number;
  }[];
  /** Systems solved. */
  readonly solves: number;
}

/** Inverse of the standard normal distribution to about 0.5 % of sigma between 0.02 and 0.98 (logistic approximation, scaled). */
const normalAt = (u: number) => Math.log(Math.min(Math.max(u, 0.02), 0.98) / (1 - Math.min(Math.max(u, 0.02), 0.98))) / 1.702;

function drawnWeather(w: Weather, u: Float64Array, electric: boolean): SimulatedWeather {
  const at = (x: Uncertain, k: number, low: number, high: number) => Math.min(Math.max(x.value + x.sigma * normalAt(u[k]!), low), high);
  return {
    condenserAirK: at(w.condenserAir, 0, 287, 321),
    evaporatorAirK: at(w.evaporatorAir, 1, 287, 319),
    relativeHumidity: at(w.humidity, 2, 0.1, 0.95),
    speed: at(w.speed, 3, electric ? 20 : 12, electric ? 110 : 65),
    blower: at(w.blower, 4, 0.35, 1),
    barometerPa: w.barometerPa,
  };
}

const WEATHER_DRAWS = 5;
/** Fewer settled systems than this say nothing; the fitted likelihood is kept there. */
const LEAST_SETTLED = 8;

/**
 * The case explained by brute simulation: for every simulated fault and size, `draws` systems of this kind are solved at the case's own
 * conditions, what is not known of them drawn as well, and the likelihood is the mean over those systems of the density of the readings around
 * what each would show (structural error and instruments as its kernel). Priors, channels and hypotheses without physics are those of `diagnose`.
 * About 0.4 ms a solve: one to three seconds a case with 48 draws. Deterministic. Reference of the fitted path, and its explanation for one case.
 */
export function explainBySimulation(input: EngineInput, draws = 48): SimulatedExplanation {
  const analysis = analyse(input);
  const { measured, weather, nodes } = analysis;
  const { layout, compressor, refrigerant } = input.platform;
  const system = { layout, compressor, refrigerant };
  const group = currentCalibration().get(groupKey(layout, compressor));
  const present = measured.present;
  const d = present.length;
  const kernel = new Float64Array(d * d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      const k = present[a]! * DIMS + present[b]!;
      kernel[a * d + b] = STRUCTURE[k]! + measured.noise[k]! + (a === b ? FLOOR[present[a]!]! ** 2 : 0);
    }
  }
  const shape = precision(kernel, d);
  const logBroad = Float64Array.from(present, (i) => -Math.log(broadOf(i)));
  const functionals = functionalsOf(present);
  const points = quasi(WEATHER_DRAWS + HARDWARE_DRAWS + 1);
  const simulate = steadySimulator();
  let solves = 0;
  const solve = (u: Float64Array, air: SimulatedWeather, code: FaultCode, size: number) => {
    solves++;
    return simulate(system, u.subarray(WEATHER_DRAWS, WEATHER_DRAWS + HARDWARE_DRAWS), air, code, size);
  };
  // The same systems in the same air for every fault; where they would not be sound there is no vehicle to put it into.
  const vehicles = Array.from({ length: draws }, (_, i) => {
    const u = points(i + 17);
    return { u, air: drawnWeather(weather, u, compressor === 'electric') };
  }).filter(({ u, air }) => solve(u, air, 'healthy', 0) !== null);

  const logs = new Map<string, number>();
  const predictions: SimulatedExplanation['predictions'][number][] = [];
  const r = new Float64Array(d);
  for (const regimes of group ? bandsOf(group) : []) {
    const { code, severity } = regimes[0]!;
    if (!applies(code, input.platform)) continue;
    const limits = severitiesOf(code).find(([low, high]) => Math.abs((low + high) / 2 - severity) < 1e-3)!;
    const densities: number[] = [];
    const values = functionals.map((): number[] => []);
    for (const { u, air } of vehicles) {
      const got = solve(u, air, code, limits[0] + (limits[1] - limits[0]) * u[WEATHER_DRAWS + HARDWARE_DRAWS]!);
      if (!got || got.dims.some((x) => !Number.isFinite(x))) continue;
      for (let a = 0; a < d; a++) r[a] = measured.x[present[a]!]! - got.dims[present[a]!]!;
      densities.push(logDensity(r, shape, logBroad));
      functionals.forEach((f, k) => {
        values[k]!.push(valueOn(f, got.dims, refrigerant));
      });
    }
    if (densities.length < LEAST_SETTLED) continue;
    const top = Math.max(...densities);
    logs.set(`${code} ${severity}`, top + Math.log(densities.reduce((sum, x) => sum + Math.exp(x - top), 0) / densities.length));
    functionals.forEach((f, k) => {
      const n = values[k]!.length;
      const mean = values[k]!.reduce((sum, x) => sum + x, 0) / n;
      const sigma = Math.sqrt(values[k]!.reduce((sum, x) => sum + (x - mean) ** 2, 0) / Math.max(n - 1, 1));
      predictions.push({ code, severity, observation: f.observation, label: f.label, unit: f.unit, mean, sigma });
    });
  }

  const own = analysis.channels.filter((c) => c.observation === 'same-place-difference');
  const weights = Float64Array.from(nodes, (node, i) => {
    const simulated = node.simulated ? logs.get(`${node.code} ${node.severity}`) : undefined;
    if (simulated === undefined) return analysis.common[i]! + analysis.circuit[i]!;
    return analysis.common[i]! + simulated + own.reduce((sum, c) => sum + c.logs[i]!, 0);
  });
  const codes = [...normalise(analysis.groups, weights, analysis.weights, analysis.astray).codes]
    .map(([code, probability]) => ({ code, probability }))
    .sort((a, b) => b.probability - a.probability || (a.code < b.code ? -1 : 1));
  return { codes, predictions, solves };
}
