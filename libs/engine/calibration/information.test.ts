import { describe, expect, it } from '@jest/globals';
import { DIMS } from '../dims.js';
import { precision } from '../gaussian.js';
import { addInformation, type Information, noInformation, posterior, throughSpread } from './information.js';

const diagonal = (x: number) => Float64Array.from({ length: DIMS * DIMS }, (_, k) => (k % (DIMS + 1) === 0 ? x : 0));

/** A well-conditioned symmetric matrix: x on the diagonal, less the farther from it. */
const banded = (x: number) => Float64Array.from({ length: DIMS * DIMS }, (_, k) => x * 0.5 ** Math.abs(Math.floor(k / DIMS) - (k % DIMS)));

/** One reading r of dimension i with variance v. */
function read(i: number, r: number, v: number): Information {
  const one = noInformation();
  one.matrix[i * DIMS + i] = 1 / v;
  one.vector[i] = r / v;
  return one;
}

describe('information about a vector', () => {
  it('read through a spread counts by both variances (worked by hand)', () => {
    // x read as 6 with variance 2, x = m + e with variance 4 of e: m is 6 with variance 6.
    const { matrix, vector } = throughSpread(read(3, 6, 2), diagonal(1 / 4));
    expect(matrix[3 * DIMS + 3]).toBeCloseTo(1 / 6, 12);
    expect(vector[3]).toBeCloseTo(6 / 6, 12);
    // What nobody read stays unknown.
    expect(Math.max(...matrix.filter((_, k) => k !== 3 * DIMS + 3).map(Math.abs))).toBeLessThan(1e-12);
  });

  it('through a spread is the inverse of the summed covariances, where every dimension was read', () => {
    const own = { matrix: precision(banded(2), DIMS).inverse, vector: Float64Array.from({ length: DIMS }, (_, i) => i - 4) };
    const spread = banded(3);
    const { matrix, vector } = throughSpread(own, precision(spread, DIMS).inverse);
    const direct = precision(
      banded(2).map((x, k) => x + spread[k]!),
      DIMS,
    ).inverse;
    for (let k = 0; k < matrix.length; k++) expect(matrix[k]).toBeCloseTo(direct[k]!, 9);
    // The mean is the same: only how far it is believed changes.
    const mean = (A: Float64Array, v: Float64Array) =>
      posterior({ mean: new Float64Array(DIMS), covariance: diagonal(1e9) }, { matrix: A, vector: v }).mean;
    const [before, after] = [mean(own.matrix, own.vector), mean(matrix, vector)];
    for (let i = 0; i < DIMS; i++) expect(after[i]).toBeCloseTo(before[i]!, 5);
  });

  it('adds up, and draws what was expected before towards it (worked by hand)', () => {
    // Expected 1 with variance 3; read as 5 with variance 1, twice: (1/3 + 10) / (1/3 + 2) = 31/7, variance 3/7.
    const twice = read(0, 5, 1);
    addInformation(twice, read(0, 5, 1));
    const { mean, covariance } = posterior({ mean: new Float64Array(DIMS).fill(1), covariance: diagonal(3) }, twice);
    expect(mean[0]).toBeCloseTo(31 / 7, 12);
    expect(covariance[0]).toBeCloseTo(3 / 7, 12);
    expect(mean[1]).toBeCloseTo(1, 12);
    expect(covariance[DIMS + 1]).toBeCloseTo(3, 12);
  });
});
