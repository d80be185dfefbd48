import { BadSample, NoConvergence } from './errors.js';
import { solveLinear } from './linear.js';

export interface NewtonSystemOptions {
  /** Lower and upper bound of every unknown: a step goes at most nine tenths of the way to a wall. */
  readonly lower?: ArrayLike<number>;
  readonly upper?: ArrayLike<number>;
  /** Done when the largest |residual| is at most this (default 1e-9): scale residuals so that 1 is "as large as the quantity". */
  readonly tolerance?: number;
  readonly maxIterations?: number;
  /** Relative step of the forward differences (default 1e-6). */
  readonly difference?: number;
}

export interface NewtonSystemResult {
  readonly x: Float64Array;
  /** Largest |residual| at x. */
  readonly residual: number;
  readonly iterations: number;
}

/** Largest magnitude; infinite when one is not finite. */
function largest(values: Float64Array): number {
  let max = 0;
  for (const value of values) {
    if (!Number.isFinite(value)) return Number.POSITIVE_INFINITY;
    max = Math.max(max, Math.abs(value));
  }
  return max;
}

/** Sum of squares; infinite when one is not finite. */
function squares(values: Float64Array): number {
  let sum = 0;
  for (const value of values) sum += value * value;
  return Number.isFinite(sum) ? sum : Number.POSITIVE_INFINITY;
}

/**
 * Damped Newton for a small system f(x) = 0 with forward-difference Jacobian: each step is halved until the sum of squares falls
 * (Armijo, 1e-4), so that a poor start does not fly away.
 *
 * f(x, out)   writes n residuals; residuals that are not finite count as "worse" and shorten the step
 * x0          length n, inside the bounds
 * NoConvergence with the last residual when no shortened step improves or maxIterations (default 40) are used up; BadSample for a start that
 * cannot be evaluated or a singular Jacobian.
 * source      J. Nocedal, S. J. Wright, Numerical Optimization (2nd ed. 2006), section 11.2.
 */
export function newtonSystem(
  f: (x: Float64Array, out: Float64Array) => void,
  x0: ArrayLike<number>,
  options: NewtonSystemOptions = {},
): NewtonSystemResult {
  const { lower, upper, tolerance = 1e-9, maxIterations = 40, difference = 1e-6 } = options;
  const n = x0.length;
  let x = Float64Array.from(x0);
  let residuals = new Float64Array(n);
  const shifted = new Float64Array(n);
  const jacobian = new Float64Array(n * n);
  f(x, residuals);
  let size = largest(residuals);
  if (size === Number.POSITIVE_INFINITY) throw new BadSample('the start of a Newton system has residuals that are not finite');
  for (let iteration = 0; iteration < maxIterations; iteration++) {
    if (size <= tolerance) return { x, residual: size, iterations: iteration };
    for (let j = 0; j < n; j++) {
      const kept = x[j]!;
      let delta = difference * Math.max(Math.abs(kept), 1e-3);
      if (upper && kept + delta > upper[j]!) delta = -delta;
      x[j] = kept + delta;
      f(x, shifted);
      x[j] = kept;
      for (let i = 0; i < n; i++) jacobian[i * n + j] = (shifted[i]! - residuals[i]!) / delta;
    }
    const step = solveLinear(
      jacobian,
      residuals.map((value) => -value),
    );
    let share = 1;
    for (let j = 0; j < n; j++) {
      const wall = step[j]! > 0 ? upper?.[j] : lower?.[j];
      if (wall !== undefined && step[j] !== 0) share = Math.min(share, Math.max(0, (0.9 * (wall - x[j]!)) / step[j]!));
    }
    const before = squares(residuals);
    let accepted = false;
    for (let half = 0; half < 30 && share > 0 && !accepted; half++) {
      const trial = x.map((value, j) => value + share * step[j]!);
      const trialResiduals = new Float64Array(n);
      f(trial, trialResiduals);
      if (squares(trialResiduals) <= (1 - 1e-4 * share) * before) {
        x = trial;
        residuals = trialResiduals;
        accepted = true;
      }
      share *= 0.5;
    }
    if (!accepted) throw new NoConvergence('damped Newton', iteration + 1, size);
    size = largest(residuals);
  }
  if (size <= tolerance) return { x, residual: size, iterations: maxIterations };
  throw new NoConvergence('damped Newton', maxIterations, size);
}
