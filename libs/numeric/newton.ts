import { BadSample, NoConvergence, OutOfRange } from './errors.js';
import { solveLinear } from './linear.js';

export interface NewtonOptions {
  /** Done when every |residual| is at most this. Default 1e-9: residuals are expected to be scaled to about 1. */
  readonly tolerance?: number;
  readonly maxIterations?: number;
  /** Bounds of each unknown; a step goes at most 90 % of the way to a bound. */
  readonly lower?: ArrayLike<number>;
  readonly upper?: ArrayLike<number>;
  /** Size of each unknown, for difference steps and for maxStep. Default |x|, or 1 at 0. */
  readonly scale?: ArrayLike<number>;
  /** Largest step of an unknown, as a multiple of its size. Default none. */
  readonly maxStep?: number;
  /** Writes n x n entries d(residual i)/d(unknown j), row by row. Default: forward differences. */
  readonly jacobian?: (x: Float64Array, out: Float64Array) => void;
}

export interface NewtonResult {
  readonly x: Float64Array;
  readonly iterations: number;
  /** Largest |residual| at x. */
  readonly residual: number;
}

type Residuals = (x: Float64Array, out: Float64Array) => void;

/** Step of a forward difference relative to the unknown's size: the root of the machine precision balances cutting and rounding. */
const DIFFERENCE = 2 ** -26;

/**
 * A root of n equations in n unknowns by Newton's method, each step shortened until the sum of squared residuals falls (Armijo).
 *
 *   residuals(x, out)   writes n scaled residuals. Where the model has no answer it may throw one of this library's errors or write NaN: the
 *                       step is then shortened. Any other error passes through.
 *   start               n unknowns strictly inside their bounds, with finite residuals (BadSample otherwise)
 *
 * Converges quadratically near a root; it may stop in a local minimum of the residuals away from one. NoConvergence then, with the largest
 * residual: when no shortened step helps, when the Jacobian is singular, or after maxIterations (default 50).
 * source   J. E. Dennis, R. B. Schnabel, Numerical Methods for Unconstrained Optimization and Nonlinear Equations (1983), sections 6.3 and 6.5.
 */
export function dampedNewton(residuals: Residuals, start: ArrayLike<number>, options: NewtonOptions = {}): NewtonResult {
  const n = start.length;
  const { tolerance = 1e-9, maxIterations = 50, lower, upper, scale, maxStep = Number.POSITIVE_INFINITY } = options;
  const lowest = (j: number): number => lower?.[j] ?? Number.NEGATIVE_INFINITY;
  const highest = (j: number): number => upper?.[j] ?? Number.POSITIVE_INFINITY;
  let x = Float64Array.from(start);
  for (let j = 0; j < n; j++) {
    if (!(x[j]! > lowest(j) && x[j]! < highest(j))) throw new BadSample(`Newton start: unknown ${j} (${x[j]}) is not inside its bounds`);
  }
  let f = new Float64Array(n);
  residuals(x, f);
  let square = sumOfSquares(f);
  if (!Number.isFinite(square)) throw new BadSample('Newton start: residuals are not finite');
  let trial = new Float64Array(n);
  let fTrial = new Float64Array(n);
  const jacobian = new Float64Array(n * n);
  const step = new Float64Array(n);
  const size = (j: number): number => scale?.[j] ?? (Math.abs(x[j]!) || 1);

  for (let iteration = 0; ; iteration++) {
    const worst = largest(f);
    if (worst <= tolerance) return { x, iterations: iteration, residual: worst };
    if (iteration >= maxIterations) throw new NoConvergence('damped Newton', iteration, worst);
    if (options.jacobian) options.jacobian(x, jacobian);
    else differences(residuals, x, f, size, highest, fTrial, jacobian);
    for (let i = 0; i < n; i++) step[i] = -f[i]!;
    if (!solvable(jacobian, step, n)) throw new NoConvergence('damped Newton (singular Jacobian)', iteration, worst);
    let share = 1;
    for (let j = 0; j < n; j++) {
      if (step[j] === 0) continue;
      const room = step[j]! > 0 ? highest(j) - x[j]! : x[j]! - lowest(j);
      share = Math.min(share, Math.min(0.9 * room, maxStep * size(j)) / Math.abs(step[j]!));
    }
    let accepted = false;
    for (let cut = 0; cut < 40 && !accepted; cut++) {
      for (let j = 0; j < n; j++) trial[j] = x[j]! + share * step[j]!;
      const next = answers(residuals, trial, fTrial) ? sumOfSquares(fTrial) : Number.NaN;
      // Along the Newton step the sum of squares begins to fall at the rate 2 * share * square.
      if (next <= square * (1 - 2e-4 * share)) {
        [x, trial] = [trial, x];
        [f, fTrial] = [fTrial, f];
        square = next;
        accepted = true;
      } else share *= Number.isFinite(next) ? parabola(square, next, share) : 0.25;
    }
    if (!accepted) throw new NoConvergence('damped Newton', iteration, worst);
  }
}

/** By how much to shorten a step: to the minimum of the parabola through the two sums of squares and the slope, within a tenth and a half. */
function parabola(square: number, next: number, share: number): number {
  const minimum = (share * square) / (next + (2 * share - 1) * square);
  return Math.max(0.1, Math.min(0.5, minimum));
}

function sumOfSquares(f: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < f.length; i++) sum += f[i]! * f[i]!;
  return sum;
}

function largest(f: Float64Array): number {
  let worst = 0;
  for (let i = 0; i < f.length; i++) worst = Math.max(worst, Math.abs(f[i]!));
  return worst;
}

function solvable(a: Float64Array, b: Float64Array, n: number): boolean {
  try {
    solveLinear(a, b, n);
    return true;
  } catch (error) {
    if (error instanceof BadSample) return false;
    throw error;
  }
}

/** Whether the model answers at x. One that leaves its range there is what shortening the step is for. */
function answers(residuals: Residuals, x: Float64Array, out: Float64Array): boolean {
  try {
    residuals(x, out);
    return true;
  } catch (error) {
    if (error instanceof OutOfRange || error instanceof NoConvergence || error instanceof BadSample) return false;
    throw error;
  }
}

/** Forward differences; backward where forward would cross the upper bound or the model's range ends. */
function differences(
  residuals: Residuals,
  x: Float64Array,
  f: Float64Array,
  size: (j: number) => number,
  highest: (j: number) => number,
  scratch: Float64Array,
  out: Float64Array,
): void {
  const n = x.length;
  for (let j = 0; j < n; j++) {
    const kept = x[j]!;
    const width = DIFFERENCE * size(j);
    x[j] = kept + width;
    if (!(x[j]! < highest(j)) || !answers(residuals, x, scratch)) {
      x[j] = kept - width;
      residuals(x, scratch);
    }
    const h = x[j]! - kept;
    for (let i = 0; i < n; i++) out[i * n + j] = (scratch[i]! - f[i]!) / h;
    x[j] = kept;
  }
}
