/**
 * Log density of a vector of residuals under a correlated normal with a heavy tail, where at most one reading may be wild.
 *
 * p(r) = (1 - e)^d Nt(r; 0, K) + sum over i of e (1 - e)^(d-1) Nt(r without i; 0, K without i) U_i
 *
 * Nt is Student's t with 10 degrees of freedom and scale K; U_i a broad density over what reading i may show when it is wild.
 * The reduced densities come from the inverse of K: q(-i) = q - (K^-1 r)_i^2 / (K^-1)_ii and log det K(-i) = log det K + log (K^-1)_ii.
 * Shapes: r length d; inverse row-major d x d. Cost O(d^2). Source: partitioned inverse of a symmetric matrix (any linear-algebra text).
 */
export interface Precision {
  readonly d: number;
  /** Inverse covariance, row-major. */
  readonly inverse: Float64Array;
  readonly logDet: number;
}

/** Room to work in, for up to 40 readings: a case weighs about a hundred matrices, and allocating them costs more than the arithmetic. */
const MOST = 40;
const chol = new Float64Array(MOST * MOST);
const tri = new Float64Array(MOST * MOST);
const z = new Float64Array(MOST);
const terms = new Float64Array(MOST + 1);

/**
 * Inverse and log determinant of a symmetric positive definite matrix by Cholesky; row-major d x d, d up to 40. Only the lower half of `covariance` is read;
 * the whole inverse is written to `inverse`.
 */
export function precision(covariance: Float64Array, d: number, inverse: Float64Array = new Float64Array(d * d)): Precision {
  let logDet = 0;
  for (let j = 0; j < d; j++) {
    for (let i = j; i < d; i++) {
      let sum = covariance[i * d + j]!;
      for (let k = 0; k < j; k++) sum -= chol[i * d + k]! * chol[j * d + k]!;
      if (i === j) {
        const pivot = Math.sqrt(Math.max(sum, 1e-12));
        chol[j * d + j] = pivot;
        logDet += 2 * Math.log(pivot);
      } else chol[i * d + j] = sum / chol[j * d + j]!;
    }
  }
  // Invert the triangle, then multiply it by its transpose.
  for (let j = 0; j < d; j++) {
    tri[j * d + j] = 1 / chol[j * d + j]!;
    for (let i = j + 1; i < d; i++) {
      let sum = 0;
      for (let k = j; k < i; k++) sum -= chol[i * d + k]! * tri[k * d + j]!;
      tri[i * d + j] = sum / chol[i * d + i]!;
    }
  }
  for (let i = 0; i < d; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = i; k < d; k++) sum += tri[k * d + i]! * tri[k * d + j]!;
      inverse[i * d + j] = sum;
      inverse[j * d + i] = sum;
    }
  }
  return { d, inverse, logDet };
}

export const TAIL_DEGREES = 10;
/** Share of wild readings allowed for: with ten readings, one case in seven has one. */
const WILD = 0.015;
const LOG_WILD = Math.log(WILD);
const LOG_TAME = Math.log1p(-WILD);

/** log Gamma((nu + d)/2) - log Gamma(nu/2) - d/2 log(nu pi), for nu = TAIL_DEGREES. */
const T_CONSTANT: readonly number[] = (() => {
  const half = (n: number): number => (n === 1 ? 0.5 * Math.log(Math.PI) : n === 2 ? 0 : Math.log(n / 2 - 1) + half(n - 2));
  return Array.from({ length: MOST }, (_, d) => half(TAIL_DEGREES + d) - half(TAIL_DEGREES) - (d / 2) * Math.log(TAIL_DEGREES * Math.PI));
})();

const logT = (q: number, logDet: number, d: number) =>
  T_CONSTANT[d]! - 0.5 * logDet - ((TAIL_DEGREES + d) / 2) * Math.log1p(q / TAIL_DEGREES);

/** Log density of residuals r; logBroad holds log U_i. Empty residuals give 0. */
export function logDensity(r: Float64Array, p: Precision, logBroad: Float64Array): number {
  const { d, inverse, logDet } = p;
  if (d === 0) return 0;
  let q = 0;
  for (let i = 0; i < d; i++) {
    let sum = 0;
    for (let j = 0; j < d; j++) sum += inverse[i * d + j]! * r[j]!;
    z[i] = sum;
    q += sum * r[i]!;
  }
  let best = d * LOG_TAME + logT(Math.max(q, 0), logDet, d);
  terms[0] = best;
  for (let i = 0; i < d; i++) {
    const k = inverse[i * d + i]!;
    const qi = Math.max(q - (z[i]! * z[i]!) / k, 0);
    const term = LOG_WILD + (d - 1) * LOG_TAME + logT(qi, logDet + Math.log(k), d - 1) + logBroad[i]!;
    terms[i + 1] = term;
    if (term > best) best = term;
  }
  let sum = 0;
  for (let i = 0; i <= d; i++) sum += Math.exp(terms[i]! - best);
  return best + Math.log(sum);
}

/** Log density of one residual under Student's t with 10 degrees of freedom and a small chance of being wild over `broad`. */
export function logDensity1(r: number, sigma: number, broad: number): number {
  return Math.log(density1(r, sigma, broad));
}

const T_PEAK = Math.exp(T_CONSTANT[1]!);

/** The density itself. (1 + q^2 / 10)^-5.5 by products and one root: a general power costs more than all the rest. */
export function density1(r: number, sigma: number, broad: number): number {
  const q = r / sigma;
  const tail = 1 + (q * q) / TAIL_DEGREES;
  const square = tail * tail;
  return ((1 - WILD) * T_PEAK) / (square * square * tail * Math.sqrt(tail) * sigma) + WILD / broad;
}
