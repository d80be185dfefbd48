import {
  bicubicPatches,
  differentiateChebyshev,
  evaluateChebyshev,
  fitChebyshev,
  hermiteCubic,
  NoConvergence,
} from '#libs/numeric/index.js';
import { densityOnSide, newtonPX } from './flash.js';
import type { Fluid } from './fluids.js';
import { equilibriumAtP, equilibriumAtT, type Saturation, saturationAtP } from './saturation.js';
import { type State, stateAtTRho } from './state.js';

/**
 * How the run-time tables are made from the exact equation. The pressure coordinate is
 *
 *   x = sqrt(ln(pc/p))
 *
 * in which saturation properties of an analytic equation of state are analytic up to the critical point, so that few cells do. Enthalpy (and
 * entropy, temperature) is measured from the dome: t = (h - hEdge(x)) / (hFar - hEdge(x)), so that no cell straddles saturation, and the cells are equal in
 * sqrt(t): near the critical point everything bends just beside the dome.
 */

/** Saturation curves kept as cubics per cell; the index of each in the interleaved array. */
export const CURVE = Object.freeze({
  T: 0,
  hL: 1,
  hV: 2,
  sL: 3,
  sV: 4,
  /** p/rho of the saturated vapour, J/kg: nearly constant, unlike rho. */
  pvV: 5,
  rhoL: 6,
  cpL: 7,
  cpV: 8,
  /** Entropy and temperature on the far edges of the liquid (h = hMin) and vapour (h = hMax) zones. */
  sBottom: 9,
  sTop: 10,
  TBottom: 11,
  TTop: 12,
});
export const CURVES = 13;

export interface Grid {
  readonly pMin: number;
  readonly pMax: number;
  readonly pSaturationMax: number;
  readonly pc: number;
  readonly hMin: number;
  readonly hMax: number;
  readonly TLimit: number;
}

export const xOf = (pc: number, p: number): number => Math.sqrt(Math.log(pc / p));
export const pOf = (pc: number, x: number): number => pc * Math.exp(-x * x);

/** Lowest pressure of all tables, Pa: below it the low side of a running system is in deep vacuum. */
const P_MIN = 20_000;
/** Highest pressure of the (p,h) tables, Pa, and highest share of the critical pressure. */
const P_MAX = 3_500_000;
const P_MAX_SHARE = 0.95;
const SATURATION_SHARE = 0.99;
/** Superheat at the top right corner, K; at lower pressures the same enthalpy is a larger superheat. */
const SUPERHEAT = 85;
/** Subcooling at the lowest pressure, as enthalpy: about 35 K. */
const SUBCOOLING = 45_000;

/** Bounds of a fluid's tables. */
export function gridOf(fluid: Fluid): Grid {
  const { equation, critical } = fluid.record;
  const pc = critical.p;
  const pMax = Math.min(P_MAX, P_MAX_SHARE * pc);
  const corner = equilibriumAtP(fluid, pMax);
  const TCorner = corner.T + SUPERHEAT;
  const hMax = stateAtTRho(fluid, TCorner, densityOnSide(fluid, TCorner, pMax, 'any', 0)).h;
  const hMin = saturationAtP(fluid, P_MIN).hL - SUBCOOLING;
  return {
    pMin: P_MIN,
    pMax,
    pSaturationMax: SATURATION_SHARE * pc,
    pc,
    hMin,
    hMax,
    TLimit: Math.max(equation.TMax, TCorner + 20),
  };
}

/** One zone of the (p,h), (p,s) and (p,T) planes, as bicubic patches over (x, t). */
export interface Zone {
  readonly nx: number;
  readonly nt: number;
  /** Of (p,h): temperature, K; p/rho, J/kg (vapour) or rho, kg/m3 (liquid); entropy, J/(kg K). */
  readonly T: Float64Array;
  readonly volume: Float64Array;
  readonly s: Float64Array;
  /** Of (p,s) and of (p,T): enthalpy, J/kg. */
  readonly hOfS: Float64Array;
  readonly hOfT: Float64Array;
}

type Side = 'liquid' | 'vapour';

/** The single phase at (p, h or s), continued from a neighbouring state so that the wrong side of the dome is never entered. */
function follow(fluid: Fluid, p: number, target: number, second: 'h' | 's', from: State, edge: Saturation, side: Side, grid: Grid): State {
  const rhoMax = 4 * fluid.record.critical.rho;
  const box =
    side === 'liquid'
      ? { TLo: fluid.record.equation.TMin, THi: edge.T + 1e-6, rhoLo: edge.rhoL * (1 - 1e-6), rhoHi: rhoMax }
      : { TLo: edge.T - 1e-6, THi: grid.TLimit, rhoLo: 0, rhoHi: edge.rhoV * (1 + 1e-6) };
  const state = newtonPX(fluid, p, target, second, from, box);
  if (!state) throw new NoConvergence(`table node at ${p} Pa, ${second} = ${target}`, 25, Number.NaN);
  return state;
}

