import { devianceTerm, logGamma, stirlingError, type Tails } from './gamma.js';

/**
 * Regularised incomplete beta function, both tails.
 *
 * I_x(a, b) = 1/B(a, b) integral from 0 to x of t^(a-1) (1-t)^(b-1) dt
 *
 * a, b > 0; 0 <= x <= 1. Accuracy: within 1e-10 relative on either tail for a, b from 0.001 to 1e6 (grid of tests/reference/data/outcomes).
 * NaN outside the domain. Sources: continued fraction, Digital Library of Mathematical Functions 8.17.22, by Lentz's method;
 * prefactor by the saddle-point form of Loader (2000).
 */

/** ln B(a, b); by Stirling corrections when both are large, where the three log gammas would cancel. */
export function logBeta(a: number, b: number): number {
  if (!(a > 0 && b > 0)) return Number.NaN;
  if (Math.min(a, b) < 10) return logBetaSmall(a, b);
  const n = a + b;
  const entropy = a * Math.log(a / n) + b * Math.log(b / n);
  return entropy + 0.5 * Math.log((2 * Math.PI * n) / (a * b)) + stirlingError(a) + stirlingError(b) - stirlingError(n);
}

/** Gamma(b)/Gamma(a + b) loses digits only when b is large: then the difference of log gammas is taken through Stirling's form. */
function logBetaSmall(a: number, b: number): number {
  const small = Math.min(a, b);
  const large = Math.max(a, b);
  if (large <= 15) return logGamma(a) + logGamma(b) - logGamma(a + b);
  const n = small + large;
  const drop = (large - 0.5) * Math.log1p(small / large) + small * Math.log(n) - small - stirlingError(large) + stirlingError(n);
  return logGamma(small) - drop;
}

/** Binomial probability of x in n for real x, with p + q = 1 given separately. */
export function binomialKernel(x: number, n: number, p: number, q: number): number {
  const exponent = stirlingError(n) - stirlingError(x) - stirlingError(n - x) - devianceTerm(x, n * p) - devianceTerm(n - x, n * q);
  return Math.exp(exponent) * Math.sqrt(n / (2 * Math.PI * x * (n - x)));
}

/** x^a y^b / B(a, b) with y = 1 - x. */
export function betaPrefactor(a: number, b: number, x: number, y: number): number {
  if (Math.min(a, b) < 1e-2) return Math.exp(a * Math.log(x) + b * Math.log(y) - logBeta(a, b));
  return (binomialKernel(a, a + b, x, y) * a * b) / (a + b);
}

function betaFraction(a: number, b: number, x: number): number {
  const tiny = 1e-300;
  const away = (v: number) => (Math.abs(v) < tiny ? tiny : v);
  let c = 1;
  let d = 1 / away(1 - ((a + b) * x) / (a + 1));
  let h = d;
  for (let m = 1; m < 1e6; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / away(1 + even * d);
    c = away(1 + even / c);
    h *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / away(1 + odd * d);
    c = away(1 + odd / c);
    const delta = d * c;
    h *= delta;
    if (Math.abs(delta - 1) <= Number.EPSILON) break;
  }
  return h;
}

/** Both tails at x; y = 1 - x may be given exactly when x is near 1. */
export function betaTails(a: number, b: number, x: number, y: number = 1 - x): Tails {
  if (!(a > 0 && b > 0) || !(x >= 0 && y >= 0)) return { lower: Number.NaN, upper: Number.NaN };
  if (x === 0) return { lower: 0, upper: 1 };
  if (y === 0) return { lower: 1, upper: 0 };
  const prefactor = betaPrefactor(a, b, x, y);
  if (x < (a + 1) / (a + b + 2)) {
    const lower = (prefactor * betaFraction(a, b, x)) / a;
    return { lower, upper: 1 - lower };
  }
  const upper = (prefactor * betaFraction(b, a, y)) / b;
  return { lower: 1 - upper, upper };
}

/** Density of the beta distribution at 0 < x < 1. */
export function betaDensity(x: number, a: number, b: number): number {
  return betaPrefactor(a, b, x, 1 - x) / (x * (1 - x));
}
