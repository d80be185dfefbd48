import { BadSample } from '#libs/numeric/index.js';

/**
 * Cholesky factorisation of a symmetric positive definite matrix and what is solved with it.
 *
 * A = L L', row-major n x n. Meant for n up to a few tens (information matrices, score covariances).
 * Throws BadSample when a pivot is not above 1e-12 of its diagonal: the matrix is singular, e.g. a covariate without variation.
 */
export function cholesky(a: ArrayLike<number>, n: number): Float64Array {
  const l = Float64Array.from(a);
  for (let j = 0; j < n; j++) {
    const diagonal = l[j * n + j]!;
    for (let i = j; i < n; i++) {
      let sum = l[i * n + j]!;
      for (let k = 0; k < j; k++) sum -= l[i * n + k]! * l[j * n + k]!;
      if (i === j) {
        if (!(sum > 1e-12 * Math.abs(diagonal))) throw new BadSample('a covariance or information matrix is singular');
        l[j * n + j] = Math.sqrt(sum);
      } else l[i * n + j] = sum / l[j * n + j]!;
    }
    for (let i = 0; i < j; i++) l[i * n + j] = 0;
  }
  return l;
}

/** x with L L' x = b. */
export function solveCholesky(l: Float64Array, b: ArrayLike<number>, n: number): Float64Array {
  const x = Float64Array.from(b);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) x[i]! -= l[i * n + k]! * x[k]!;
    x[i]! /= l[i * n + i]!;
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i]! -= l[k * n + i]! * x[k]!;
    x[i]! /= l[i * n + i]!;
  }
  return x;
}

/** Diagonal of (L L')^-1: the variances when L L' is an information matrix. */
export function inverseDiagonal(l: Float64Array, n: number): Float64Array {
  const out = new Float64Array(n);
  for (let j = 0; j < n; j++) {
    const unit = new Float64Array(n);
    unit[j] = 1;
    out[j] = solveCholesky(l, unit, n)[j]!;
  }
  return out;
}
