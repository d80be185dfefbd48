import { describe, expect, it } from '@jest/globals';
import { rSequence, sfc32 } from './index.js';

describe('sfc32', () => {
  it('gives the numbers of the published recurrence worked out in unbounded integers', () => {
    const take = (seed: number): number[] => {
      const random = sfc32(seed);
      return Array.from({ length: 5 }, () => random.bits());
    };
    // The recurrence of PractRand's sfc32 (a = 0, b and c the seed's halves, counter 1, 12 rounds first) in Python integers.
    expect(take(1)).toEqual([2012149540, 1872316204, 1707632675, 1779833415, 2026416846]);
    expect(take(2 ** 40 + 12345)).toEqual([2908832872, 61606127, 696873106, 2370444976, 967087284]);
  });

  it('is uniform: chi-square over 64 cells, every bit half the time', () => {
    const random = sfc32(20260115);
    const n = 64_000;
    const cells = new Array<number>(64).fill(0);
    const ones = new Array<number>(32).fill(0);
    for (let i = 0; i < n; i++) {
      cells[Math.floor(random.uniform() * 64)]! += 1;
      const bits = random.bits();
      for (let k = 0; k < 32; k++) ones[k]! += (bits >>> k) & 1;
    }
    const chiSquare = cells.reduce((sum, count) => sum + (count - n / 64) ** 2 / (n / 64), 0);
    // 63 degrees of freedom: 0.1 % and 99.9 % points 32.5 and 103.4.
    expect(chiSquare).toBeGreaterThan(32.5);
    expect(chiSquare).toBeLessThan(103.4);
    // Standard deviation of a count sqrt(n)/2 = 126; the largest of 32 exceeds 4 of them once in 500 seeds.
    for (const count of ones) expect(Math.abs(count - n / 2)).toBeLessThan(4 * 126.5);
  });

  it('gives normal numbers with the moments of one', () => {
    const random = sfc32(7);
    const n = 40_000;
    let sum = 0;
    let square = 0;
    let fourth = 0;
    let outside = 0;
    for (let i = 0; i < n; i++) {
      const z = random.normal();
      sum += z;
      square += z * z;
      fourth += z ** 4;
      if (Math.abs(z) > 1.959964) outside += 1;
    }
    // Four standard errors: 1, sqrt(2), sqrt(96) and sqrt(0.05 * 0.95), each over sqrt(n).
    const se = 4 / Math.sqrt(n);
    expect(Math.abs(sum / n)).toBeLessThan(se);
    expect(Math.abs(square / n - 1)).toBeLessThan(Math.SQRT2 * se);
    expect(Math.abs(fourth / n - 3)).toBeLessThan(Math.sqrt(96) * se);
    expect(Math.abs(outside / n - 0.05)).toBeLessThan(Math.sqrt(0.0475) * se);
  });

  it('gives whole numbers below n, all of them', () => {
    const random = sfc32(3);
    const seen = new Set(Array.from({ length: 500 }, () => random.below(7)));
    expect([...seen].sort()).toEqual([0, 1, 2, 3, 4, 5, 6]);
  });
});

describe('R sequence', () => {
  it('is the golden-ratio sequence in one dimension and the plastic-number one in two', () => {
    const golden = (Math.sqrt(5) - 1) / 2;
    rSequence(5, 1).forEach((value, k) => {
      expect(value).toBeCloseTo((0.5 + (k + 1) * golden) % 1, 12);
    });
    // The plastic number 1.32471795724474602596 (real root of x^3 = x + 1).
    const plastic = 1.324717957244746;
    const points = rSequence(3, 2);
    for (let k = 0; k < 3; k++) {
      expect(points[2 * k]).toBeCloseTo((0.5 + (k + 1) / plastic) % 1, 12);
      expect(points[2 * k + 1]).toBeCloseTo((0.5 + (k + 1) / plastic ** 2) % 1, 12);
    }
  });

  it('has the discrepancy of a low-discrepancy sequence, far below that of random points', () => {
    // Star discrepancy in one dimension: max over sorted points of |x_i - (i - 1/2)/n| + 1/(2 n). For a golden-ratio sequence it is O(log n/n);
    // random points have about 0.87/sqrt(n) (mean of the Kolmogorov distribution).
    const n = 1000;
    const star = (points: Float64Array): number =>
      points
        .slice()
        .sort()
        .reduce((worst, x, i) => Math.max(worst, Math.abs(x - (i + 0.5) / n) + 0.5 / n), 0);
    expect(star(rSequence(n, 1))).toBeLessThan(Math.log(n) / n);
    const random = sfc32(11);
    expect(star(Float64Array.from({ length: n }, () => random.uniform()))).toBeGreaterThan(Math.log(n) / n);
  });

  it('integrates a smooth function of four variables better than its count of random points would', () => {
    const n = 2000;
    const points = rSequence(n, 4);
    let sum = 0;
    for (let k = 0; k < n; k++) {
      let product = 1;
      for (let j = 0; j < 4; j++) product *= 1 + (points[4 * k + j]! - 0.5);
      sum += product;
    }
    // The integral is 1; one random point has variance (13/12)^4 - 1 = 0.377, so random points have a standard error of 0.0137.
    expect(Math.abs(sum / n - 1)).toBeLessThan(0.0137 / 5);
  });
});
