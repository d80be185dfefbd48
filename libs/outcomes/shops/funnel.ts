import { BadSample } from '#libs/numeric/index.js';
import { adjustedP } from '../multiplicity/benjamini-hochberg.js';
import { binomialLower, binomialProbability, poissonLower, poissonProbability } from '../special/discrete.js';
import { normalTwoSided, twoSidedZ } from '../special/normal.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Overdispersion of a funnel: how far apart shops lie beyond chance, judged without the extremes.
 *
 * z_w = z moved to the q and 1 - q quantiles when outside (winsorised, type-7 quantiles), phi = mean of z_w^2
 * tau^2 = max(0, (I phi - (I - 1))/(sum w - sum w^2/sum w)), w = 1/s_i^2, only when phi > 1 + 2 sqrt(2/I)
 *
 * z_i = (y_i - target)/s_i; I shops. Source: Spiegelhalter (2005), Stat. Med. 24:1185; Spiegelhalter et al. (2012), JRSS A 175:1.
 */
export interface Overdispersion {
  /** Mean square of the winsorised z: 1 when shops differ by chance alone. */
  readonly phi: number;
  /** Variance between shops on the indicator's scale, used when phi is beyond chance, else 0. */
  readonly tau2: number;
  readonly beyondChance: boolean;
}

export function overdispersion(z: readonly number[], standardErrors: readonly number[], winsorised = 0.1): Overdispersion {
  const n = z.length;
  if (n < 2 || standardErrors.length !== n) throw new BadSample(`${n} z-scores, ${standardErrors.length} standard errors`);
  if (!(winsorised >= 0 && winsorised < 0.5)) throw new BadSample(`winsorised share ${winsorised} is not in 0..0.5`);
  const sorted = Float64Array.from(z).sort();
  const low = quantile(sorted, winsorised);
  const high = quantile(sorted, 1 - winsorised);
  let phi = 0;
  for (const value of z) phi += Math.min(high, Math.max(low, value)) ** 2 / n;
  const beyondChance = phi > 1 + 2 * Math.sqrt(2 / n);
  const w = standardErrors.map((s) => 1 / s ** 2);
  const sum = w.reduce((a, b) => a + b, 0);
  const squares = w.reduce((a, b) => a + b * b, 0);
  const tau2 = beyondChance ? Math.max(0, (n * phi - (n - 1)) / (sum - squares / sum)) : 0;
  return Object.freeze({ phi, tau2, beyondChance });
}

function quantile(sorted: Float64Array, share: number): number {
  const at = (sorted.length - 1) * share;
  const low = Math.floor(at);
  return sorted[low]! + (at - low) * (sorted[Math.min(low + 1, sorted.length - 1)]! - sorted[low]!);
}

/**
 * Indirectly standardised ratios of shops with funnel, overdispersion and multiplicity controlled.
 *
 * SIR = O/E, z = (O - E)/sqrt(E), additive z = (SIR - 1)/sqrt(1/E + tau^2)
 * p exact mid-p of the Poisson count when tau^2 = 0, else two-sided normal of the additive z; q Benjamini-Hochberg over the shops judged
 *
 * observed: returns counted; expected > 0: the sum over the shop's episodes of their probability at their own follow-up, by platform,
 * fault and repair. Verdict not-enough under `leastExpected` (5): shown without judgement and left out of phi, tau^2 and q.
 * A shop that records or links little looks good: show its completeness first. Source: as for `overdispersion`.
 */
export interface ShopCount {
  readonly observed: number;
  readonly expected: number;
}

export interface ShopPlace {
  readonly ratio: number;
  readonly z: number;
  readonly adjustedZ: number;
  readonly p: number | null;
  readonly q: number | null;
  readonly verdict: 'as-expected' | 'above' | 'below' | 'not-enough';
}

export interface Funnel extends Overdispersion {
  readonly shops: readonly ShopPlace[];
}

export interface FunnelOptions {
  readonly leastExpected?: number;
  /** Share of false findings accepted. */
  readonly falseShare?: number;
}

