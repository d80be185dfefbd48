import { describe, expect, it } from '@jest/globals';
import { BadSample, dampedNewton, NoConvergence, OutOfRange } from './index.js';

// Test functions of J. J. More, B. S. Garbow, K. E. Hillstrom, Testing Unconstrained Optimization Software, ACM TOMS 7 (1981) 17-41.

describe('damped Newton', () => {
  it('finds the root of Rosenbrock (1) from (-1.2, 1)', () => {
    const { x, residual } = dampedNewton(
      ([a, b], out) => {
        out[0] = 10 * (b! - a! * a!);
        out[1] = 1 - a!;
      },
      [-1.2, 1],
    );
    expect(x[0]).toBeCloseTo(1, 9);
    expect(x[1]).toBeCloseTo(1, 9);
    expect(residual).toBeLessThanOrEqual(1e-9);
  });

  it('finds the root of Powell badly scaled (3) from (0, 1), where whole steps diverge', () => {
    const { x } = dampedNewton(
      ([a, b], out) => {
        out[0] = 1e4 * a! * b! - 1;
        out[1] = Math.exp(-a!) + Math.exp(-b!) - 1.0001;
      },
      [0, 1],
      { maxIterations: 200, tolerance: 1e-12 },
    );
    // Table of the paper: (1.098...e-5, 9.106...).
    expect(x[0]).toBeCloseTo(1.098e-5, 8);
    expect(x[1]).toBeCloseTo(9.106, 3);
  });

  it('finds the root of Broyden tridiagonal (30), n = 9, with a Jacobian of its own in no more steps than with differences', () => {
    const n = 9;
    const residuals = (x: Float64Array, out: Float64Array): void => {
      for (let i = 0; i < n; i++) out[i] = (3 - 2 * x[i]!) * x[i]! - (x[i - 1] ?? 0) - 2 * (x[i + 1] ?? 0) + 1;
    };
    const jacobian = (x: Float64Array, out: Float64Array): void => {
      out.fill(0);
      for (let i = 0; i < n; i++) {
        out[i * n + i] = 3 - 4 * x[i]!;
        if (i > 0) out[i * n + i - 1] = -1;
        if (i < n - 1) out[i * n + i + 1] = -2;
      }
    };
    const start = new Float64Array(n).fill(-1);
    const own = dampedNewton(residuals, start, { jacobian });
    const byDifferences = dampedNewton(residuals, start);
    expect(own.residual).toBeLessThanOrEqual(1e-9);
    expect(own.iterations).toBeLessThanOrEqual(byDifferences.iterations);
    expect(own.iterations).toBeLessThanOrEqual(6);
    for (let i = 0; i < n; i++) expect(Math.abs(own.x[i]! - byDifferences.x[i]!)).toBeLessThan(1e-8);
    expect([...start]).toEqual(new Array(n).fill(-1));
  });

  it('converges on arctan where whole Newton steps run away (start above 1.3917)', () => {
    const { x } = dampedNewton(
      ([a], out) => {
        out[0] = Math.atan(a!);
      },
      [3],
    );
    expect(Math.abs(x[0]!)).toBeLessThanOrEqual(1e-8);
  });

  it('keeps inside its bounds: the model is never asked beyond them', () => {
    const { x } = dampedNewton(
      ([a], out) => {
        if (!(a! > 0)) throw new OutOfRange('a', a!, 0, 10, '1');
        out[0] = Math.log(a!) + 6;
      },
      [5],
      { lower: [0], upper: [10] },
    );
    expect(x[0]).toBeCloseTo(Math.exp(-6), 10);
  });

  it('shortens a step into a place where the model throws or has no number', () => {
    for (const refuse of [
      (): number => {
        throw new OutOfRange('a', -1, 0, 10, '1');
      },
      (): number => Number.NaN,
    ]) {
      const { x } = dampedNewton(
        ([a], out) => {
          out[0] = a! > 0 ? Math.log(a!) + 6 : refuse();
        },
        [5],
      );
      expect(x[0]).toBeCloseTo(Math.exp(-6), 10);
    }
  });

  it('says so when there is no root, no start or nothing to step along', () => {
    const square = ([a]: Float64Array, out: Float64Array): void => {
      out[0] = a! * a! + 1;
    };
    expect(() => dampedNewton(square, [3])).toThrow(NoConvergence);
    expect(() =>
      dampedNewton(
        (_, out) => {
          out[0] = 1;
        },
        [3],
      ),
    ).toThrow(NoConvergence);
    expect(() => dampedNewton(square, [3], { lower: [3] })).toThrow(BadSample);
    expect(() =>
      dampedNewton(
        (_, out) => {
          out[0] = Number.NaN;
        },
        [3],
      ),
    ).toThrow(BadSample);
  });

  it('does not hide a mistake in the model', () => {
    let calls = 0;
    const broken = ([a]: Float64Array, out: Float64Array): void => {
      calls += 1;
      if (calls > 2) throw new TypeError('mistake');
      out[0] = a! - 1;
    };
    expect(() => dampedNewton(broken, [3])).toThrow(TypeError);
  });
});
