import { gammaTails } from './gamma.js';

/**
 * Standard normal distribution: both tails and the quantile.
 *
 * Phi(x) = 1/sqrt(2 pi) integral from -infinity to x of e^(-t^2/2) dt
 *
 * Accuracy: within 1e-13 relative down to 1e-300 (grid of tests/reference/data/outcomes). NaN outside the domain.
 * Source of the quantile: Wichura (1988), algorithm AS 241, Applied Statistics 37:477, its 16-figure branch; the tails use the incomplete gamma function.
 */
export function normalLower(x: number): number {
  const { lower, upper } = gammaTails(0.5, (x * x) / 2);
  return x < 0 ? upper / 2 : 0.5 + lower / 2;
}

export function normalUpper(x: number): number {
  return normalLower(-x);
}

/** Two-sided tail probability of |Z| >= |z|. */
export function normalTwoSided(z: number): number {
  return 2 * normalLower(-Math.abs(z));
}

/** Upper tail of chi-square with df degrees of freedom. */
export function chiSquareUpper(x: number, df: number): number {
  return gammaTails(df / 2, x / 2).upper;
}

export function chiSquareLower(x: number, df: number): number {
  return gammaTails(df / 2, x / 2).lower;
}

const CENTRE = [
  [
    3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987, 67265.7709270087, 33430.57558358813,
    2509.0809287301227,
  ],
  [
    1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271, 28729.085735721943,
    5226.495278852854,
  ],
] as const;
const MIDDLE = [
  [
    1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684, 0.2417807251774506,
    0.022723844989269184, 0.0007745450142783414,
  ],
  [
    1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457, 0.0005475938084995345,
    1.0507500716444169e-9,
  ],
] as const;
const FAR = [
  [
    6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124, 0.0012426609473880784,
    2.7115555687434876e-5, 2.0103343992922881e-7,
  ],
  [
    1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133, 1.8463183175100548e-5, 1.421511758316446e-7,
    2.0442631033899397e-15,
  ],
] as const;

function ratio([numerator, denominator]: readonly [readonly number[], readonly number[]], r: number): number {
  let top = 0;
  let bottom = 0;
  for (let i = numerator.length - 1; i >= 0; i--) {
    top = top * r + numerator[i]!;
    bottom = bottom * r + denominator[i]!;
  }
  return top / bottom;
}

/** z with Phi(z) = p; infinite at 0 and 1. */
export function normalQuantile(p: number): number {
  if (p === 0) return Number.NEGATIVE_INFINITY;
  if (p === 1) return Number.POSITIVE_INFINITY;
  if (!(p > 0 && p < 1)) return Number.NaN;
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) return q * ratio(CENTRE, 0.180625 - q * q);
  const r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
  const z = r <= 5 ? ratio(MIDDLE, r - 1.6) : ratio(FAR, r - 5);
  return q < 0 ? -z : z;
}

/** The z that leaves (1 - level)/2 in each tail: 1.959964 at level 0.95. */
export function twoSidedZ(level: number): number {
  return -normalQuantile((1 - level) / 2);
}
