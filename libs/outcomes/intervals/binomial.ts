import { BadSample } from '#libs/numeric/index.js';
import { betaTails } from '../special/beta.js';
import { binomialProbability } from '../special/discrete.js';
import { twoSidedZ } from '../special/normal.js';
import { betaQuantile } from '../special/quantile.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Intervals for a proportion x/n.
 *
 * exact (Clopper-Pearson): lower B(alpha/2; x, n-x+1), upper B(1-alpha/2; x+1, n-x), B the beta quantile; covers at least the level
 * Wilson: (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2))/(1 + z^2/n)
 * Jeffreys: beta quantiles of (x+1/2, n-x+1/2); at x = 0 the lower, at x = n the upper limit is the end of the range
 * mid-p: P(X < x) + P(X = x)/2 equal to alpha/2 on either side
 *
 * x may be fractional (effective counts) for exact, Wilson and Jeffreys. n = 0 gives 0 to 1. BadSample for x outside 0..n.
 * Sources: Clopper and Pearson (1934); Wilson (1927); Brown, Cai and DasGupta (2001), whose Jeffreys end rule we follow on both sides at full alpha/2;
 * checked on Newcombe (1998) table I.
 */
export type Interval = readonly [lower: number, upper: number];

function checkCount(x: number, n: number): void {
  if (!(x >= 0 && x <= n && n < Number.POSITIVE_INFINITY)) throw new BadSample(`count ${x} is not in 0..${n}`);
}

export function exactBinomial(x: number, n: number, level = 0.95): Interval {
  checkCount(x, n);
  checkLevel(level);
  const tail = (1 - level) / 2;
  const lower = x === 0 ? 0 : betaQuantile(tail, x, n - x + 1);
  const upper = x === n ? 1 : betaQuantile(1 - tail, x + 1, n - x);
  return Object.freeze([lower, upper] as const);
}

export function wilson(x: number, n: number, level = 0.95): Interval {
  checkCount(x, n);
  checkLevel(level);
  if (n === 0) return Object.freeze([0, 1] as const);
  const z2 = twoSidedZ(level) ** 2;
  const p = x / n;
  const centre = (p + z2 / (2 * n)) / (1 + z2 / n);
  const half = Math.sqrt((z2 * p * (1 - p)) / n + (z2 * z2) / (4 * n * n)) / (1 + z2 / n);
  return Object.freeze([x === 0 ? 0 : Math.max(0, centre - half), x === n ? 1 : Math.min(1, centre + half)] as const);
}

export function jeffreys(x: number, n: number, level = 0.95): Interval {
  checkCount(x, n);
  checkLevel(level);
  const tail = (1 - level) / 2;
  const lower = x === 0 ? 0 : betaQuantile(tail, x + 0.5, n - x + 0.5);
  const upper = x === n ? 1 : betaQuantile(1 - tail, x + 0.5, n - x + 0.5);
  return Object.freeze([lower, upper] as const);
}

export function midPBinomial(x: number, n: number, level = 0.95): Interval {
  checkCount(x, n);
  checkLevel(level);
  if (!Number.isInteger(x) || !Number.isInteger(n)) throw new BadSample('the mid-p interval needs whole counts');
  const tail = (1 - level) / 2;
  const above = (p: number) => (x === 0 ? 1 : betaTails(x, n - x + 1, p).lower) - binomialProbability(x, n, p) / 2;
  const below = (p: number) => (x === n ? 1 : betaTails(x + 1, n - x, p).upper) - binomialProbability(x, n, p) / 2;
  const lower = x === 0 ? 0 : bisect((p) => above(p) < tail);
  const upper = x === n ? 1 : bisect((p) => below(p) > tail);
  return Object.freeze([lower, upper] as const);
}

/** The p in 0..1 at which a monotone condition turns from true to false, to the last bit. */
function bisect(holds: (p: number) => boolean): number {
  let low = 0;
  let high = 1;
  for (let i = 0; i < 200; i++) {
    const middle = (low + high) / 2;
    if (middle === low || middle === high) break;
    if (holds(middle)) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
