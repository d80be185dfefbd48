import type { Model } from './model.js';
import type { CircuitState } from './state.js';
import { evaluateCircuit } from './system.js';

/** Closed to this: residuals are scaled to about 1 (20 kJ/kg, 20 g/s, a full vessel), so energy and mass close better than 1e-7. */
export const TOLERANCE = 1e-9;
export const ENTHALPY_UNIT = 20_000;
const DIFFERENCE = 1e-6;
/** Largest steps of u, h/ENTHALPY_UNIT and v in one iteration. */
const STEP_LIMIT = [0.6, 1, 0.3] as const;
const LOW = [-3, 0, -3.2] as const;
const HIGH = [4, 0, 1.6] as const;
const LINE_CUTS = 9;
const MAX_ITERATIONS = 40;

/** Unknowns of a solved circuit and its Jacobian there: where the next solve of a neighbouring problem starts. */
export interface SolverPoint {
  /** u, h1 in units of 20 kJ/kg, v. */
  readonly x: Float64Array;
  /** 3 x 3, row by row; all zero when not known. */
  readonly jacobian: Float64Array;
}

export interface SolverOutcome {
  readonly converged: boolean;
  readonly evaluations: number;
  readonly iterations: number;
  /** Largest scaled residual. */
  readonly residual: number;
}

/** Work space of the solver; one per thread is enough. */
export interface SolverSpace {
  readonly x: Float64Array;
  readonly jacobian: Float64Array;
  readonly F: Float64Array;
  readonly trial: Float64Array;
  readonly step: Float64Array;
  readonly matrix: Float64Array;
}

export function newSolverSpace(): SolverSpace {
  const of = (n: number): Float64Array => new Float64Array(n);
  return { x: of(3), jacobian: of(9), F: of(3), trial: of(3), step: of(3), matrix: of(9) };
}

let evaluations = 0;

function evaluate(m: Model, s: CircuitState, x: Float64Array): number {
  evaluations++;
  evaluateCircuit(m, s, x[0]!, x[1]! * ENTHALPY_UNIT, x[2]!);
  const F = s.F;
  const square = F[0]! * F[0]! + F[1]! * F[1]! + F[2]! * F[2]!;
  return Number.isFinite(square) ? square : Number.POSITIVE_INFINITY;
}

function largest(F: Float64Array): number {
  return Math.max(Math.abs(F[0]!), Math.abs(F[1]!), Math.abs(F[2]!));
}

function keepInside(m: Model, x: Float64Array): void {
  const t = m.fluid.tables;
  x[0] = Math.min(Math.max(x[0]!, LOW[0]), HIGH[0]);
  x[1] = Math.min(Math.max(x[1]!, (t.hMin + 5_000) / ENTHALPY_UNIT), (t.hMax - 1_000) / ENTHALPY_UNIT);
  x[2] = Math.min(Math.max(x[2]!, LOW[2]), HIGH[2]);
}

function differences(m: Model, s: CircuitState, w: SolverSpace): void {
  for (let j = 0; j < 3; j++) {
    w.trial.set(w.x);
    w.trial[j] = w.x[j]! + DIFFERENCE;
    evaluate(m, s, w.trial);
    for (let i = 0; i < 3; i++) w.jacobian[i * 3 + j] = (s.F[i]! - w.F[i]!) / DIFFERENCE;
  }
}

/** Solves jacobian step = -F by elimination with column pivoting; false when singular. */
function newtonStep(w: SolverSpace, damping: number): boolean {
  const a = w.matrix;
  const b = w.step;
  if (damping === 0) {
    a.set(w.jacobian);
    for (let i = 0; i < 3; i++) b[i] = -w.F[i]!;
  } else {
    // Levenberg-Marquardt: (J'J + damping diag) step = -J'F.
    const J = w.jacobian;
    for (let i = 0; i < 3; i++) {
      b[i] = 0;
      for (let k = 0; k < 3; k++) b[i] = b[i]! - J[k * 3 + i]! * w.F[k]!;
      for (let j = 0; j < 3; j++) {
        let sum = 0;
        for (let k = 0; k < 3; k++) sum += J[k * 3 + i]! * J[k * 3 + j]!;
        a[i * 3 + j] = sum;
      }
      a[i * 3 + i] = a[i * 3 + i]! * (1 + damping) + 1e-9;
    }
  }
  for (let c = 0; c < 3; c++) {
    let r = c;
    for (let i = c + 1; i < 3; i++) if (Math.abs(a[i * 3 + c]!) > Math.abs(a[r * 3 + c]!)) r = i;
    const pivot = a[r * 3 + c]!;
    if (!(Math.abs(pivot) > 1e-12)) return false;
    if (r !== c) {
      for (let j = 0; j < 3; j++) {
        const kept = a[c * 3 + j]!;
        a[c * 3 + j] = a[r * 3 + j]!;
        a[r * 3 + j] = kept;
      }
      const kept = b[c]!;
      b[c] = b[r]!;
      b[r] = kept;
    }
    for (let i = c + 1; i < 3; i++) {
      const f = a[i * 3 + c]! / pivot;
      for (let j = c; j < 3; j++) a[i * 3 + j] = a[i * 3 + j]! - f * a[c * 3 + j]!;
      b[i] = b[i]! - f * b[c]!;
    }
  }
  for (let i = 2; i >= 0; i--) {
    let sum = b[i]!;
    for (let j = i + 1; j < 3; j++) sum -= a[i * 3 + j]! * b[j]!;
    b[i] = sum / a[i * 3 + i]!;
  }
  return Number.isFinite(b[0]! + b[1]! + b[2]!);
}

