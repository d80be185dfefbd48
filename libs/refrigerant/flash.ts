import { OutOfRange, safeguardedNewton } from '#libs/numeric/index.js';
import type { Fluid } from './fluids.js';
import { type Equilibrium, equilibriumAtP, equilibriumAtT, guessPressure, saturationTMax } from './saturation.js';
import { type State, stateAtTRho } from './state.js';

/**
 * Range in which a flash may look. The equation's own limits by default; a caller who extrapolates says so by giving wider ones. Helmholtz
 * equations extrapolate smoothly in hot gas, where the ideal part rules (the tests hold cv > 0 and dp/drho > 0 up to 480 K).
 */
export interface FlashLimits {
  readonly TMin: number;
  readonly TMax: number;
  readonly pMax: number;
}

type Side = 'liquid' | 'vapour' | 'any';

function checkPressure(p: number, limits: FlashLimits): void {
  if (!(p > 0 && p <= limits.pMax)) throw new OutOfRange('pressure', p, 0, limits.pMax, 'Pa');
}

/**
 * Density at (T, p) on a side of the dome whose boundary density is known, by Newton inside a bracket that cannot cross the dome.
 * Inside the dome these equations have spurious loops, so that a search over all densities may end on a false root.
 */
export function densityOnSide(fluid: Fluid, T: number, p: number, side: Side, boundary: number): number {
  const { eos, record } = fluid;
  const RT = eos.R * T;
  const evaluate = (rho: number, out: Float64Array): void => {
    eos.density(T, rho);
    out[0] = rho * RT * (1 + eos.ard) - p;
    out[1] = RT * (1 + 2 * eos.ard + eos.ardd);
  };
  // The densest liquid of all three fluids is about 3.2 times the critical density; 4 leaves room for 100 MPa.
  const ceiling = 4 * record.critical.rho;
  if (side === 'vapour') {
    const ideal = p / RT;
    return safeguardedNewton(evaluate, Math.min(ideal, 0.999 * boundary), 0, boundary * (1 + 1e-9), true);
  }
  if (side === 'liquid') {
    eos.density(T, boundary);
    const start = boundary + (p - boundary * RT * (1 + eos.ard)) / (RT * (1 + 2 * eos.ard + eos.ardd));
    return safeguardedNewton(evaluate, Math.min(start, 0.9 * ceiling), boundary * (1 - 1e-9), ceiling, true);
  }
  return safeguardedNewton(evaluate, Math.min(p / RT, record.critical.rho), 0, ceiling, true);
}

/** Density of the stable single phase at (T, p), kg/m3. Phase from an exact vapour pressure, except far from it. */
function densityAtTP(fluid: Fluid, T: number, p: number): number {
  if (T > saturationTMax(fluid)) return densityOnSide(fluid, T, p, 'any', 0);
  const rough = guessPressure(fluid, T);
  const one = equilibriumAtT(fluid, T);
  const pSat = Math.abs(p / rough - 1) > 1e-3 ? rough : one.p;
  return p > pSat ? densityOnSide(fluid, T, p, 'liquid', one.rhoL) : densityOnSide(fluid, T, p, 'vapour', one.rhoV);
}

/**
 * Single-phase state at (T, p). At exactly the saturation pressure it is the vapour.
 * T K, p Pa within the equation's limits, else OutOfRange. Accuracy: p of the result agrees to 1e-12 relative (vapour) or 1e-12 times the
 * liquid's stiffness.
 */
export function stateAtTP(fluid: Fluid, T: number, p: number, limits: FlashLimits = fluid.record.equation): State {
  if (!(T >= limits.TMin && T <= limits.TMax)) throw new OutOfRange('temperature', T, limits.TMin, limits.TMax, 'K');
  checkPressure(p, limits);
  return { ...stateAtTRho(fluid, T, densityAtTP(fluid, T, p)), p };
}

/** The second known property of a flash beside p: its value per state, and how it changes. */
type Second = 'h' | 's';

function secondAt(state: State, second: Second): number {
  return second === 'h' ? state.h : state.s;
}

/** d(second)/dT at constant p: cp for h, cp/T for s. */
function slopeAt(state: State, second: Second): number {
  return second === 'h' ? state.cp : state.cp / state.T;
}

/**
 * Newton on (T, ln rho) for p(T, rho) = p and h or s (T, rho) = target. Returns null instead of a doubtful answer: not converged, or outside the
 * box T in (TLo, THi), rho in (rhoLo, rhoHi), which holds one stable phase.
 */
