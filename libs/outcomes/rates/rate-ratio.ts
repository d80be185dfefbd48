import { BadSample } from '#libs/numeric/index.js';
import { exactBinomial, type Interval, midPBinomial } from '../intervals/binomial.js';
import { binomialAtLeast, binomialLower, binomialProbability } from '../special/discrete.js';
import { chiSquareUpper, twoSidedZ } from '../special/normal.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Rates of events per clock unit in exposed and reference time, compared within strata and summarised.
 *
 * crude ratio (a/n1)/(b/n0)
 * Mantel-Haenszel ratio R/S, R = sum a n0/N, S = sum b n1/N, N = n1 + n0; Var ln = sum (a + b) n1 n0/N^2 / (R S)
 * Mantel-Haenszel test chi2 = (sum a - (a + b) n1/N)^2 / sum (a + b) n1 n0/N^2, 1 df
 *
 * a, b event counts, n1, n0 exposed and reference time in the clock's unit. Strata without both times add nothing.
 * ratio is null when S = 0 (no reference event) or R = 0 has no logarithm for the limits: null limits then.
 * Sources: Rothman and Greenland (1998), Modern Epidemiology, chapter 15; Breslow and Day (1987). Checked on the British doctors: 1.4247 (1.1547, 1.7578).
 */
export interface RateStratum {
  readonly exposedEvents: number;
  readonly exposedTime: number;
  readonly referenceEvents: number;
  readonly referenceTime: number;
}

export interface RateRatio {
  readonly ratio: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly varianceLog: number | null;
  readonly chiSquare: number;
  readonly p: number;
}

export function checkRateStrata(strata: readonly RateStratum[]): void {
  strata.forEach((s, i) => {
    for (const name of ['exposedEvents', 'exposedTime', 'referenceEvents', 'referenceTime'] as const) {
      const value = s[name];
      if (!(value >= 0 && value < Number.POSITIVE_INFINITY))
        throw new BadSample(`stratum ${i}: ${name} is ${value}, not a finite number >= 0`);
    }
    if (s.exposedTime === 0 && s.exposedEvents > 0) throw new BadSample(`stratum ${i}: exposed events without exposed time`);
    if (s.referenceTime === 0 && s.referenceEvents > 0) throw new BadSample(`stratum ${i}: reference events without reference time`);
  });
}

export function mantelHaenszelRate(strata: readonly RateStratum[], level = 0.95): RateRatio {
  checkRateStrata(strata);
  checkLevel(level);
  let r = 0;
  let s = 0;
  let variance = 0;
  let score = 0;
  for (const { exposedEvents: a, exposedTime: n1, referenceEvents: b, referenceTime: n0 } of strata) {
    if (n1 === 0 || n0 === 0) continue;
    const n = n1 + n0;
    r += (a * n0) / n;
    s += (b * n1) / n;
    variance += ((a + b) * n1 * n0) / (n * n);
    score += a - ((a + b) * n1) / n;
  }
  const chiSquare = variance > 0 ? (score * score) / variance : 0;
  const ratio = s > 0 ? r / s : null;
  const varianceLog = r > 0 && s > 0 ? variance / (r * s) : null;
  const half = varianceLog === null ? null : twoSidedZ(level) * Math.sqrt(varianceLog);
  return Object.freeze({
    ratio,
    lower: ratio === null || half === null ? null : ratio * Math.exp(-half),
    upper: ratio === null || half === null ? null : ratio * Math.exp(half),
    varianceLog,
    chiSquare,
    p: chiSquareUpper(chiSquare, 1),
  });
}

export interface ExactRateRatio {
  readonly ratio: number | null;
  readonly interval: Interval;
  /** Two-sided, by the probabilities no larger than that observed. */
  readonly p: number;
  /** Two-sided mid-p: twice the smaller tail with half the observed probability, at most 1. */
  readonly midP: number;
}

/**
 * Exact comparison of two Poisson rates: given a + b, a is binomial with p = n1 rho/(n1 rho + n0).
 *
 * interval: exact (or mid-p) limits of that p turned into ratios; upper is Infinity when b = 0.
 * Source: Przyborowski and Wilenski (1940); as in R's poisson.test.
 */
