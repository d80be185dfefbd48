import { clenshaw, NoConvergence, OutOfRange } from '#libs/numeric/index.js';
import type { Fluid } from './fluids.js';
import { type State, stateAtTRho } from './state.js';

/** Liquid and vapour in equilibrium. SI. */
export interface Saturation {
  readonly T: number;
  readonly p: number;
  readonly rhoL: number;
  readonly rhoV: number;
  readonly hL: number;
  readonly hV: number;
  readonly sL: number;
  readonly sV: number;
  /** Every property of the two phases. */
  readonly liquid: State;
  readonly vapour: State;
}

/** Nearer than this to the critical temperature the two densities cannot be told apart well enough in double precision, K. */
export const CRITICAL_MARGIN = 0.009;

/** Temperature, pressure and the two densities at equilibrium: what the solver finds. */
export interface Equilibrium {
  readonly T: number;
  readonly p: number;
  readonly rhoL: number;
  readonly rhoV: number;
}

/** Highest temperature of saturationAtT. */
export function saturationTMax(fluid: Fluid): number {
  return fluid.record.critical.T - CRITICAL_MARGIN;
}

function guessArgument(fluid: Fluid, T: number): number {
  const { critical, equation } = fluid.record;
  return 2 * Math.sqrt((1 - T / critical.T) / (1 - equation.TMin / critical.T)) - 1;
}

/** Approximate saturation pressure, Pa: within 2e-6 relative; a starting point only. */
export function guessPressure(fluid: Fluid, T: number): number {
  const { critical, guess } = fluid.record;
  return critical.p * Math.exp(clenshaw(guess.lnPressure, guessArgument(fluid, T)));
}

/**
 * Equilibrium at T: equal pressure and equal Gibbs energy of the two densities, by Newton from the fitted starting densities.
 *
 *   J(delta) = delta (1 + ard),  K(delta) = ard + ar + ln(delta);   J(L) = J(V),  K(L) = K(V)
 *
 * Accuracy: p, rhoL, rhoV 1e-12 relative away from the critical point, 1e-9 at 0.01 K below it. Vapour pressure is taken from the vapour side:
 * a cold liquid's pressure is a small difference of large terms.
 * source   R. Akasaka, A reliable and useful method to determine the saturation state from Helmholtz energy equations of state, J. Thermal
 *          Sci. Technol. 3 (2008) 442-451 (variables and Jacobian); starting values are our own fits.
 */
export function equilibriumAtT(fluid: Fluid, T: number): Equilibrium {
  const { eos, record } = fluid;
  const TMax = saturationTMax(fluid);
  if (!(T >= record.equation.TMin && T <= TMax)) throw new OutOfRange('saturation temperature', T, record.equation.TMin, TMax, 'K');
  const argument = guessArgument(fluid, T);
  const scale = record.critical.rho / eos.rhoReducing;
  let dL = scale * clenshaw(record.guess.liquid, argument);
  let dV = scale * Math.exp(clenshaw(record.guess.lnVapour, argument));
  let last = Number.POSITIVE_INFINITY;
  for (let i = 0; i < 40; i++) {
    eos.density(T, dL * eos.rhoReducing);
    const JL = dL * (1 + eos.ard);
    const KL = eos.ard + eos.ar + Math.log(dL);
    const JLd = 1 + 2 * eos.ard + eos.ardd;
    eos.density(T, dV * eos.rhoReducing);
    const JV = dV * (1 + eos.ard);
    const KV = eos.ard + eos.ar + Math.log(dV);
    const JVd = 1 + 2 * eos.ard + eos.ardd;
    const F = JV - JL;
    const G = KV - KL;
    // KL' = JL'/dL, KV' = JV'/dV; the determinant vanishes only at the spinodal.
    const det = JLd * JVd * (1 / dL - 1 / dV);
    const stepL = (JVd * G - (F * JVd) / dV) / det;
    const stepV = (JLd * G - (F * JLd) / dL) / det;
    let share = 1;
    while (dV + share * stepV <= 0 || dL + share * stepL <= dV + share * stepV) share *= 0.5;
    dL += share * stepL;
    dV += share * stepV;
    const change = Math.max(Math.abs(stepL / dL), Math.abs(stepV / dV));
    if (change < 1e-13 || (change < 1e-7 && change >= last)) {
      const rhoV = dV * eos.rhoReducing;
      eos.density(T, rhoV);
      return { T, p: rhoV * eos.R * T * (1 + eos.ard), rhoL: dL * eos.rhoReducing, rhoV };
    }
    last = change;
  }
  throw new NoConvergence('saturation', 40, last);
}

