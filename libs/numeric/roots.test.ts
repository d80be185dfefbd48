import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample, brent, NoConvergence, OutOfRange, safeguardedNewton } from './index.js';

describe('Brent', () => {
  it.each([
    // Fixed point of cos (Dottie number) and the real root of Wallis' cubic x^3 - 2x - 5.
    ['cos x = x', (x: number) => Math.cos(x) - x, 0, 1, 0.7390851332151607],
    ["Wallis' cubic", (x: number) => x ** 3 - 2 * x - 5, 2, 3, 2.0945514815423265],
  ])('solves %s', (_, f, a, b, root) => {
    expect(brent(f, a, b)).toBeCloseTo(root, 14);
  });

  it('stays in its bracket and ends where the sign changes, whatever the function', () => {
    fc.assert(
      fc.property(fc.double({ min: -9, max: 9, noNaN: true }), (root) => {
        const seen: number[] = [];
        const x = brent(
          (z) => {
            seen.push(z);
            return z < root ? -1 : 1;
          },
          -10,
          10,
          { xTolerance: 1e-12 },
        );
        expect(Math.abs(x - root)).toBeLessThanOrEqual(1e-12);
        expect(Math.min(...seen)).toBeGreaterThanOrEqual(-10);
        expect(Math.max(...seen)).toBeLessThanOrEqual(10);
      }),
    );
  });

  it('takes a ninth power, flat at its root, as far as it is asked', () => {
    expect(Math.abs(brent((x) => (x - 0.5) ** 9, -1, 1.7, { xTolerance: 1e-6 }) - 0.5)).toBeLessThanOrEqual(1e-6);
    expect(brent((x) => (x - 0.5) ** 9, -1, 1.7, { fTolerance: 1e-20 }) - 0.5).toBeLessThan(1e-20 ** (1 / 9));
  });

  it('takes a root at an end, and refuses a bracket without a sign change', () => {
    expect(brent((x) => x - 2, 2, 5)).toBe(2);
    expect(brent((x) => x - 5, 2, 5)).toBe(5);
    expect(() => brent((x) => x * x + 1, -1, 1)).toThrow(BadSample);
    expect(() => brent(() => Number.NaN, -1, 1)).toThrow(BadSample);
    expect(() => brent(Math.sin, 2, 4, { maxIterations: 2 })).toThrow(NoConvergence);
  });
});

describe('safeguarded Newton', () => {
  const cubic = (x: number, out: Float64Array): void => {
    out[0] = x ** 3 - 2 * x - 5;
    out[1] = 3 * x * x - 2;
  };

  it("solves Wallis' cubic from a start where the slope points away", () => {
    // The slope is negative at 0.5, so that the Newton step leaves the bracket.
    expect(safeguardedNewton(cubic, 0.5, 0, 3, true)).toBeCloseTo(2.0945514815423265, 14);
  });

  it('needs few steps, however the rounding falls at the root', () => {
    fc.assert(
      fc.property(fc.double({ min: -50, max: 50, noNaN: true }), (root) => {
        let calls = 0;
        const x = safeguardedNewton(
          (z, out) => {
            calls += 1;
            out[0] = Math.sinh((z - root) / 20);
            out[1] = Math.cosh((z - root) / 20) / 20;
          },
          60,
          -100,
          100,
          true,
        );
        expect(Math.abs(x - root)).toBeLessThanOrEqual(1e-13 * Math.max(1, Math.abs(root)));
        expect(calls).toBeLessThan(20);
      }),
    );
  });

  it('solves a decreasing function', () => {
    const x = safeguardedNewton(
      (z, out) => {
        out[0] = Math.exp(-z) - 0.25;
        out[1] = -Math.exp(-z);
      },
      0,
      -1,
      60,
      false,
    );
    expect(x).toBeCloseTo(Math.log(4), 13);
  });

  it('says so when it runs out of steps', () => {
    expect(() => safeguardedNewton(cubic, 3, 0, 1e9, true, 0, 3)).toThrow(NoConvergence);
  });
});

describe('errors', () => {
  it('name quantity, value, bounds and unit', () => {
    const error = new OutOfRange('pressure', 5, 1, 2, 'Pa');
    expect(error).toMatchObject({ name: 'OutOfRange', quantity: 'pressure', value: 5, min: 1, max: 2, unit: 'Pa' });
    expect(error.message).toBe('pressure 5 Pa is outside 1 to 2 Pa');
    expect(new NoConvergence('x', 3, 0.5)).toMatchObject({ method: 'x', iterations: 3, residual: 0.5 });
    expect(new BadSample('empty')).toMatchObject({ name: 'BadSample', reason: 'empty' });
  });
});
