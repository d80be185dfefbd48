import { BadSample, NoConvergence } from './errors.js';

export interface RootOptions {
  /** Absolute tolerance on x. Default 0: until the bracket cannot shrink any more. */
  readonly xTolerance?: number;
  /** Stop when |f| is at most this. Default 0. */
  readonly fTolerance?: number;
  readonly maxIterations?: number;
}

/**
 * A root of f in [a, b] by Brent's method: inverse quadratic interpolation and secant steps inside a bracket, bisection when they stall.
 *
 * f(a) and f(b) must differ in sign (or one be 0): BadSample otherwise. NoConvergence after maxIterations (default 100).
 * source   R. P. Brent, Algorithms for Minimization without Derivatives (1973), ch. 4.
 */
export function brent(f: (x: number) => number, a: number, b: number, options: RootOptions = {}): number {
  const { xTolerance = 0, fTolerance = 0, maxIterations = 100 } = options;
  let xa = a;
  let xb = b;
  let fa = f(xa);
  let fb = f(xb);
  if (fa === 0) return xa;
  if (fb === 0) return xb;
  if (!(fa * fb < 0)) throw new BadSample(`no sign change between ${a} (${fa}) and ${b} (${fb})`);
  let xc = xa;
  let fc = fa;
  let step = xb - xa;
  let before = step;
  for (let i = 0; i < maxIterations; i++) {
    if (fb * fc > 0) {
      xc = xa;
      fc = fa;
      step = xb - xa;
      before = step;
    }
    if (Math.abs(fc) < Math.abs(fb)) {
      xa = xb;
      xb = xc;
      xc = xa;
      fa = fb;
      fb = fc;
      fc = fa;
    }
    const tolerance = 2 * Number.EPSILON * Math.abs(xb) + 0.5 * xTolerance;
    const half = 0.5 * (xc - xb);
    if (Math.abs(half) <= tolerance || Math.abs(fb) <= fTolerance) return xb;
    if (Math.abs(before) < tolerance || Math.abs(fa) <= Math.abs(fb)) {
      step = half;
      before = half;
    } else {
      const s = fb / fa;
      let p: number;
      let q: number;
      if (xa === xc) {
        p = 2 * half * s;
        q = 1 - s;
      } else {
        const r1 = fa / fc;
        const r2 = fb / fc;
        p = s * (2 * half * r1 * (r1 - r2) - (xb - xa) * (r2 - 1));
        q = (r1 - 1) * (r2 - 1) * (s - 1);
      }
      if (p > 0) q = -q;
      else p = -p;
      if (2 * p < 3 * half * q - Math.abs(tolerance * q) && p < Math.abs(0.5 * before * q)) {
        before = step;
        step = p / q;
      } else {
        step = half;
        before = half;
      }
    }
    xa = xb;
    fa = fb;
    xb += Math.abs(step) > tolerance ? step : Math.sign(half) * tolerance;
    fb = f(xb);
  }
  throw new NoConvergence('Brent root', maxIterations, Math.abs(fb));
}

/**
 * A root of an increasing or decreasing f in [lo, hi] by Newton steps from x0; a step that leaves the shrinking bracket becomes a bisection.
 *
 * evaluate(x)  writes f and its derivative to out[0], out[1].
 * f(lo) and f(hi) must differ in sign; `increasing` tells which, so that the ends need not be evaluated.
 * Stops when a Newton step is below xTolerance times |x| (default 1e-14; for a root near 0, times 1e-12 of the bracket), or when steps that small
 * no longer shrink because of rounding. NoConvergence after maxIterations.
 */
export function safeguardedNewton(
  evaluate: (x: number, out: Float64Array) => void,
  x0: number,
  lo: number,
  hi: number,
  increasing: boolean,
  xTolerance = 1e-14,
  maxIterations = 80,
): number {
  const out = new Float64Array(2);
  const floor = 1e-12 * Math.abs(hi - lo);
  let low = lo;
  let high = hi;
  let x = x0;
  let previous = Number.POSITIVE_INFINITY;
  for (let i = 0; i < maxIterations; i++) {
    evaluate(x, out);
    const value = out[0]!;
    if (value === 0) return x;
    if (value > 0 === increasing) high = x;
    else low = x;
    const newton = x - value / out[1]!;
    const size = Math.max(Math.abs(x), floor);
    const step = Math.abs(newton - x);
    // Before the bracket is asked: at the root it may have shrunk so far that rounding puts the last step on its edge.
    if (step <= xTolerance * size || (step <= 1e-9 * size && step >= previous)) return Math.min(high, Math.max(low, newton));
    const inside = newton > low && newton < high;
    const next = inside ? newton : 0.5 * (low + high);
    if (next === x) return x;
    previous = inside ? step : Number.POSITIVE_INFINITY;
    x = next;
  }
  throw new NoConvergence('safeguarded Newton', maxIterations, Math.abs(out[0]!));
}
