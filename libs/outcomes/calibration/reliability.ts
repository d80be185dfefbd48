import { BadSample } from '#libs/numeric/index.js';
import { isotonicMeans } from './isotonic.js';
import { brierScore, checkForecasts, type Forecasts } from './scores.js';

/**
 * CORP reliability: forecasts recalibrated by isotonic regression, and the Brier score split without bins.
 *
 * x = isotonic (pool-adjacent-violators) fit of y on p;  Brier = MCB - DSC + UNC
 * MCB = Brier(p) - Brier(x) miscalibration, DSC = Brier(mean y) - Brier(x) discrimination, UNC = Brier(mean y) uncertainty
 *
 * Equal forecasts are one point. Weighted throughout. recalibrated is in the order given. MCB, DSC, UNC >= 0.
 * Recalibrated on the same cases, so MCB is above 0 even for a perfect forecaster: of order (number of steps)/n.
 * Source: Dimitriadis, Gneiting and Jordan (2021), PNAS 118:e2016191118.
 */
export interface Corp {
  readonly score: number;
  readonly miscalibration: number;
  readonly discrimination: number;
  readonly uncertainty: number;
  readonly recalibrated: readonly number[];
}

export function corp(forecasts: Forecasts): Corp {
  const score = brierScore(forecasts);
  const recalibrated = isotonic(forecasts);
  const { outcome, weight } = forecasts;
  let total = 0;
  let events = 0;
  outcome.forEach((y, i) => {
    total += weight?.[i] ?? 1;
    events += y * (weight?.[i] ?? 1);
  });
  const base = events / total;
  const uncertainty = base * (1 - base);
  const fitted = brierScore({ ...forecasts, probability: recalibrated });
  return Object.freeze({ score, miscalibration: score - fitted, discrimination: uncertainty - fitted, uncertainty, recalibrated });
}

/** Isotonic fit of the outcomes on the forecasts, clipped to 0..1 against rounding. */
function isotonic({ probability, outcome, weight }: Forecasts): readonly number[] {
  const { members, weights, sums } = tiedForecasts({ probability, outcome, ...(weight ? { weight } : {}) });
  const fitted = isotonicMeans(weights, sums);
  const out = new Array<number>(probability.length).fill(0);
  members.forEach((list, k) => {
    for (const i of list) out[i] = Math.min(1, fitted[k]!);
  });
  return Object.freeze(out);
}

/** Forecasts in order, equal ones as one point: which they are, their weight and the weight of their events. */
export function tiedForecasts({ probability, outcome, weight }: Forecasts): {
  readonly members: readonly (readonly number[])[];
  readonly weights: readonly number[];
  readonly sums: readonly number[];
} {
  const order = probability.map((_, i) => i).sort((a, b) => probability[a]! - probability[b]!);
  const members: number[][] = [];
  const weights: number[] = [];
  const sums: number[] = [];
  let last = Number.NaN;
  for (const i of order) {
    const w = weight?.[i] ?? 1;
    if (probability[i] !== last) {
      members.push([]);
      weights.push(0);
      sums.push(0);
    }
    last = probability[i]!;
    members.at(-1)!.push(i);
    weights[weights.length - 1]! += w;
    sums[sums.length - 1]! += w * outcome[i]!;
  }
  return { members, weights, sums };
}

/**
 * Binned reliability: the five-term split of the Brier score, and the expected and the largest calibration error.
 *
 * Brier = reliability - resolution + uncertainty + within-bin variance - within-bin covariance
 * reliability = sum n_b (mean p - mean y)^2/n, resolution = sum n_b (mean y - base)^2/n, within-bin variance of p, 2 cov(p, y) within bins
 * expected error = sum n_b |mean p - mean y|/n, largest error = max |mean p - mean y|
 *
 * Bins of equal width, p = 1 in the last; empty ones are left out. The expected error is biased up with few cases or many bins: shown, never a target.
 * Sources: Murphy (1973), J. Appl. Meteorol. 12:595; Stephenson, Coelho and Jolliffe (2008), Weather Forecast. 23:752.
 */
export interface ReliabilityBin {
  readonly from: number;
  readonly to: number;
  readonly n: number;
  readonly meanForecast: number;
  readonly meanOutcome: number;
}

export interface BinnedReliability {
  readonly bins: readonly ReliabilityBin[];
  readonly reliability: number;
  readonly resolution: number;
  readonly uncertainty: number;
  readonly withinBinVariance: number;
  readonly withinBinCovariance: number;
  readonly expectedError: number;
  readonly largestError: number;
}

export function binnedReliability({ probability, outcome }: Omit<Forecasts, 'weight'>, count = 10): BinnedReliability {
  checkForecasts({ probability, outcome });
  if (!(Number.isInteger(count) && count >= 1)) throw new BadSample(`${count} bins`);
  const n = probability.length;
  const base = outcome.reduce((a, b) => a + b, 0) / n;
  const members = Array.from({ length: count }, () => [] as number[]);
  probability.forEach((p, i) => {
    members[Math.min(count - 1, Math.floor(p * count))]!.push(i);
  });
  const bins: ReliabilityBin[] = [];
  const sums = { reliability: 0, resolution: 0, withinBinVariance: 0, withinBinCovariance: 0, expectedError: 0, largestError: 0 };
  members.forEach((list, b) => {
    if (list.length === 0) return;
    const meanForecast = list.reduce((a, i) => a + probability[i]!, 0) / list.length;
    const meanOutcome = list.reduce((a, i) => a + outcome[i]!, 0) / list.length;
    const gap = meanForecast - meanOutcome;
    sums.reliability += (list.length * gap ** 2) / n;
    sums.resolution += (list.length * (meanOutcome - base) ** 2) / n;
    sums.expectedError += (list.length * Math.abs(gap)) / n;
    sums.largestError = Math.max(sums.largestError, Math.abs(gap));
    for (const i of list) {
      sums.withinBinVariance += (probability[i]! - meanForecast) ** 2 / n;
      sums.withinBinCovariance += (2 * (probability[i]! - meanForecast) * (outcome[i]! - meanOutcome)) / n;
    }
    bins.push(Object.freeze({ from: b / count, to: (b + 1) / count, n: list.length, meanForecast, meanOutcome }));
  });
  return Object.freeze({ bins: Object.freeze(bins), uncertainty: base * (1 - base), ...sums });
}