export function newtonPX(
  fluid: Fluid,
  p: number,
  target: number,
  second: Second,
  start: { readonly T: number; readonly rho: number },
  box: { readonly TLo: number; readonly THi: number; readonly rhoLo: number; readonly rhoHi: number },
): State | null {
  const { eos } = fluid;
  const { R } = eos;
  let { T, rho } = start;
  const scale = second === 'h' ? R * T : R;
  for (let i = 0; i < 25; i++) {
    eos.all(T, rho);
    const RT = R * T;
    const Z = 1 + eos.ard;
    const expansion = 1 + eos.ard - eos.ardt;
    const stiffness = 1 + 2 * eos.ard + eos.ardd;
    const cv = -R * (eos.a0tt + eos.artt);
    const f1 = rho * RT * Z - p;
    const value = second === 'h' ? RT * (eos.a0t + eos.art + Z) : R * (eos.a0t + eos.art - eos.a0 - eos.ar);
    const f2 = value - target;
    const pT = rho * R * expansion;
    const pL = rho * RT * stiffness;
    const xT = second === 'h' ? cv + R * expansion : cv / T;
    const xL = second === 'h' ? RT * (eos.ardt + eos.ard + eos.ardd) : -R * expansion;
    const det = pT * xL - pL * xT;
    const dT = (pL * f2 - xL * f1) / det;
    const dL = (xT * f1 - pT * f2) / det;
    if (!Number.isFinite(dT) || !Number.isFinite(dL) || !(stiffness > 0)) return null;
    const share = Math.min(1, (0.15 * T) / Math.abs(dT), 0.5 / Math.abs(dL));
    T += share * dT;
    rho *= Math.exp(share * dL);
    if (Math.abs(dT) < 1e-13 * T && Math.abs(dL) < 1e-13) break;
    // A cold liquid's pressure is a small difference: rounding holds ln rho at about 1e-14, and the residual of the second property decides.
    if (share === 1 && Math.abs(dT) < 1e-11 * T && Math.abs(dL) < 1e-11 && Math.abs(f2) < 1e-11 * scale) break;
    if (i === 24) return null;
  }
  if (!(T > box.TLo && T < box.THi && rho > box.rhoLo && rho < box.rhoHi)) return null;
  return { ...stateAtTRho(fluid, T, rho), p };
}

/** The slow and sure way: density inside, temperature outside, both bracketed on one side of the dome. */
function nestedPX(fluid: Fluid, p: number, target: number, second: Second, side: Side, TLo: number, THi: number, T0: number): State {
  const TSatMax = saturationTMax(fluid);
  const stateAt = (T: number): State => {
    let rho: number;
    if (side === 'any' || T > TSatMax) rho = densityOnSide(fluid, T, p, 'any', 0);
    else {
      const one = equilibriumAtT(fluid, T);
      rho = densityOnSide(fluid, T, p, side, side === 'liquid' ? one.rhoL : one.rhoV);
    }
    return { ...stateAtTRho(fluid, T, rho), p };
  };
  const T = safeguardedNewton(
    (x, out) => {
      const state = stateAt(x);
      out[0] = secondAt(state, second) - target;
      out[1] = slopeAt(state, second);
    },
    T0,
    TLo,
    THi,
    true,
  );
  return stateAt(T);
}

/** Linear blend of the two phases at one pressure. */
function mixture(fluid: Fluid, one: Equilibrium, p: number, quality: number): State {
  const liquid = stateAtTRho(fluid, one.T, one.rhoL);
  const vapour = stateAtTRho(fluid, one.T, one.rhoV);
  const blend = (a: number, b: number): number => a + quality * (b - a);
  const h = blend(liquid.h, vapour.h);
  const s = blend(liquid.s, vapour.s);
  return {
    T: one.T,
    p,
    rho: 1 / blend(1 / one.rhoL, 1 / one.rhoV),
    h,
    s,
    u: blend(liquid.u, vapour.u),
    g: h - one.T * s,
    cp: Number.NaN,
    cv: Number.NaN,
    w: Number.NaN,
    quality,
  };
}

