import { DIMS } from '../dims.js';
import { precision } from '../gaussian.js';

/** What was learned about a vector of the engine's dimensions: precision matrix (row-major DIMS x DIMS) and precision times mean. */
export interface Information {
  readonly matrix: Float64Array;
  readonly vector: Float64Array;
}

export const noInformation = (): Information => ({ matrix: new Float64Array(DIMS * DIMS), vector: new Float64Array(DIMS) });

/** Adds independent information about the same vector. */
export function addInformation(into: Information, { matrix, vector }: Information): void {
  for (let k = 0; k < matrix.length; k++) into.matrix[k]! += matrix[k]!;
  for (let i = 0; i < DIMS; i++) into.vector[i]! += vector[i]!;
}

/**
 * What information L about x says about m where x = m + e, e ~ N(0, P): L - L (L + P^-1)^-1 L (matrix inversion lemma). `inverseP` is P^-1, row-major.
 * Holds where L has no inverse: dimensions nobody read stay unknown.
 */
export function throughSpread({ matrix, vector }: Information, inverseP: Float64Array): Information {
  const { inverse } = precision(
    matrix.map((x, k) => x + inverseP[k]!),
    DIMS,
  );
  const out = { matrix: new Float64Array(matrix), vector: new Float64Array(vector) };
  for (let i = 0; i < DIMS; i++) {
    for (let k = 0; k < DIMS; k++) {
      let gain = 0;
      for (let l = 0; l < DIMS; l++) gain += matrix[i * DIMS + l]! * inverse[l * DIMS + k]!;
      if (gain === 0) continue;
      out.vector[i]! -= gain * vector[k]!;
      for (let j = 0; j < DIMS; j++) out.matrix[i * DIMS + j]! -= gain * matrix[k * DIMS + j]!;
    }
  }
  return out;
}

/** Mean and covariance (row-major) of a normal vector. */
export interface Normal {
  readonly mean: Float64Array;
  readonly covariance: Float64Array;
}

/** The vector after the information, where it was normal before. */
export function posterior(before: Normal, { matrix, vector }: Information): Normal {
  const known = precision(before.covariance, DIMS).inverse;
  const covariance = precision(
    matrix.map((x, k) => x + known[k]!),
    DIMS,
  ).inverse;
  return {
    mean: times(
      covariance,
      vector.map((x, i) => x + rowTimes(known, i, before.mean)),
    ),
    covariance,
  };
}

const rowTimes = (A: Float64Array, i: number, x: Float64Array): number => {
  let sum = 0;
  for (let j = 0; j < DIMS; j++) sum += A[i * DIMS + j]! * x[j]!;
  return sum;
};
const times = (A: Float64Array, x: Float64Array): Float64Array => Float64Array.from(x, (_, i) => rowTimes(A, i, x));