/**
 * Equilibrium at p: Newton on ln p against 1/T with the slope of Clausius-Clapeyron, d(ln p)/d(1/T) = -T dh/(p dv), around exact equilibria.
 * p from the vapour pressure at the lowest temperature of the equation to that at CRITICAL_MARGIN below the critical temperature.
 */
export function equilibriumAtP(fluid: Fluid, p: number): Equilibrium {
  const { record } = fluid;
  const TMin = record.equation.TMin;
  const TMax = saturationTMax(fluid);
  const pMin = guessPressure(fluid, TMin);
  const pMax = guessPressure(fluid, TMax);
  if (!(p >= pMin * (1 - 1e-7) && p <= pMax * (1 + 1e-9))) throw new OutOfRange('saturation pressure', p, pMin, pMax, 'Pa');
  let T = guessTemperature(fluid, p);
  let last = Number.POSITIVE_INFINITY;
  for (let i = 0; i < 12; i++) {
    const one = equilibriumAtT(fluid, T);
    const slope = clapeyron(fluid, one);
    const step = (p - one.p) / slope;
    const change = Math.abs(step) / T;
    if (change < 1e-15 || (change < 1e-11 && change >= last)) return { ...one, p };
    T = Math.min(TMax, Math.max(TMin, 1 / (1 / T + (Math.log(p / one.p) * one.p) / (-T * T * slope))));
    last = change;
  }
  if (last < 1e-12) return { ...equilibriumAtT(fluid, T), p };
  throw new NoConvergence('saturation temperature', 12, last);
}

/** dp/dT along saturation, Pa/K: (sV - sL)/(vV - vL). */
function clapeyron(fluid: Fluid, one: Equilibrium): number {
  const { eos } = fluid;
  eos.all(one.T, one.rhoL);
  const sL = eos.a0t + eos.art - eos.a0 - eos.ar;
  eos.all(one.T, one.rhoV);
  const sV = eos.a0t + eos.art - eos.a0 - eos.ar;
  return (eos.R * (sV - sL)) / (1 / one.rhoV - 1 / one.rhoL);
}

/** Temperature at which the fitted vapour pressure is p: secant in 1/T, which the curve of ln p hardly bends. */
function guessTemperature(fluid: Fluid, p: number): number {
  const target = Math.log(p);
  const TMin = fluid.record.equation.TMin;
  const TMax = saturationTMax(fluid);
  let lo = 1 / TMax;
  let hi = 1 / TMin;
  let flo = Math.log(guessPressure(fluid, TMax)) - target;
  let fhi = Math.log(guessPressure(fluid, TMin)) - target;
  if (flo <= 0) return TMax;
  if (fhi >= 0) return TMin;
  let x = lo;
  for (let i = 0; i < 60; i++) {
    x = lo + ((hi - lo) * flo) / (flo - fhi);
    const f = Math.log(guessPressure(fluid, 1 / x)) - target;
    if (Math.abs(f) < 1e-10) break;
    // Illinois variant of regula falsi: halving the stale end keeps the convergence faster than linear.
    if (f > 0) {
      lo = x;
      flo = f;
      fhi *= 0.5;
    } else {
      hi = x;
      fhi = f;
      flo *= 0.5;
    }
  }
  return 1 / x;
}

function saturationOf(fluid: Fluid, one: Equilibrium): Saturation {
  const liquid = stateAtTRho(fluid, one.T, one.rhoL);
  const vapour = stateAtTRho(fluid, one.T, one.rhoV);
  return {
    ...one,
    hL: liquid.h,
    hV: vapour.h,
    sL: liquid.s,
    sV: vapour.s,
    liquid: { ...liquid, p: one.p },
    vapour: { ...vapour, p: one.p },
  };
}

/** Saturation at T (K), from the lowest temperature of the equation to CRITICAL_MARGIN below the critical one; OutOfRange beyond. */
export function saturationAtT(fluid: Fluid, T: number): Saturation {
  return saturationOf(fluid, equilibriumAtT(fluid, T));
}

/** Saturation at p (Pa); OutOfRange where there is none. */
export function saturationAtP(fluid: Fluid, p: number): Saturation {
  return saturationOf(fluid, equilibriumAtP(fluid, p));
}