/** Flash at p and h or s. */
function stateAtPX(fluid: Fluid, p: number, target: number, second: Second, limits: FlashLimits): State {
  checkPressure(p, limits);
  const { record } = fluid;
  const rhoMax = 4 * record.critical.rho;
  const outside = (value: number, atLow: State, atHigh: State): OutOfRange =>
    new OutOfRange(
      second === 'h' ? 'specific enthalpy' : 'specific entropy',
      value,
      secondAt(atLow, second),
      secondAt(atHigh, second),
      second === 'h' ? 'J/kg' : 'J/(kg K)',
    );
  const ends = (): [State, State] => {
    const at = (T: number): State => stateAtTRho(fluid, T, densityAtTP(fluid, T, p));
    return [at(limits.TMin), at(limits.TMax)];
  };

  if (p < guessPressure(fluid, saturationTMax(fluid))) {
    if (p <= guessPressure(fluid, limits.TMin)) return gasBelowTriple(fluid, p, target, second, limits, outside);
    const one = equilibriumAtP(fluid, p);
    const liquid = stateAtTRho(fluid, one.T, one.rhoL);
    const vapour = stateAtTRho(fluid, one.T, one.rhoV);
    const xL = secondAt(liquid, second);
    const xV = secondAt(vapour, second);
    if (target >= xL && target <= xV) return mixture(fluid, one, p, (target - xL) / (xV - xL));
    const side: Side = target < xL ? 'liquid' : 'vapour';
    const edge = side === 'liquid' ? liquid : vapour;
    const T0 = Math.min(limits.TMax, Math.max(limits.TMin, one.T + (target - secondAt(edge, second)) / slopeAt(edge, second)));
    const start = { T: T0, rho: side === 'liquid' ? one.rhoL : (one.rhoV * one.T) / T0 };
    const box =
      side === 'liquid'
        ? { TLo: limits.TMin, THi: one.T * (1 + 1e-12), rhoLo: one.rhoL * (1 - 1e-9), rhoHi: rhoMax }
        : { TLo: one.T * (1 - 1e-12), THi: limits.TMax, rhoLo: 0, rhoHi: one.rhoV * (1 + 1e-9) };
    const quick = newtonPX(fluid, p, target, second, start, box);
    if (quick) return quick;
    const [low, high] = ends();
    if (target < secondAt(low, second) || target > secondAt(high, second)) throw outside(target, low, high);
    return side === 'liquid'
      ? nestedPX(fluid, p, target, second, side, limits.TMin, one.T, T0)
      : nestedPX(fluid, p, target, second, side, one.T, limits.TMax, T0);
  }
  const [low, high] = ends();
  if (!(target >= secondAt(low, second) && target <= secondAt(high, second))) throw outside(target, low, high);
  const T0 = Math.min(limits.TMax, record.critical.T * 1.02);
  return nestedSupercritical(fluid, p, target, second, limits, T0);
}

/** Below the lowest saturation pressure there is only gas. */
function gasBelowTriple(
  fluid: Fluid,
  p: number,
  target: number,
  second: Second,
  limits: FlashLimits,
  outside: (value: number, low: State, high: State) => OutOfRange,
): State {
  const at = (T: number): State => stateAtTRho(fluid, T, densityOnSide(fluid, T, p, 'vapour', p / (fluid.eos.R * T) / 0.9));
  const low = at(limits.TMin);
  const high = at(limits.TMax);
  if (!(target >= secondAt(low, second) && target <= secondAt(high, second))) throw outside(target, low, high);
  const T = safeguardedNewton(
    (x, out) => {
      const state = at(x);
      out[0] = secondAt(state, second) - target;
      out[1] = slopeAt(state, second);
    },
    0.5 * (limits.TMin + limits.TMax),
    limits.TMin,
    limits.TMax,
    true,
  );
  return { ...at(T), p };
}

/** Above the critical pressure a colder fluid is on the liquid side below the critical temperature, and on neither above it. */
function nestedSupercritical(fluid: Fluid, p: number, target: number, second: Second, limits: FlashLimits, T0: number): State {
  const TSatMax = saturationTMax(fluid);
  const at = (T: number): State => ({ ...stateAtTRho(fluid, T, densityAtTP(fluid, T, p)), p });
  if (target < secondAt(at(TSatMax), second)) return nestedPX(fluid, p, target, second, 'liquid', limits.TMin, TSatMax, 0.9 * TSatMax);
  return nestedPX(fluid, p, target, second, 'any', TSatMax, limits.TMax, T0);
}

/**
 * State at (p, h): subcooled liquid, two-phase mixture (with its quality) or vapour.
 * p Pa, h J/kg; OutOfRange when no state between the equation's temperature limits has them; NoConvergence is not expected and not caught.
 * Accuracy: returns to p and h within 1e-10 relative of R T.
 */
export function stateAtPH(fluid: Fluid, p: number, h: number, limits: FlashLimits = fluid.record.equation): State {
  return stateAtPX(fluid, p, h, 'h', limits);
}

/** State at (p, s), s in J/(kg K): the end point of an isentropic compression. As stateAtPH. */
export function stateAtPS(fluid: Fluid, p: number, s: number, limits: FlashLimits = fluid.record.equation): State {
  return stateAtPX(fluid, p, s, 's', limits);
}