export function exactRateRatio(stratum: RateStratum, level = 0.95, kind: 'exact' | 'mid-p' = 'exact'): ExactRateRatio {
  checkRateStrata([stratum]);
  const { exposedEvents: a, exposedTime: n1, referenceEvents: b, referenceTime: n0 } = stratum;
  if (!(n1 > 0 && n0 > 0)) throw new BadSample('a rate ratio needs exposed and reference time');
  const total = a + b;
  const p0 = n1 / (n1 + n0);
  const [low, high] = kind === 'exact' ? exactBinomial(a, total, level) : midPBinomial(a, total, level);
  const odds = (p: number) => (p === 1 ? Number.POSITIVE_INFINITY : ((p / (1 - p)) * n0) / n1);
  const here = binomialProbability(a, total, p0);
  const upper = binomialAtLeast(a, total, p0) - here / 2;
  const lower = binomialLower(a, total, p0) - here / 2;
  return Object.freeze({
    ratio: b > 0 ? ((a / n1) * n0) / b : null,
    interval: Object.freeze([odds(low), odds(high)] as const),
    p: noLarger(a, total, p0, here),
    midP: Math.min(1, 2 * Math.min(upper, lower)),
  });
}

// R's binom.test counts probabilities within 1e-7 relative as equal, so that symmetric cases are not split by rounding.
const EQUAL = 1 + 1e-7;

function noLarger(a: number, total: number, p0: number, here: number): number {
  if (total === 0) return 1;
  const limit = here * EQUAL;
  const mean = total * p0;
  if (a <= mean) {
    let k = total + 1;
    while (k - 1 > mean && binomialProbability(k - 1, total, p0) <= limit) k--;
    return Math.min(1, binomialLower(a, total, p0) + binomialAtLeast(k, total, p0));
  }
  let k = -1;
  while (k + 1 < mean && binomialProbability(k + 1, total, p0) <= limit) k++;
  return Math.min(1, binomialAtLeast(a, total, p0) + binomialLower(k, total, p0));
}

/**
 * Exact test over strata: the total of exposed events given each stratum's total, as a sum of binomials.
 *
 * oneSided: P(A >= a) with the mid-p convention (half of the observed probability); twoSided: twice the smaller side, at most 1.
 * smallest: the least one-sided mid-p that these totals could ever give, so that pairs which cannot pass are dropped before they are counted (Tarone 1990).
 * Outcomes of a stratum less likely than 1e-40 are left out, but for the observed one: cost grows with the spread of the counts, not with the counts.
 */
export interface StratifiedExact {
  readonly observed: number;
  readonly expected: number;
  readonly oneSided: number;
  readonly twoSided: number;
  readonly smallest: number;
}

interface Law {
  readonly first: number;
  readonly probability: Float64Array;
}

export function stratifiedExact(strata: readonly RateStratum[]): StratifiedExact {
  checkRateStrata(strata);
  let law: Law = { first: 0, probability: Float64Array.of(1) };
  let observed = 0;
  let expected = 0;
  let logSmallest = 0;
  for (const { exposedEvents: a, exposedTime: n1, referenceEvents: b, referenceTime: n0 } of strata) {
    if (n1 === 0 || n0 === 0 || a + b === 0) continue;
    const p = n1 / (n1 + n0);
    observed += a;
    expected += (a + b) * p;
    logSmallest += (a + b) * Math.log(p);
    law = convolve(law, binomialLaw(a, a + b, p));
  }
  const at = observed - law.first;
  const { probability } = law;
  const half = probability[at]! / 2;
  let upper = half;
  for (let k = at + 1; k < probability.length; k++) upper += probability[k]!;
  let lower = half;
  for (let k = 0; k < at; k++) lower += probability[k]!;
  return Object.freeze({
    observed,
    expected,
    oneSided: Math.min(1, upper),
    twoSided: Math.min(1, 2 * Math.min(upper, lower)),
    smallest: Math.exp(logSmallest) / 2,
  });
}

const NEGLIGIBLE = 1e-40;

/** Binomial (n, p) from the observed count or the mean outwards, as far as the probabilities matter. */
function binomialLaw(observed: number, n: number, p: number): Law {
  const mode = Math.min(n, Math.floor((n + 1) * p));
  let first = Math.min(observed, mode);
  let last = Math.max(observed, mode);
  while (first > 0 && binomialProbability(first - 1, n, p) > NEGLIGIBLE) first--;
  while (last < n && binomialProbability(last + 1, n, p) > NEGLIGIBLE) last++;
  return { first, probability: Float64Array.from({ length: last - first + 1 }, (_, k) => binomialProbability(first + k, n, p)) };
}

function convolve(a: Law, b: Law): Law {
  const probability = new Float64Array(a.probability.length + b.probability.length - 1);
  for (let i = 0; i < a.probability.length; i++) {
    const p = a.probability[i]!;
    if (p < NEGLIGIBLE) continue;
    for (let j = 0; j < b.probability.length; j++) probability[i + j]! += p * b.probability[j]!;
  }
  return { first: a.first + b.first, probability };
}