/** Builds one zone: nx cells in x from pMax down to pMin, nt cells in t from the dome outwards. */
export function buildZone(fluid: Fluid, grid: Grid, side: Side, nx: number, nt: number): Zone {
  const size = (nx + 1) * (nt + 1);
  const T = new Float64Array(size);
  const volume = new Float64Array(size);
  const s = new Float64Array(size);
  const hOfS = new Float64Array(size);
  const hOfT = new Float64Array(size);
  const x0 = xOf(grid.pc, grid.pMax);
  const x1 = xOf(grid.pc, grid.pMin);
  const hFar = side === 'vapour' ? grid.hMax : grid.hMin;
  const share = (j: number): number => (j / nt) ** 2;
  for (let i = 0; i <= nx; i++) {
    const p = pOf(grid.pc, x0 + ((x1 - x0) * i) / nx);
    const edge = saturationAtP(fluid, p);
    const dome = side === 'vapour' ? edge.vapour : edge.liquid;
    let state = dome;
    for (let j = 0; j <= nt; j++) {
      const at = i * (nt + 1) + j;
      if (j > 0) state = follow(fluid, p, dome.h + (hFar - dome.h) * share(j), 'h', state, edge, side, grid);
      T[at] = state.T;
      volume[at] = side === 'vapour' ? p / state.rho : state.rho;
      s[at] = state.s;
    }
    const far = state;
    state = dome;
    let rho = dome.rho;
    for (let j = 0; j <= nt; j++) {
      const at = i * (nt + 1) + j;
      if (j > 0) state = follow(fluid, p, dome.s + (far.s - dome.s) * share(j), 's', state, edge, side, grid);
      hOfS[at] = state.h;
      const Tj = edge.T + (far.T - edge.T) * share(j);
      if (j > 0) rho = densityOnSide(fluid, Tj, p, side, rho);
      hOfT[at] = j === 0 ? dome.h : stateAtTRho(fluid, Tj, rho).h;
    }
  }
  const patches = (values: Float64Array): Float64Array => bicubicPatches(values, nx, nt);
  return { nx, nt, T: patches(T), volume: patches(volume), s: patches(s), hOfS: patches(hOfS), hOfT: patches(hOfT) };
}

/**
 * The saturation curves over x as interleaved cubics: cell k holds, for curve c, four coefficients from (k * CURVES + c) * 4.
 * Each curve is a Chebyshev series through exact equilibria, cut into Hermite cubics with the series' own slopes.
 */
export function buildCurves(fluid: Fluid, grid: Grid, degree: number, cells: number): Float64Array {
  const x0 = xOf(grid.pc, grid.pSaturationMax);
  const x1 = xOf(grid.pc, grid.pMin);
  const known = new Map<number, number[]>();
  const at = (x: number): number[] => {
    let row = known.get(x);
    if (!row) {
      const p = pOf(grid.pc, x);
      const one = saturationAtP(fluid, p);
      const { liquid, vapour } = one;
      row = [one.T, one.hL, one.hV, one.sL, one.sV, p / one.rhoV, one.rhoL, liquid.cp, vapour.cp];
      // The far edges by 20 short continuation steps from the dome: Newton from a neighbour cannot leave its side.
      for (const side of ['liquid', 'vapour'] as const) {
        const start = side === 'liquid' ? liquid : vapour;
        const hFar = side === 'liquid' ? grid.hMin : grid.hMax;
        let state = start;
        for (let k = 1; k <= 20; k++) state = follow(fluid, p, start.h + ((hFar - start.h) * k) / 20, 'h', state, one, side, grid);
        if (side === 'liquid') row[CURVE.sBottom] = state.s;
        else row[CURVE.sTop] = state.s;
        if (side === 'liquid') row[CURVE.TBottom] = state.T;
        else row[CURVE.TTop] = state.T;
      }
      known.set(x, row);
    }
    return row;
  };
  const out = new Float64Array(cells * CURVES * 4);
  const width = (x1 - x0) / cells;
  for (let c = 0; c < CURVES; c++) {
    const inverse = c === CURVE.cpL || c === CURVE.cpV;
    const series = fitChebyshev((x) => (inverse ? 1 / at(x)[c]! : at(x)[c]!), x0, x1, degree);
    const slope = differentiateChebyshev(series);
    for (let k = 0; k < cells; k++) {
      const a = x0 + width * k;
      hermiteCubic(
        evaluateChebyshev(series, a),
        evaluateChebyshev(series, a + width),
        evaluateChebyshev(slope, a) * width,
        evaluateChebyshev(slope, a + width) * width,
        out,
        (k * CURVES + c) * 4,
      );
    }
  }
  return out;
}

/** ln p over u = sqrt(1 - T/Tc) as cubics per cell, from the exact vapour pressure. */
export function buildVapourPressure(
  fluid: Fluid,
  grid: Grid,
  degree: number,
  cells: number,
): { readonly u0: number; readonly u1: number; readonly cubics: Float64Array; readonly TMin: number; readonly TMax: number } {
  const Tc = fluid.record.critical.T;
  const TMin = equilibriumAtP(fluid, grid.pMin).T;
  const TMax = equilibriumAtP(fluid, grid.pSaturationMax).T;
  const u0 = Math.sqrt(1 - TMax / Tc);
  const u1 = Math.sqrt(1 - TMin / Tc);
  const series = fitChebyshev((u) => Math.log(equilibriumAtT(fluid, Tc * (1 - u * u)).p), u0, u1, degree);
  const slope = differentiateChebyshev(series);
  const cubics = new Float64Array(cells * 4);
  const width = (u1 - u0) / cells;
  for (let k = 0; k < cells; k++) {
    const a = u0 + width * k;
    const b = a + width;
    hermiteCubic(
      evaluateChebyshev(series, a),
      evaluateChebyshev(series, b),
      evaluateChebyshev(slope, a) * width,
      evaluateChebyshev(slope, b) * width,
      cubics,
      4 * k,
    );
  }
  return { u0, u1, cubics, TMin, TMax };
}
