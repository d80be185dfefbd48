import { BadSample } from './errors.js';

/** A truncated Chebyshev series on [a, b]: f(x) = sum c_k T_k((2x - a - b)/(b - a)). */
export interface ChebyshevSeries {
  readonly a: number;
  readonly b: number;
  readonly coefficients: Float64Array;
}

/**
 * Interpolates f at the n Chebyshev nodes of the first kind on [a, b].
 *
 * n    number of coefficients, >= 1. Error falls geometrically for analytic f; the size of the last coefficients shows how far it has fallen.
 * BadSample when a value is not finite.
 * source   Press et al., Numerical Recipes (3rd ed. 2007), section 5.8.
 */
export function fitChebyshev(f: (x: number) => number, a: number, b: number, n: number): ChebyshevSeries {
  const values = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const y = f(0.5 * (a + b) + 0.5 * (b - a) * Math.cos((Math.PI * (k + 0.5)) / n));
    if (!Number.isFinite(y)) throw new BadSample(`Chebyshev fit: value ${k} of ${n} is not finite`);
    values[k] = y;
  }
  const coefficients = new Float64Array(n);
  for (let j = 0; j < n; j++) {
    let sum = 0;
    for (let k = 0; k < n; k++) sum += values[k]! * Math.cos((Math.PI * j * (k + 0.5)) / n);
    coefficients[j] = ((j === 0 ? 1 : 2) / n) * sum;
  }
  return { a, b, coefficients };
}

/** The series at x by Clenshaw's recurrence. Outside [a, b] it extrapolates, and badly: bounds are the caller's. */
export function evaluateChebyshev(series: ChebyshevSeries, x: number): number {
  return clenshaw(series.coefficients, (2 * x - series.a - series.b) / (series.b - series.a));
}

/** sum c_k T_k(t), t in [-1, 1]. */
export function clenshaw(coefficients: ArrayLike<number>, t: number): number {
  let b1 = 0;
  let b2 = 0;
  for (let k = coefficients.length - 1; k > 0; k--) {
    const b0 = 2 * t * b1 - b2 + coefficients[k]!;
    b2 = b1;
    b1 = b0;
  }
  return t * b1 - b2 + coefficients[0]!;
}

/** The derivative of a series, itself a series on the same interval. */
export function differentiateChebyshev(series: ChebyshevSeries): ChebyshevSeries {
  const c = series.coefficients;
  const n = c.length;
  const d = new Float64Array(Math.max(1, n - 1));
  for (let k = n - 2; k >= 0; k--) d[k] = (d[k + 2] ?? 0) + 2 * (k + 1) * c[k + 1]!;
  d[0] = d[0]! / 2;
  const scale = 2 / (series.b - series.a);
  for (let k = 0; k < d.length; k++) d[k] = d[k]! * scale;
  return { a: series.a, b: series.b, coefficients: d };
}
