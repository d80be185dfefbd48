import { BadSample } from '#libs/numeric/index.js';
import { binomialAtLeast, binomialProbability } from '../special/discrete.js';

/**
 * Naus's probability that some window of width w holds at least k of N points thrown evenly on 0..1.
 *
 * P = (k/w - N - 1) b(k; N, w) + 2 P(X >= k), X binomial (N, w)
 *
 * Exact when k > N/2 and w <= 1/2; otherwise an approximation good for small P (exact: false), clipped to 0..1.
 * 1 <= k <= N whole, 0 < w < 1. Source: Naus (1965), JASA 60:532; the approximation: Wallenstein and Neff (1987), Stat. Med. 6:197 (from memory).
 */
export interface ScanProbability {
  readonly probability: number;
  readonly exact: boolean;
}

export function scanProbability(k: number, n: number, w: number): ScanProbability {
  if (!(Number.isInteger(k) && Number.isInteger(n) && k >= 1 && k <= n)) throw new BadSample(`${k} of ${n} points`);
  if (!(w > 0 && w < 1)) throw new BadSample(`window ${w} is not between 0 and 1`);
  const sum = (k / w - n - 1) * binomialProbability(k, n, w) + 2 * binomialAtLeast(k, n, w);
  return Object.freeze({ probability: Math.min(1, Math.max(0, sum)), exact: 2 * k > n && w <= 0.5 });
}

/**
 * Scan of an ordered line of buckets (build weeks, sequence numbers) for the run with the most events beyond expectation.
 *
 * LLR = c ln(c/E) + (C - c) ln((C - c)/(C - E)) where c/E > (C - c)/(C - E), else 0; largest over all runs up to `longest` buckets
 * p = (1 + #{simulated largest >= observed})/(simulations + 1), events thrown on the buckets in proportion to the expectation
 *
 * events: whole counts; expected: >= 0, from the number built and followed in each bucket, rescaled to the number of events. A bucket
 * without expectation may hold no event. random: uniform 0..1, seeded by the caller, so that the answer is repeatable.
 * best is null with no event. Overdispersion between buckets makes p too small: judge a find by its ratio too.
 * Source: Kulldorff (1997), Commun. Stat. Theory Methods 26:1481.
 */
export interface RangeScan {
  readonly best: {
    readonly first: number;
    readonly last: number;
    readonly events: number;
    readonly expected: number;
    readonly ratio: number;
  } | null;
  readonly statistic: number;
  readonly pValue: number;
}

export interface RangeScanOptions {
  readonly longest?: number;
  readonly simulations?: number;
}

export function rangeScan(
  events: readonly number[],
  expected: readonly number[],
  random: () => number,
  { longest = Math.floor(events.length / 2), simulations = 999 }: RangeScanOptions = {},
): RangeScan {
  const total = checkLine(events, expected);
  const sum = expected.reduce((a, b) => a + b, 0);
  if (total === 0) return Object.freeze({ best: null, statistic: 0, pValue: 1 });
  const scaled = expected.map((e) => (e * total) / sum);
  const width = Math.max(1, longest);
  const observed = largest(events, scaled, total, width);
  const cumulative = scaled.map(
    (
      (running) => (e: number) =>
        (running += e / total)
    )(0),
  );
  let asLarge = 0;
  for (let s = 0; s < simulations; s++) {
    const thrown = new Array<number>(events.length).fill(0);
    for (let i = 0; i < total; i++) thrown[place(cumulative, random())]! += 1;
    if (largest(thrown, scaled, total, width).statistic >= observed.statistic - 1e-12) asLarge++;
  }
  const { first, last, statistic } = observed;
  const c = events.slice(first, last + 1).reduce((a, b) => a + b, 0);
  const e = scaled.slice(first, last + 1).reduce((a, b) => a + b, 0);
  const best = statistic > 0 ? Object.freeze({ first, last, events: c, expected: e, ratio: c / e }) : null;
  return Object.freeze({ best, statistic, pValue: (1 + asLarge) / (simulations + 1) });
}

function checkLine(events: readonly number[], expected: readonly number[]): number {
  if (events.length !== expected.length || events.length === 0)
    throw new BadSample(`${events.length} counts, ${expected.length} expectations`);
  events.forEach((c, i) => {
    if (!(Number.isInteger(c) && c >= 0)) throw new BadSample(`bucket ${i}: ${c} events`);
    if (!(expected[i]! >= 0 && Number.isFinite(expected[i]!))) throw new BadSample(`bucket ${i}: expectation ${expected[i]}`);
    if (c > 0 && expected[i] === 0) throw new BadSample(`bucket ${i}: events without expectation`);
  });
  return events.reduce((a, b) => a + b, 0);
}

function largest(events: readonly number[], expected: readonly number[], total: number, longest: number) {
  let best = { first: 0, last: 0, statistic: 0 };
  for (let first = 0; first < events.length; first++) {
    let c = 0;
    let e = 0;
    for (let last = first; last < Math.min(events.length, first + longest); last++) {
      c += events[last]!;
      e += expected[last]!;
      const statistic = logRatio(c, e, total);
      if (statistic > best.statistic) best = { first, last, statistic };
    }
  }
  return best;
}

function logRatio(c: number, e: number, total: number): number {
  if (c <= e || c === 0) return 0;
  const outside = total - c;
  return c * Math.log(c / e) + (outside > 0 ? outside * Math.log(outside / (total - e)) : 0);
}

function place(cumulative: readonly number[], u: number): number {
  let low = 0;
  let high = cumulative.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (cumulative[middle]! > u) high = middle;
    else low = middle + 1;
  }
  return low;
}
