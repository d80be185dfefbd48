import { BadSample, NoConvergence } from '#libs/numeric/index.js';
import { cholesky, solveCholesky } from '../linear/cholesky.js';

/**
 * Maximum of a smooth log likelihood of a few parameters.
 *
 * Nelder and Mead's simplex finds the hill, Newton's method with differences of the function climbs to its top.
 *
 * start: finite, unconstrained parameters (take logarithms and logits before), 1 to 8 of them; step: size of the first simplex.
 * information: minus the matrix of second derivatives there, row-major. Accuracy: parameters to about 1e-7 of their standard error's scale.
 * Throws BadSample when the function is not finite at the start, NoConvergence when the simplex does not shrink (a likelihood that rises for ever).
 * Sources: Nelder and Mead (1965), Computer J. 7:308; differences after Dennis and Schnabel (1983), chapter 5.
 */
export interface Maximum {
  readonly at: readonly number[];
  readonly value: number;
  readonly information: readonly number[];
}

const SIMPLEX_ITERATIONS = 4000;
const NEWTON_ITERATIONS = 40;

export function maximize(f: (at: readonly number[]) => number, start: readonly number[], step = 0.3): Maximum {
  if (!Number.isFinite(f(start))) throw new BadSample('the log likelihood is not finite at its start');
  const cost = (at: readonly number[]) => {
    const value = f(at);
    return Number.isNaN(value) ? Number.POSITIVE_INFINITY : -value;
  };
  let at = simplex(cost, start, step);
  for (let i = 0; i < NEWTON_ITERATIONS; i++) {
    const next = newton(f, at);
    if (next === null) break;
    const moved = Math.max(...next.map((v, k) => Math.abs(v - at[k]!)));
    const gained = f(next) - f(at);
    at = next;
    // Differences of the function cannot see a hill flatter than its rounding.
    if (moved < 1e-9 || gained < 1e-13 * Math.abs(f(at))) break;
  }
  return Object.freeze({ at: Object.freeze([...at]), value: f(at), information: Object.freeze(information(f, at)) });
}

function simplex(cost: (at: readonly number[]) => number, start: readonly number[], step: number): readonly number[] {
  const n = start.length;
  let points = [start, ...start.map((_, k) => start.map((v, j) => (j === k ? v + step : v)))].map((at) => ({ at, value: cost(at) }));
  const mix = (a: readonly number[], b: readonly number[], t: number) => a.map((v, k) => v + t * (b[k]! - v));
  for (let i = 0; i < SIMPLEX_ITERATIONS; i++) {
    points.sort((a, b) => a.value - b.value);
    const best = points[0]!;
    const worst = points[n]!;
    const spread = Math.max(...best.at.map((v, k) => Math.abs(v - worst.at[k]!)));
    if (spread < 1e-2 && worst.value - best.value < 1e-9 * (1 + Math.abs(best.value))) return best.at;
    const centre = start.map((_, k) => points.slice(0, n).reduce((sum, p) => sum + p.at[k]!, 0) / n);
    const at = (t: number) => {
      const place = mix(centre, worst.at, t);
      return { at: place, value: cost(place) };
    };
    const reflected = at(-1);
    if (reflected.value < best.value) {
      const expanded = at(-2);
      points[n] = expanded.value < reflected.value ? expanded : reflected;
    } else if (reflected.value < points[n - 1]!.value) {
      points[n] = reflected;
    } else {
      const contracted = reflected.value < worst.value ? at(-0.5) : at(0.5);
      if (contracted.value < Math.min(reflected.value, worst.value)) points[n] = contracted;
      else
        points = points.map((p) => {
          const place = mix(best.at, p.at, 0.5);
          return { at: place, value: cost(place) };
        });
    }
  }
  throw new NoConvergence('simplex search of a likelihood', SIMPLEX_ITERATIONS, points[n]!.value - points[0]!.value);
}

// Cube and fourth root of the rounding error, for first and second differences.
const FIRST = 6e-6;
const SECOND = 1.2e-4;

function gradient(f: (at: readonly number[]) => number, at: readonly number[]): number[] {
  return at.map((v, k) => {
    const h = FIRST * Math.max(1, Math.abs(v));
    const move = (d: number) => f(at.map((u, j) => (j === k ? u + d : u)));
    return (move(h) - move(-h)) / (2 * h);
  });
}

function information(f: (at: readonly number[]) => number, at: readonly number[]): number[] {
  const n = at.length;
  const h = at.map((v) => SECOND * Math.max(1, Math.abs(v)));
  const move = (a: number, da: number, b: number, db: number) => f(at.map((u, j) => u + (j === a ? da : 0) + (j === b ? db : 0)));
  const here = f(at);
  const out = new Array<number>(n * n).fill(0);
  for (let a = 0; a < n; a++) {
    out[a * n + a] = -(move(a, h[a]!, a, 0) - 2 * here + move(a, -h[a]!, a, 0)) / (h[a]! * h[a]!);
    for (let b = 0; b < a; b++) {
      const [x, y] = [h[a]!, h[b]!];
      const mixed = move(a, x, b, y) - move(a, x, b, -y) - move(a, -x, b, y) + move(a, -x, b, -y);
      out[a * n + b] = -mixed / (4 * x * y);
      out[b * n + a] = out[a * n + b]!;
    }
  }
  return out;
}

/**
 * One step uphill, or null when none is found. Where the surface is not curved like a hill, or the step overshoots, the diagonal of the
 * information is raised (Levenberg 1944) until the step climbs.
 */
function newton(f: (at: readonly number[]) => number, at: readonly number[]): readonly number[] | null {
  const n = at.length;
  const curvature = information(f, at);
  const slope = gradient(f, at);
  const here = f(at);
  for (const raise of [0, 1e-3, 1e-2, 0.1, 1, 10, 100]) {
    const raised = curvature.map((v, i) => (i % (n + 1) === 0 ? v + raise * Math.max(Math.abs(v), 1e-6) : v));
    const step = attempt(raised, slope, n);
    if (step === null) continue;
    const next = at.map((v, k) => v + step[k]!);
    if (f(next) >= here) return next;
  }
  return null;
}

/** Null when the matrix is not positive definite. */
function attempt(matrix: readonly number[], slope: readonly number[], n: number): Float64Array | null {
  try {
    return solveCholesky(cholesky(matrix, n), slope, n);
  } catch (error) {
    if (error instanceof BadSample) return null;
    throw error;
  }
}
