import { BadSample } from '#libs/numeric/index.js';
import type { Interval } from '../intervals/binomial.js';
import { hypergeometricProbability } from '../special/discrete.js';
import { chiSquareUpper, twoSidedZ } from '../special/normal.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Fourfold tables (a, b / c, d) compared within strata.
 *
 * Mantel-Haenszel odds ratio sum(ad/N)/sum(bc/N) with the variance of its logarithm after Robins, Breslow and Greenland
 * test chi2 = (|sum a - E| - 1/2)^2/V (continuity corrected) or without the 1/2; E = r1 c1/N, V = r1 r2 c1 c2/(N^2 (N - 1))
 * exact: sum of a over strata given all margins; at odds ratio psi its law is proportional to (central law) psi^t
 *
 * Counts are whole and >= 0. Strata with an empty margin add nothing. One stratum gives Fisher's exact test.
 * estimate of the exact method: the conditional maximum likelihood estimate, 0 or Infinity at the ends of the support.
 * Sources: Mantel and Haenszel (1959); Robins, Breslow and Greenland (1986); Fisher (1935). Checked on the tea tasting and Berkeley admissions.
 */
export interface FourfoldTable {
  readonly a: number;
  readonly b: number;
  readonly c: number;
  readonly d: number;
}

export interface OddsRatio {
  readonly ratio: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly chiSquare: number;
  readonly p: number;
  readonly correctedChiSquare: number;
  readonly correctedP: number;
}

function check(tables: readonly FourfoldTable[]): void {
  tables.forEach((t, i) => {
    for (const cell of ['a', 'b', 'c', 'd'] as const) {
      const n = t[cell];
      if (!(Number.isInteger(n) && n >= 0)) throw new BadSample(`table ${i}: cell ${cell} is ${n}, not a whole number >= 0`);
    }
  });
}

export function mantelHaenszelOdds(tables: readonly FourfoldTable[], level = 0.95): OddsRatio {
  check(tables);
  checkLevel(level);
  let r = 0;
  let s = 0;
  let pr = 0;
  let psqr = 0;
  let qs = 0;
  let score = 0;
  let variance = 0;
  for (const { a, b, c, d } of tables) {
    const n = a + b + c + d;
    if (n < 2) continue;
    const p = (a + d) / n;
    const q = (b + c) / n;
    r += (a * d) / n;
    s += (b * c) / n;
    pr += (p * a * d) / n;
    psqr += (p * b * c + q * a * d) / n;
    qs += (q * b * c) / n;
    score += a - ((a + b) * (a + c)) / n;
    variance += ((a + b) * (c + d) * (a + c) * (b + d)) / (n * n * (n - 1));
  }
  const ratio = s > 0 ? r / s : null;
  const half = r > 0 && s > 0 ? twoSidedZ(level) * Math.sqrt(pr / (2 * r * r) + psqr / (2 * r * s) + qs / (2 * s * s)) : null;
  const chi = (deviation: number) => (variance > 0 ? deviation ** 2 / variance : 0);
  const chiSquare = chi(score);
  const correctedChiSquare = chi(Math.max(0, Math.abs(score) - 0.5));
  return Object.freeze({
    ratio,
    lower: ratio === null || half === null ? null : ratio * Math.exp(-half),
    upper: ratio === null || half === null ? null : ratio * Math.exp(half),
    chiSquare,
    p: chiSquareUpper(chiSquare, 1),
    correctedChiSquare,
    correctedP: chiSquareUpper(correctedChiSquare, 1),
  });
}

export interface ExactOdds {
  readonly estimate: number;
  readonly interval: Interval;
  /** Two-sided, by the outcomes no more probable than the one observed. */
  readonly p: number;
  /** P(sum of a >= observed) and P(sum of a <= observed) at odds ratio 1. */
  readonly greater: number;
  readonly less: number;
}

export function exactOdds(tables: readonly FourfoldTable[], level = 0.95): ExactOdds {
  check(tables);
  checkLevel(level);
  const law = centralLaw(tables);
  const observed = tables.reduce((sum, t) => sum + t.a, 0) - law.lowest;
  const last = law.probability.length - 1;
  const tail = (1 - level) / 2;
  const at = (logPsi: number) => tilted(law.probability, logPsi);
  const atLeast = (logPsi: number) => partial(at(logPsi), observed, last);
  const atMost = (logPsi: number) => partial(at(logPsi), 0, observed);
  const solve = (holds: (logPsi: number) => boolean) => Math.exp(bisect(holds));
  const here = law.probability[observed]! * (1 + 1e-7);
  return Object.freeze({
    estimate:
      observed === 0
        ? 0
        : observed === last
          ? Number.POSITIVE_INFINITY
          : solve((t) => at(t).reduce((sum, p, k) => sum + p * k, 0) < observed),
    interval: Object.freeze([
      observed === 0 ? 0 : solve((t) => atLeast(t) < tail),
      observed === last ? Number.POSITIVE_INFINITY : solve((t) => atMost(t) > tail),
    ] as const),
    p: Math.min(
      1,
      law.probability.reduce((sum, p) => sum + (p <= here ? p : 0), 0),
    ),
    greater: atLeast(0),
    less: atMost(0),
  });
}

function centralLaw(tables: readonly FourfoldTable[]): { lowest: number; probability: Float64Array } {
  let lowest = 0;
  let probability = Float64Array.of(1);
  for (const { a, b, c, d } of tables) {
    const low = Math.max(0, a + c - (c + d));
    const high = Math.min(a + c, a + b);
    lowest += low;
    const next = new Float64Array(probability.length + high - low);
    for (let x = low; x <= high; x++) {
      const p = hypergeometricProbability(x, a + b, c + d, a + c);
      for (let k = 0; k < probability.length; k++) next[k + x - low]! += p * probability[k]!;
    }
    probability = next;
  }
  return { lowest, probability };
}

/** Law at odds ratio e^logPsi, scaled from its largest term so that nothing overflows. */
function tilted(probability: Float64Array, logPsi: number): Float64Array {
  const logs = probability.map((p, k) => Math.log(p) + k * logPsi);
  const most = logs.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const out = logs.map((v) => Math.exp(v - most));
  const total = out.reduce((a, b) => a + b, 0);
  return out.map((v) => v / total);
}

function partial(law: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let k = from; k <= to; k++) sum += law[k]!;
  return sum;
}

/** ln of the odds ratio at which a monotone condition turns false, within e^-700..e^700. */
function bisect(holds: (logPsi: number) => boolean): number {
  let low = -700;
  let high = 700;
  for (let i = 0; i < 120; i++) {
    const middle = (low + high) / 2;
    if (holds(middle)) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
