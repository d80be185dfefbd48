import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample, sfc32, solveLinear } from './index.js';

describe('linear systems', () => {
  it('solve a system with a known answer', () => {
    const a = Float64Array.of(2, 1, -1, -3, -1, 2, -2, 1, 2);
    const b = Float64Array.of(8, -11, -3);
    solveLinear(a, b, 3);
    // 2x + y - z = 8, -3x - y + 2z = -11, -2x + y + 2z = -3 has x = 2, y = 3, z = -1.
    [2, 3, -1].forEach((value, i) => {
      expect(b[i]).toBeCloseTo(value, 13);
    });
  });

  it('need a pivot where the first entry is zero, and take one by scaled size', () => {
    const swap = Float64Array.of(5, 7);
    solveLinear(Float64Array.of(0, 1, 1, 0), swap, 2);
    expect([...swap]).toEqual([7, 5]);
    // Without scaling the pivot 10 of a row of 1e15 is taken and y comes out wrong (Golub & Van Loan, section 3.4.1, in kind).
    const scaled = Float64Array.of(1e15, 2);
    solveLinear(Float64Array.of(10, 1e15, 1, 1), scaled, 2);
    expect(scaled[0]).toBeCloseTo(1, 12);
    expect(scaled[1]).toBeCloseTo(1, 12);
  });

  it('invert the 5 x 5 Hilbert matrix, whose inverse is whole numbers', () => {
    const n = 5;
    const a = Float64Array.from({ length: n * n }, (_, k) => 1 / (Math.floor(k / n) + (k % n) + 1));
    const b = Float64Array.from({ length: n * n }, (_, k) => (Math.floor(k / n) === k % n ? 1 : 0));
    solveLinear(a, b, n, n);
    // Choi, Tricks or treats with the Hilbert matrix (1983): the inverse of order 5; condition number 4.8e5, so 1e-10 relative is what is left.
    const inverse = [25, -300, 1050, -1400, 630, -300, 4800, -18900, 26880, -12600, 1050, -18900, 79380, -117600, 56700];
    inverse.push(-1400, 26880, -117600, 179200, -88200, 630, -12600, 56700, -88200, 44100);
    inverse.forEach((value, k) => {
      expect(Math.abs(b[k]! / value - 1)).toBeLessThan(1e-9);
    });
  });

  it('leave a residual of rounding size', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 12 }), fc.nat(), (n, seed) => {
        const random = sfc32(seed);
        const a = Float64Array.from({ length: n * n }, () => random.normal());
        for (let i = 0; i < n; i++) a[i * n + i]! += 2 * n;
        const b = Float64Array.from({ length: n }, () => random.normal());
        const x = b.slice();
        solveLinear(a.slice(), x, n);
        for (let i = 0; i < n; i++) {
          let sum = 0;
          for (let j = 0; j < n; j++) sum += a[i * n + j]! * x[j]!;
          expect(Math.abs(sum - b[i]!)).toBeLessThan(1e-13 * n);
        }
      }),
      { numRuns: 60 },
    );
  });

  it.each([
    ['equal rows', [1, 2, 1, 2]],
    ['a row of zeros', [1, 2, 0, 0]],
    ['not a number', [1, 2, Number.NaN, 1]],
    ['infinity', [1, 2, 3, Number.POSITIVE_INFINITY]],
  ])('refuse %s', (_, entries) => {
    expect(() => solveLinear(Float64Array.from(entries), Float64Array.of(1, 1), 2)).toThrow(BadSample);
  });
});
