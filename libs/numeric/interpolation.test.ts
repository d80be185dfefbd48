import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import {
  BadSample,
  bicubicAt,
  bicubicPatches,
  clenshaw,
  differentiateChebyshev,
  evaluateChebyshev,
  fitChebyshev,
  splineSlopes,
} from './index.js';

/** Modified Bessel functions I0..I4 at 1: Abramowitz & Stegun (1964), tables 9.8 and 9.11. */
const BESSEL_I = [1.2660658778, 0.565159104, 0.1357476698, 0.0221684249, 0.0027371202];

describe('Chebyshev series', () => {
  it('of exp on [-1, 1] has the coefficients I0(1), 2 Ik(1) (Abramowitz & Stegun 9.6.34)', () => {
    const { coefficients } = fitChebyshev(Math.exp, -1, 1, 16);
    BESSEL_I.forEach((value, k) => {
      expect(coefficients[k]).toBeCloseTo((k === 0 ? 1 : 2) * value, 9);
    });
  });

  it('reproduces a polynomial of its degree, and its derivative, exactly', () => {
    const coefficient = fc.double({ min: -5, max: 5, noNaN: true });
    fc.assert(
      fc.property(fc.array(coefficient, { minLength: 5, maxLength: 5 }), fc.double({ min: 0, max: 1, noNaN: true }), (c, share) => {
        const a = -1;
        const b = 3;
        const x = a + (b - a) * share;
        const value = (z: number): number => c.reduceRight((sum, one) => sum * z + one, 0);
        const slope = c.reduce((sum, one, k) => sum + (k ? k * one * x ** (k - 1) : 0), 0);
        const series = fitChebyshev(value, a, b, 5);
        expect(Math.abs(evaluateChebyshev(series, x) - value(x))).toBeLessThan(1e-11);
        expect(Math.abs(evaluateChebyshev(differentiateChebyshev(series), x) - slope)).toBeLessThan(1e-10);
      }),
    );
  });

  it('is cos(k arccos t) term by term', () => {
    for (let k = 0; k < 8; k++) {
      const one = new Float64Array(k + 1);
      one[k] = 1;
      for (const t of [-1, -0.3, 0, 0.77, 1]) expect(clenshaw(one, t)).toBeCloseTo(Math.cos(k * Math.acos(t)), 13);
    }
  });

  it('falls geometrically for an analytic function: 1/(1 + 25 x^2), the ellipse through i/5', () => {
    const rate = 1 / (0.2 + Math.sqrt(1.04));
    const error = (n: number): number => {
      const series = fitChebyshev((x) => 1 / (1 + 25 * x * x), -1, 1, n);
      let worst = 0;
      for (let i = 0; i <= 500; i++) {
        const x = -1 + i / 250;
        worst = Math.max(worst, Math.abs(evaluateChebyshev(series, x) - 1 / (1 + 25 * x * x)));
      }
      return worst;
    };
    // Trefethen, Approximation Theory and Approximation Practice, theorem 8.2: error ~ rate^n.
    expect(error(60) / error(30) / rate ** 30).toBeGreaterThan(0.3);
    expect(error(60) / error(30) / rate ** 30).toBeLessThan(3);
  });

  it('refuses a value that is not finite', () => {
    expect(() => fitChebyshev(() => Number.NaN, 0, 1, 4)).toThrow(BadSample);
  });
});

describe('splines', () => {
  it('reproduce cubics to the ends', () => {
    const f = (x: number): number => 1 - 2 * x + 0.5 * x * x - 0.25 * x ** 3;
    const slopes = splineSlopes(Float64Array.from({ length: 7 }, (_, i) => f(i)));
    for (let i = 0; i < 7; i++) expect(slopes[i]).toBeCloseTo(-2 + i - 0.75 * i * i, 11);
  });

  it('reproduce bicubics inside every cell, and have an error of fourth order for sin(x) exp(y)', () => {
    const grid = (n: number, f: (x: number, y: number) => number): Float64Array =>
      Float64Array.from({ length: (n + 1) ** 2 }, (_, k) => f(Math.floor(k / (n + 1)) / n, (k % (n + 1)) / n));
    const worst = (n: number, f: (x: number, y: number) => number): number => {
      const patches = bicubicPatches(grid(n, f), n, n);
      let most = 0;
      for (let i = 0; i < n; i++) {
        for (let j = 0; j < n; j++) {
          for (const [u, v] of [
            [0, 0],
            [0.5, 0.5],
            [0.25, 0.75],
            [1, 1],
          ] as const) {
            most = Math.max(most, Math.abs(bicubicAt(patches, (i * n + j) * 16, u, v) - f((i + u) / n, (j + v) / n)));
          }
        }
      }
      return most;
    };
    expect(worst(5, (x, y) => (1 + x - 2 * x ** 3) * (y * y - 3 * y ** 3 + 0.5))).toBeLessThan(1e-14);
    const smooth = (x: number, y: number): number => Math.sin(3 * x) * Math.exp(y);
    const order = Math.log2(worst(8, smooth) / worst(16, smooth));
    expect(order).toBeGreaterThan(3.5);
  });

  it('refuse too few values and values that are not finite', () => {
    expect(() => splineSlopes([1, 2, 3])).toThrow(BadSample);
    expect(() => splineSlopes([1, 2, Number.NaN, 3])).toThrow(BadSample);
  });
});
