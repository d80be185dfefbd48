import { betaTails, binomialKernel } from './beta.js';
import { gammaPrefactor, gammaTails, logGamma, logGammaRise } from './gamma.js';

/**
 * Probabilities of counts: Poisson, binomial, negative binomial and hypergeometric.
 *
 * Accuracy: within 1e-10 relative on the grid of tests/reference/data/outcomes (n to 1e6). Each upper tail is computed as such, never as 1 - lower.
 * Counts outside the support have probability 0. Sources: Loader (2000) saddle-point probabilities; tails by the incomplete beta and gamma functions.
 */

/** P(X = k), X Poisson with the given mean. */
export function poissonProbability(k: number, mean: number): number {
  return k < 0 ? 0 : gammaPrefactor(k, mean);
}

/** P(X <= k). */
export function poissonLower(k: number, mean: number): number {
  if (k < 0) return 0;
  return mean === 0 ? 1 : gammaTails(Math.floor(k) + 1, mean).upper;
}

/** P(X > k). */
export function poissonUpper(k: number, mean: number): number {
  if (k < 0) return 1;
  return mean === 0 ? 0 : gammaTails(Math.floor(k) + 1, mean).lower;
}

/** P(X = k), X binomial (n, p). */
export function binomialProbability(k: number, n: number, p: number): number {
  if (k < 0 || k > n) return 0;
  if (p === 0) return k === 0 ? 1 : 0;
  if (p === 1) return k === n ? 1 : 0;
  if (k === 0) return Math.exp(n * Math.log1p(-p));
  if (k === n) return Math.exp(n * Math.log(p));
  return binomialKernel(k, n, p, 1 - p);
}

/** P(X <= k). */
export function binomialLower(k: number, n: number, p: number): number {
  if (k < 0) return 0;
  if (k >= n) return 1;
  return betaTails(Math.floor(k) + 1, n - Math.floor(k), p).upper;
}

/** P(X >= k). */
export function binomialAtLeast(k: number, n: number, p: number): number {
  if (k <= 0) return 1;
  if (k > n) return 0;
  return betaTails(Math.ceil(k), n - Math.ceil(k) + 1, p).lower;
}

/** P(X = k) of the gamma-mixed Poisson with mean `mean` and shape `size` (variance mean + mean^2/size). */
export function negativeBinomialProbability(k: number, mean: number, size: number): number {
  if (k < 0) return 0;
  if (mean === 0) return k === 0 ? 1 : 0;
  if (size === Number.POSITIVE_INFINITY) return poissonProbability(k, mean);
  return Math.exp(negativeBinomialLog(k, mean, size));
}

/** ln of the same. */
export function negativeBinomialLog(k: number, mean: number, size: number): number {
  const coefficient = logGammaRise(size, k) - logGamma(k + 1);
  // log1p keeps the digits when the size is so large that the law is nearly Poisson.
  const rest = k === 0 ? 0 : k * (Math.log(mean) - Math.log(size + mean));
  return coefficient - size * Math.log1p(mean / size) + rest;
}

/** P(X = x), x white among k drawn from m white and n black. */
export function hypergeometricProbability(x: number, m: number, n: number, k: number): number {
  if (x < Math.max(0, k - n) || x > Math.min(k, m)) return 0;
  const p = k / (m + n);
  return (binomialProbability(x, m, p) * binomialProbability(k - x, n, p)) / binomialProbability(k, m + n, p);
}

/** P(X <= x) by direct summation. */
export function hypergeometricLower(x: number, m: number, n: number, k: number): number {
  const last = Math.min(k, m);
  if (x >= last) return 1;
  let sum = 0;
  for (let i = Math.max(0, k - n); i <= x; i++) sum += hypergeometricProbability(i, m, n, k);
  return Math.min(1, sum);
}
