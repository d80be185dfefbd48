import { describe, expect, it } from '@jest/globals';
import {
  BadSample,
  bicubicAt,
  bicubicPatches,
  compensatedSum,
  differentiateChebyshev,
  evaluateChebyshev,
  fitChebyshev,
  quasiRandom,
  seededRandom,
  splineSlopes,
} from './index.js';

describe('Chebyshev series', () => {
  it('of exp on [-1, 1] has the modified Bessel functions I_k(1) as coefficients (Abramowitz & Stegun 9.6.34)', () => {
    // I_0(1), I_1(1), I_2(1) from their power series sum (1/4)^m / (m! (m+k)!) / 2^k.
    const { coefficients } = fitChebyshev(Math.exp, -1, 1, 16);
    expect(coefficients[0]).toBeCloseTo(1.2660658777520082, 13);
    expect(coefficients[1]).toBeCloseTo(2 * 0.5651591039924851, 13);
    expect(coefficients[2]).toBeCloseTo(2 * 0.1357476697670383, 13);
  });

  it('reproduces a function and its derivative between the nodes', () => {
    const series = fitChebyshev((x) => Math.sin(3 * x), 0.5, 2.5, 24);
    const slope = differentiateChebyshev(series);
    for (let x = 0.5; x <= 2.5; x += 0.05) {
      expect(evaluateChebyshev(series, x)).toBeCloseTo(Math.sin(3 * x), 12);
      expect(evaluateChebyshev(slope, x)).toBeCloseTo(3 * Math.cos(3 * x), 10);
    }
  });

  it('refuses values that are not finite', () => {
    expect(() => fitChebyshev(() => Number.NaN, 0, 1, 4)).toThrow(BadSample);
  });
});

describe('cubic splines', () => {
  it('have the exact slopes of a cubic', () => {
    const f = (x: number): number => 2 * x ** 3 - x ** 2 + 4 * x - 7;
    const slopes = splineSlopes([0, 1, 2, 3, 4, 5, 6].map(f));
    slopes.forEach((slope, x) => {
      expect(slope).toBeCloseTo(6 * x ** 2 - 2 * x + 4, 9);
    });
  });

  it('need four finite values', () => {
    expect(() => splineSlopes([1, 2, 3])).toThrow(BadSample);
    expect(() => splineSlopes([1, 2, Number.NaN, 4])).toThrow(BadSample);
  });

  const grid = (f: (x: number, y: number) => number, nx: number, ny: number): Float64Array => {
    const values = new Float64Array((nx + 1) * (ny + 1));
    for (let i = 0; i <= nx; i++) for (let j = 0; j <= ny; j++) values[i * (ny + 1) + j] = f(i, j);
    return values;
  };
  const at = (patches: Float64Array, ny: number, x: number, y: number): number => {
    const i = Math.floor(x);
    const j = Math.floor(y);
    return bicubicAt(patches, (i * ny + j) * 16, x - i, y - j);
  };

  it('in two dimensions reproduce a product of cubics', () => {
    const f = (x: number, y: number): number => (x ** 3 - 2 * x) * (1 + y ** 2 - 0.1 * y ** 3) + 5;
    const patches = bicubicPatches(grid(f, 4, 6), 4, 6);
    const points = [
      [0.25, 0.5],
      [3.9, 5.9],
      [2, 3],
      [1.5, 4.75],
    ] as const;
    for (const [x, y] of points) expect(at(patches, 6, x, y)).toBeCloseTo(f(x, y), 9);
  });

  it('converge with the fourth power of the spacing', () => {
    const error = (n: number): number => {
      const f = (x: number, y: number): number => Math.sin((2 * x) / n) * Math.exp(y / n);
      const patches = bicubicPatches(grid(f, n, n), n, n);
      let worst = 0;
      for (let x = 0.13; x < n; x += 0.37)
        for (let y = 0.21; y < n; y += 0.37) worst = Math.max(worst, Math.abs(at(patches, n, x, y) - f(x, y)));
      return worst;
    };
    // 16 in the limit; not-a-knot ends still feel the coarse grid.
    expect(error(8) / error(16)).toBeGreaterThan(11);
  });
});

describe('random and quasi-random numbers', () => {
  it('repeat for a seed, differ between seeds, and look uniform', () => {
    const a = seededRandom(1);
    const b = seededRandom(1);
    const first = Array.from({ length: 20_000 }, () => a());
    expect(Array.from({ length: 5 }, () => b())).toEqual(first.slice(0, 5));
    expect(seededRandom(2)()).not.toBe(first[0]);
    // Chi-square over 64 bins: 63 degrees of freedom, 99.99 % point 112.3.
    const bins = new Array<number>(64).fill(0);
    for (const value of first) bins[Math.floor(value * 64)]! += 1;
    const expected = first.length / 64;
    expect(bins.reduce((sum, n) => sum + (n - expected) ** 2 / expected, 0)).toBeLessThan(112.3);
    expect(() => seededRandom(0.5)).toThrow(BadSample);
  });

  it('fill the unit square more evenly than random points', () => {
    // Mean of x*y over 4,096 points against 1/4: random points err by sqrt(7)/12/64 = 0.0034 (one standard deviation).
    const point = quasiRandom(2);
    const out = new Float64Array(2);
    let sum = 0;
    for (let n = 1; n <= 4096; n++) {
      point(n, out);
      sum += out[0]! * out[1]!;
    }
    expect(Math.abs(sum / 4096 - 0.25)).toBeLessThan(0.00034);
    expect(() => quasiRandom(0)).toThrow(BadSample);
  });

  it('step by the golden ratio in one dimension', () => {
    const out = new Float64Array(1);
    quasiRandom(1, 0)(1, out);
    expect(out[0]).toBeCloseTo((Math.sqrt(5) - 1) / 2, 14);
  });
});

describe('compensated sum', () => {
  it('keeps what a plain sum loses', () => {
    expect(compensatedSum([1, 1e100, 1, -1e100])).toBe(2);
    expect(compensatedSum(new Array(10).fill(0.1))).toBe(1);
    expect(compensatedSum([])).toBe(0);
    expect(compensatedSum([1, Number.POSITIVE_INFINITY])).toBe(Number.POSITIVE_INFINITY);
    expect(compensatedSum([1, Number.NaN])).toBeNaN();
  });
});
