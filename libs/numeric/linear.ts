import { BadSample } from './errors.js';

/**
 * A X = B in place by Gaussian elimination with partial pivoting, for the small dense systems of a Newton step.
 *
 *   a   n x n, row by row; overwritten
 *   b   n x m, row by row (m right-hand sides side by side, default 1); overwritten by X
 *
 * Pivots are chosen by size relative to their row, because the equations of a physical model differ by orders of magnitude.
 * BadSample when a is singular to working precision, or a row is zero or not finite.
 * source   G. H. Golub, C. F. Van Loan, Matrix Computations (4th ed. 2013), section 3.4.
 */
export function solveLinear(a: Float64Array, b: Float64Array, n: number, m = 1): void {
  const scale = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let largest = 0;
    for (let j = 0; j < n; j++) largest = Math.max(largest, Math.abs(a[i * n + j]!));
    // Math.max passes NaN on, so that this catches it as well as a row of zeros.
    if (!(largest > 0 && largest < Number.POSITIVE_INFINITY)) throw new BadSample(`linear system: row ${i} is zero or not finite`);
    scale[i] = 1 / largest;
  }
  for (let k = 0; k < n; k++) {
    let pivot = k;
    let best = 0;
    for (let i = k; i < n; i++) {
      const size = Math.abs(a[i * n + k]!) * scale[i]!;
      if (size > best) {
        best = size;
        pivot = i;
      }
    }
    if (!(best > n * Number.EPSILON)) throw new BadSample(`linear system: singular at column ${k}`);
    if (pivot !== k) {
      swapRows(a, n, k, pivot);
      swapRows(b, m, k, pivot);
      scale[pivot] = scale[k]!;
    }
    const diagonal = a[k * n + k]!;
    for (let i = k + 1; i < n; i++) {
      const factor = a[i * n + k]! / diagonal;
      if (factor === 0) continue;
      for (let j = k + 1; j < n; j++) a[i * n + j]! -= factor * a[k * n + j]!;
      for (let j = 0; j < m; j++) b[i * m + j]! -= factor * b[k * m + j]!;
    }
  }
  for (let j = 0; j < m; j++) {
    for (let i = n - 1; i >= 0; i--) {
      let sum = b[i * m + j]!;
      for (let k = i + 1; k < n; k++) sum -= a[i * n + k]! * b[k * m + j]!;
      b[i * m + j] = sum / a[i * n + i]!;
    }
  }
}

function swapRows(values: Float64Array, width: number, i: number, k: number): void {
  for (let j = 0; j < width; j++) {
    const kept = values[i * width + j]!;
    values[i * width + j] = values[k * width + j]!;
    values[k * width + j] = kept;
  }
}