/** Broyden's rank-one correction of the Jacobian from the step just taken: dF now in s.F - w.F. */
function broyden(s: CircuitState, w: SolverSpace, share: number): void {
  const norm = share * share * (w.step[0]! ** 2 + w.step[1]! ** 2 + w.step[2]! ** 2);
  if (!(norm > 0)) return;
  for (let i = 0; i < 3; i++) {
    let predicted = 0;
    for (let j = 0; j < 3; j++) predicted += w.jacobian[i * 3 + j]! * share * w.step[j]!;
    const miss = (s.F[i]! - w.F[i]! - predicted) / norm;
    for (let j = 0; j < 3; j++) w.jacobian[i * 3 + j] = w.jacobian[i * 3 + j]! + miss * share * w.step[j]!;
  }
}

/**
 * Three equations in three unknowns by Newton's method with Broyden updates between difference Jacobians, steps limited and cut until the residuals
 * fall; where no cut of the Newton step helps, Levenberg-Marquardt steps. Starts from w.x (and w.jacobian when `knownJacobian`).
 *
 * The unknowns stay in w.x, the states in s.
 * source   J. E. Dennis, R. B. Schnabel, Numerical Methods for Unconstrained Optimization and Nonlinear Equations (1983), chapters 6 and 8.
 */
export function newton(m: Model, s: CircuitState, w: SolverSpace, knownJacobian: boolean, maxIterations = MAX_ITERATIONS): SolverOutcome {
  evaluations = 0;
  keepInside(m, w.x);
  let square = evaluate(m, s, w.x);
  w.F.set(s.F);
  let fresh = false;
  let have = knownJacobian;
  for (let iteration = 0; iteration < maxIterations; iteration++) {
    if (largest(w.F) <= TOLERANCE) return finish(m, s, w, iteration);
    if (!have) {
      differences(m, s, w);
      have = true;
      fresh = true;
    }
    const taken = newtonStep(w, 0) ? advance(m, s, w, square) : 0;
    if (taken > 0) {
      const next = s.F[0]! ** 2 + s.F[1]! ** 2 + s.F[2]! ** 2;
      // Slow progress with an old Jacobian asks for a new one; a corrected one serves the fast phase.
      if (next > 0.04 * square) have = false;
      else broyden(s, w, taken);
      square = next;
      w.F.set(s.F);
      fresh = false;
      continue;
    }
    if (!fresh) {
      have = false;
      continue;
    }
    let helped = false;
    for (let damping = 1e-3; damping < 1e4 && !helped; damping *= 10) {
      if (!newtonStep(w, damping)) continue;
      if (advance(m, s, w, square, 3) > 0) helped = true;
    }
    if (!helped) break;
    square = s.F[0]! ** 2 + s.F[1]! ** 2 + s.F[2]! ** 2;
    w.F.set(s.F);
    have = false;
    fresh = false;
  }
  return finish(m, s, w, maxIterations);
}

/** Moves along w.step, cut until the residuals fall; returns the share taken, or 0. */
function advance(m: Model, s: CircuitState, w: SolverSpace, square: number, cuts: number = LINE_CUTS): number {
  let share = 1;
  for (let j = 0; j < 3; j++) {
    const size = Math.abs(w.step[j]!);
    if (size * share > STEP_LIMIT[j]!) share = STEP_LIMIT[j]! / size;
  }
  for (let cut = 0; cut < cuts; cut++) {
    for (let j = 0; j < 3; j++) w.trial[j] = w.x[j]! + share * w.step[j]!;
    keepInside(m, w.trial);
    const next = evaluate(m, s, w.trial);
    if (next < square * (1 - 1e-4 * share)) {
      for (let j = 0; j < 3; j++) w.step[j] = (w.trial[j]! - w.x[j]!) / share;
      w.x.set(w.trial);
      return share;
    }
    share *= cut < 2 ? 0.5 : 0.3;
  }
  return 0;
}

function finish(m: Model, s: CircuitState, w: SolverSpace, iterations: number): SolverOutcome {
  evaluate(m, s, w.x);
  const residual = largest(s.F);
  return { converged: residual <= TOLERANCE * 10, evaluations, iterations, residual };
}
