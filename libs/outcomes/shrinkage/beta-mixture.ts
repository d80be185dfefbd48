import { NoConvergence } from '#libs/numeric/index.js';
import { betaPrefactor, betaTails } from '../special/beta.js';

/**
 * Mixture of beta distributions: sum of w_i Beta(a_i, b_i), the w_i summing to 1.
 *
 * Quantile by Newton's method on the logit, inside a bracket; within 1e-9 of the tail asked for.
 */
export interface BetaPart {
  readonly weight: number;
  readonly a: number;
  readonly b: number;
}

export function mixtureMean(parts: readonly BetaPart[]): number {
  return parts.reduce((sum, { weight, a, b }) => sum + (weight * a) / (a + b), 0);
}

export function mixtureQuantile(parts: readonly BetaPart[], p: number): number {
  let low = -700;
  let high = 700;
  const mean = Math.min(1 - 1e-12, Math.max(1e-12, mixtureMean(parts)));
  let t = Math.log(mean / (1 - mean));
  for (let i = 0; i < 200; i++) {
    const x = 1 / (1 + Math.exp(-t));
    const y = 1 / (1 + Math.exp(t));
    let lower = 0;
    let slope = 0;
    for (const { weight, a, b } of parts) {
      lower += weight * betaTails(a, b, x, y).lower;
      slope += weight * betaPrefactor(a, b, x, y);
    }
    const miss = lower - p;
    if (Math.abs(miss) < 1e-9) return x;
    if (miss < 0) low = t;
    else high = t;
    const next = t - miss / slope;
    // Far steps from a flat tail are cut to 3 in the log odds, or halved when they leave the bracket.
    const step = Math.max(-3, Math.min(3, next - t));
    t = t + step > low && t + step < high ? t + step : (low + high) / 2;
    if (high - low < 1e-12) return 1 / (1 + Math.exp(-t));
  }
  throw new NoConvergence('quantile of a beta mixture', 200, p);
}

/** Beta distribution with a given mean and variance; variance is held below mean(1 - mean). */
export function betaOf(mean: number, variance: number): { readonly a: number; readonly b: number } {
  const most = mean * (1 - mean);
  const size = Math.max(1e-3, Math.min(1e9, most / Math.max(variance, most * 1e-9) - 1));
  return { a: mean * size, b: (1 - mean) * size };
}

/** Parts with the same key become one part with their common mean and variance. */
export function mergeParts(parts: readonly (BetaPart & { readonly key: number })[]): readonly BetaPart[] {
  const sums = new Map<number, [weight: number, mean: number, square: number]>();
  for (const { weight, a, b, key } of parts) {
    const n = a + b;
    const mean = a / n;
    const sum = sums.get(key) ?? [0, 0, 0];
    sum[0] += weight;
    sum[1] += weight * mean;
    sum[2] += weight * ((mean * (1 - mean)) / (n + 1) + mean * mean);
    sums.set(key, sum);
  }
  return [...sums.values()].map(([weight, first, second]) => {
    const mean = first / weight;
    return { weight, ...betaOf(mean, second / weight - mean * mean) };
  });
}
