import { BadSample } from '#libs/numeric/index.js';

/** Linear model of a vector with its residual covariance. */
export interface Fitted {
  /** Coefficients, row-major outputs x terms. */
  readonly coefficients: Float64Array;
  /** Residual covariance, row-major outputs x outputs. */
  readonly covariance: Float64Array;
}

/** Solves A x = b for symmetric positive definite A (row-major n x n) and several right-hand sides by Cholesky. */
function solveAll(A: Float64Array, n: number, B: Float64Array, m: number): Float64Array {
  const L = new Float64Array(A);
  for (let j = 0; j < n; j++) {
    for (let i = j; i < n; i++) {
      let sum = L[i * n + j]!;
      for (let k = 0; k < j; k++) sum -= L[i * n + k]! * L[j * n + k]!;
      L[i * n + j] = i === j ? Math.sqrt(Math.max(sum, 1e-14)) : sum / L[j * n + j]!;
    }
  }
  const X = new Float64Array(B);
  for (let c = 0; c < m; c++) {
    for (let i = 0; i < n; i++) {
      let sum = X[i * m + c]!;
      for (let k = 0; k < i; k++) sum -= L[i * n + k]! * X[k * m + c]!;
      X[i * m + c] = sum / L[i * n + i]!;
    }
    for (let i = n - 1; i >= 0; i--) {
      let sum = X[i * m + c]!;
      for (let k = i + 1; k < n; k++) sum -= L[k * n + i]! * X[k * m + c]!;
      X[i * m + c] = sum / L[i * n + i]!;
    }
  }
  return X;
}

/**
 * Least squares of vectors on regression terms with a small ridge, and the covariance of what is left.
 *
 * C = (F'F + lambda I)^-1 F'Y, K = E'E / (n - terms), lambda = 1e-3 n on all but the constant.
 * F: n x terms, Y: n x outputs, row-major. Needs n > terms.
 */
export function fitLinear(F: Float64Array, terms: number, Y: Float64Array, outputs: number): Fitted {
  const n = F.length / terms;
  if (n <= terms) throw new BadSample(`${n} samples cannot fit ${terms} terms`);
  const A = new Float64Array(terms * terms);
  const B = new Float64Array(terms * outputs);
  for (let r = 0; r < n; r++) {
    for (let i = 0; i < terms; i++) {
      const f = F[r * terms + i]!;
      for (let j = 0; j < terms; j++) A[i * terms + j]! += f * F[r * terms + j]!;
      for (let j = 0; j < outputs; j++) B[i * outputs + j]! += f * Y[r * outputs + j]!;
    }
  }
  for (let i = 1; i < terms; i++) A[i * terms + i]! += 1e-3 * n;
  const X = solveAll(A, terms, B, outputs);
  const coefficients = new Float64Array(outputs * terms);
  for (let i = 0; i < terms; i++) for (let j = 0; j < outputs; j++) coefficients[j * terms + i] = X[i * outputs + j]!;
  const covariance = new Float64Array(outputs * outputs);
  const e = new Float64Array(outputs);
  for (let r = 0; r < n; r++) {
    for (let j = 0; j < outputs; j++) {
      let y = Y[r * outputs + j]!;
      for (let i = 0; i < terms; i++) y -= coefficients[j * terms + i]! * F[r * terms + i]!;
      e[j] = y;
    }
    for (let i = 0; i < outputs; i++) for (let j = 0; j < outputs; j++) covariance[i * outputs + j]! += e[i]! * e[j]!;
  }
  for (let i = 0; i < covariance.length; i++) covariance[i]! /= n - terms;
  return { coefficients, covariance };
}
