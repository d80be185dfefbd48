/** Lower Cholesky factor of a symmetric positive definite matrix, row-major d x d; a pivot below 1e-12 is held there. */
export function cholesky(matrix: Float64Array, d: number): Float64Array {
  const L = new Float64Array(d * d);
  for (let j = 0; j < d; j++) {
    for (let i = j; i < d; i++) {
      let sum = matrix[i * d + j]!;
      for (let k = 0; k < j; k++) sum -= L[i * d + k]! * L[j * d + k]!;
      L[i * d + j] = i === j ? Math.sqrt(Math.max(sum, 1e-12)) : sum / L[j * d + j]!;
    }
  }
  return L;
}

/** Matrix that turns a vector of covariance `from` into one of covariance `to`: A = L(to) L(from)^-1, so that A from A' = to. */
export function reshaping(from: Float64Array, to: Float64Array, d: number): Float64Array {
  const L = cholesky(from, d);
  const A = cholesky(to, d);
  // Solve X L = A from the last column back; X is lower triangular like both.
  for (let i = 0; i < d; i++) {
    for (let j = i; j >= 0; j--) {
      let sum = A[i * d + j]!;
      for (let k = j + 1; k <= i; k++) sum -= A[i * d + k]! * L[k * d + j]!;
      A[i * d + j] = sum / L[j * d + j]!;
    }
  }
  return A;
}

/** A M A' for a lower triangular A. */
export function congruent(A: Float64Array, M: Float64Array, d: number): Float64Array {
  const AM = new Float64Array(d * d);
  for (let i = 0; i < d; i++) {
    for (let k = 0; k <= i; k++) for (let j = 0; j < d; j++) AM[i * d + j]! += A[i * d + k]! * M[k * d + j]!;
  }
  const out = new Float64Array(d * d);
  for (let i = 0; i < d; i++) {
    for (let j = 0; j < d; j++) {
      let sum = 0;
      for (let k = 0; k <= j; k++) sum += AM[i * d + k]! * A[j * d + k]!;
      out[i * d + j] = sum;
    }
  }
  return out;
}
