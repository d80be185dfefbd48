import { BadSample } from '#libs/numeric/index.js';

/**
 * Proper scores of forecast probabilities of a yes/no outcome: smaller is better.
 *
 * Brier = sum w (p - y)^2/sum w;  log score = -sum w (y ln p + (1 - y) ln(1 - p))/sum w, natural logarithm
 *
 * probability p in 0..1; outcome y 0 or 1; weight w >= 0, 1 when left out (inverse verification probabilities for partial proof).
 * The log score is infinite when a thing called impossible happened: that is a finding, not an error.
 * BadSample when empty or columns differ in length. Sources: Brier (1950), Mon. Weather Rev. 78:1; Gneiting and Raftery (2007), JASA 102:359.
 */
export interface Forecasts {
  readonly probability: readonly number[];
  readonly outcome: readonly number[];
  readonly weight?: readonly number[];
}

export function brierScore(forecasts: Forecasts): number {
  return mean(forecasts, (p, y) => (p - y) ** 2);
}

export function logScore(forecasts: Forecasts): number {
  return mean(forecasts, (p, y) => -Math.log(y === 1 ? p : 1 - p));
}

/**
 * Log score of a forecast over several classes: minus the mean log probability given to the class that proved true.
 *
 * rows of probabilities (each summing to 1 within 1e-6), truth the index of the true class. The multi-class Brier score is the sum over
 * classes of (p - y)^2, from 0 to 2.
 */
export function classScores(
  rows: readonly (readonly number[])[],
  truth: readonly number[],
): { readonly log: number; readonly brier: number } {
  if (rows.length === 0 || rows.length !== truth.length) throw new BadSample(`${rows.length} forecasts for ${truth.length} outcomes`);
  let log = 0;
  let brier = 0;
  rows.forEach((row, i) => {
    const total = row.reduce((a, b) => a + b, 0);
    const hit = row[truth[i]!];
    if (hit === undefined || !(Math.abs(total - 1) < 1e-6) || row.some((p) => p < 0)) {
      throw new BadSample(`forecast ${i}: probabilities sum to ${total}, true class ${truth[i]}`);
    }
    log -= Math.log(hit) / rows.length;
    brier += row.reduce((sum, p, k) => sum + (p - (k === truth[i] ? 1 : 0)) ** 2, 0) / rows.length;
  });
  return Object.freeze({ log, brier });
}

export function checkForecasts({ probability, outcome, weight }: Forecasts): void {
  const n = probability.length;
  if (n === 0 || outcome.length !== n || (weight !== undefined && weight.length !== n)) {
    throw new BadSample(`${n} forecasts, ${outcome.length} outcomes, ${weight?.length ?? n} weights`);
  }
  let sum = 0;
  for (let i = 0; i < n; i++) {
    const w = weight?.[i] ?? 1;
    if (!(probability[i]! >= 0 && probability[i]! <= 1)) throw new BadSample(`forecast ${i} is ${probability[i]}, not in 0..1`);
    if (outcome[i] !== 0 && outcome[i] !== 1) throw new BadSample(`outcome ${i} is ${outcome[i]}, not 0 or 1`);
    if (!(w >= 0 && Number.isFinite(w))) throw new BadSample(`weight ${i} is ${w}`);
    sum += w;
  }
  if (!(sum > 0)) throw new BadSample('no forecast has weight');
}

function mean(forecasts: Forecasts, loss: (p: number, y: number) => number): number {
  checkForecasts(forecasts);
  const { probability, outcome, weight } = forecasts;
  let sum = 0;
  let total = 0;
  for (let i = 0; i < probability.length; i++) {
    const w = weight?.[i] ?? 1;
    // A weightless forecast may have an infinite loss; 0 times that is not a number.
    if (w > 0) sum += w * loss(probability[i]!, outcome[i]!);
    total += w;
  }
  return sum / total;
}