export function shopFunnel(counts: readonly ShopCount[], { leastExpected = 5, falseShare = 0.05 }: FunnelOptions = {}): Funnel {
  counts.forEach(({ observed, expected }, i) => {
    if (!(Number.isInteger(observed) && observed >= 0)) throw new BadSample(`shop ${i}: observed ${observed}`);
    if (!(expected > 0 && Number.isFinite(expected))) throw new BadSample(`shop ${i}: expected ${expected}`);
  });
  const judged = counts.map((_, i) => i).filter((i) => counts[i]!.expected >= leastExpected);
  const z = counts.map(({ observed, expected }) => (observed - expected) / Math.sqrt(expected));
  const spread: Overdispersion =
    judged.length >= 2
      ? overdispersion(
          judged.map((i) => z[i]!),
          judged.map((i) => 1 / Math.sqrt(counts[i]!.expected)),
        )
      : { phi: 1, tau2: 0, beyondChance: false };
  const adjustedZ = counts.map(({ observed, expected }) => (observed / expected - 1) / Math.sqrt(1 / expected + spread.tau2));
  const p = judged.map((i) => (spread.tau2 > 0 ? normalTwoSided(adjustedZ[i]!) : poissonMidP(counts[i]!.observed, counts[i]!.expected)));
  const q = adjustedP(p);
  const shops = counts.map(({ observed, expected }, i): ShopPlace => {
    const at = judged.indexOf(i);
    const found = at >= 0 && q[at]! <= falseShare;
    const verdict = at < 0 ? 'not-enough' : !found ? 'as-expected' : observed > expected ? 'above' : 'below';
    return Object.freeze({
      ratio: observed / expected,
      z: z[i]!,
      adjustedZ: adjustedZ[i]!,
      p: at < 0 ? null : p[at]!,
      q: at < 0 ? null : q[at]!,
      verdict,
    });
  });
  return Object.freeze({ ...spread, shops: Object.freeze(shops) });
}

/** Two-sided mid-p of a Poisson count: 2 min(P(X < x) + P(X = x)/2, P(X > x) + P(X = x)/2), at most 1. */
export function poissonMidP(count: number, mean: number): number {
  const half = poissonProbability(count, mean) / 2;
  const below = poissonLower(count, mean) - half;
  return Math.min(1, 2 * Math.min(below, 1 - below));
}

/** Two-sided mid-p of a binomial count. */
export function binomialMidP(count: number, n: number, p: number): number {
  const half = binomialProbability(count, n, p) / 2;
  const below = binomialLower(count, n, p) - half;
  return Math.min(1, 2 * Math.min(below, 1 - below));
}

/**
 * Funnel limits at a target for a plot: where an indicator on target lies with the given probability.
 *
 * proportion of n: exact binomial, interpolated: r least with P(R <= r) >= t, limit (r - (P(R <= r) - t)/P(R = r))/n
 * ratio with expectation E: the same of the Poisson count, over E; with tau^2 > 0 instead target -+ z sqrt(s^2 + tau^2)
 *
 * Clipped to 0 (and 1). level: two-sided coverage, e.g. 0.95 and 0.998. Source: Spiegelhalter (2005), appendix A.1.
 */
export function proportionLimits(target: number, n: number, level: number, tau2 = 0): readonly [number, number] {
  checkLevel(level);
  if (!(target > 0 && target < 1 && n >= 1)) throw new BadSample(`target ${target} with ${n}`);
  if (tau2 > 0) return normalLimits(target, (target * (1 - target)) / n + tau2, level, 1);
  const at = (tail: number) =>
    interpolated(
      tail,
      (r) => binomialLower(r, n, target),
      (r) => binomialProbability(r, n, target),
    ) / n;
  return Object.freeze([Math.max(0, at((1 - level) / 2)), Math.min(1, at((1 + level) / 2))] as const);
}

export function ratioLimits(expected: number, level: number, tau2 = 0): readonly [number, number] {
  checkLevel(level);
  if (!(expected > 0)) throw new BadSample(`expected ${expected} is not > 0`);
  if (tau2 > 0) return normalLimits(1, 1 / expected + tau2, level, Number.POSITIVE_INFINITY);
  const at = (tail: number) =>
    interpolated(
      tail,
      (r) => poissonLower(r, expected),
      (r) => poissonProbability(r, expected),
    ) / expected;
  return Object.freeze([Math.max(0, at((1 - level) / 2)), at((1 + level) / 2)] as const);
}

function normalLimits(target: number, variance: number, level: number, most: number): readonly [number, number] {
  const half = twoSidedZ(level) * Math.sqrt(variance);
  return Object.freeze([Math.max(0, target - half), Math.min(most, target + half)] as const);
}

function interpolated(tail: number, lower: (r: number) => number, exactly: (r: number) => number): number {
  let high = 1;
  while (lower(high) < tail) high *= 2;
  let low = -1;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (lower(middle) >= tail) high = middle;
    else low = middle;
  }
  return high - (lower(high) - tail) / exactly(high);
}
