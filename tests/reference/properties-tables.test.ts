import { describe, expect, it } from '@jest/globals';
import { FLUID_NAMES, fluid, fluidTables, type State, saturationAtP, stateAtPH } from '#libs/refrigerant/index.js';

// A dense scan of the run-time tables against the exact equation: the promise of 5 mK and 0.02 % over the working range.

const T_LIMIT = 5e-3;
const RHO_LIMIT = 2e-4;
/** 5 mK as enthalpy and entropy: by the local cp. */
const hLimit = (state: State): number => T_LIMIT * state.cp;
const sLimit = (state: State): number => (T_LIMIT * state.cp) / state.T;

/** n pressures, evenly in the logarithm, both ends just inside. */
const pressures = (a: number, b: number, n: number): number[] =>
  Array.from({ length: n }, (_, i) => a * 1.000001 * (b / a / 1.000002) ** (i / (n - 1)));

describe.each(FLUID_NAMES)('run-time tables of %s', (name) => {
  const one = fluid(name);
  const tables = fluidTables(name);

  it('reach the working range', () => {
    expect(tables.pMin).toBeLessThanOrEqual(0.5e5);
    // 35 bar, or close below the critical pressure where that is lower (R-1234yf: 33.8 bar).
    expect(tables.pMax).toBeGreaterThanOrEqual(Math.min(35e5, 0.95 * tables.pCritical));
    expect(tables.tSaturationMin).toBeLessThan(233.15);
    expect(tables.tSaturationMax).toBeGreaterThan(Math.min(368.15, tables.tCritical - 1));
    for (const p of pressures(0.5e5, tables.pMax, 40)) {
      expect(() => tables.hPT(p, tables.tSat(p) + 80)).not.toThrow();
      expect(() => tables.hPT(p, tables.tSat(p) - 30)).not.toThrow();
    }
  });

  it('give saturation', () => {
    const off: unknown[] = [];
    for (const p of pressures(tables.pMin, tables.pSaturationMax, 400)) {
      const sat = saturationAtP(one, p);
      const errors = {
        tSat: Math.abs(tables.tSat(p) - sat.T) / 1e-6,
        pSat: Math.abs(tables.pSat(sat.T) / p - 1) / 1e-7,
        hL: Math.abs(tables.hLiquid(p) - sat.hL) / 0.01,
        hV: Math.abs(tables.hVapour(p) - sat.hV) / 0.01,
        sL: Math.abs(tables.sLiquid(p) - sat.sL) / 1e-4,
        sV: Math.abs(tables.sVapour(p) - sat.sV) / 1e-4,
        rhoL: Math.abs(tables.rhoLiquid(p) / sat.rhoL - 1) / 1e-6,
        rhoV: Math.abs(tables.rhoVapour(p) / sat.rhoV - 1) / 1e-6,
        cpL: Math.abs(tables.cpLiquid(p) / sat.liquid.cp - 1) / 1e-5,
        cpV: Math.abs(tables.cpVapour(p) / sat.vapour.cp - 1) / 1e-5,
      };
      for (const [key, share] of Object.entries(errors)) if (!(share <= 1)) off.push({ key, p, share });
    }
    expect(off).toEqual([]);
  });

  it('give T, rho, s at (p, h), h at (p, s) and h at (p, T), within 5 mK and 0.02 %', () => {
    const limits = { TMin: one.record.equation.TMin, TMax: 520, pMax: 1e8 };
    const off: unknown[] = [];
    let points = 0;
    for (const p of pressures(tables.pMin, tables.pMax, 90)) {
      const { hL, hV } = saturationAtP(one, p);
      for (let j = 0; j <= 110; j++) {
        // Half of the points evenly over the enthalpies, half crowding towards the two edges of the dome, where errors would be worst.
        const near = 10 ** (-4 + 0.15 * (j % 20));
        const h =
          j <= 70
            ? tables.hMin + ((tables.hMax - tables.hMin) * (j + 0.5)) / 71
            : j <= 90
              ? Math.min(tables.hMax, hV + 3e4 * near)
              : Math.max(tables.hMin, hL - 3e4 * near);
        const state = stateAtPH(one, p, h, limits);
        points++;
        const single = state.quality === null;
        const checks: Record<string, number> = {
          T: Math.abs(tables.T(p, h) - state.T) / T_LIMIT,
          rho: Math.abs(tables.rho(p, h) / state.rho - 1) / RHO_LIMIT,
          s: Math.abs(tables.s(p, h) - state.s) / (single ? sLimit(state) : 0.01),
          hPS: Math.abs(tables.hPS(p, state.s) - h) / (single ? hLimit(state) : 1),
          hPT: single ? Math.abs(tables.hPT(p, state.T) - h) / hLimit(state) : 0,
        };
        for (const [key, share] of Object.entries(checks)) if (!(share <= 1)) off.push({ key, p, h, share, T: state.T });
      }
    }
    expect(points).toBe(90 * 111);
    expect(off.slice(0, 5)).toEqual([]);
  });

  it('join across the dome without a step', () => {
    for (const p of pressures(tables.pMin, tables.pMax, 60)) {
      for (const h of [tables.hLiquid(p), tables.hVapour(p)]) {
        expect(Math.abs(tables.T(p, h + 1e-3) - tables.T(p, h - 1e-3))).toBeLessThan(1e-4);
        expect(Math.abs(tables.rho(p, h + 1e-3) / tables.rho(p, h - 1e-3) - 1)).toBeLessThan(1e-5);
        expect(Math.abs(tables.s(p, h + 1e-3) - tables.s(p, h - 1e-3))).toBeLessThan(1e-3);
      }
    }
  });

  it('name the quantity and its bounds outside, for NaN too', () => {
    const outOfRange = (quantity: string) => expect.objectContaining({ name: 'OutOfRange', quantity });
    expect(() => tables.tSat(1)).toThrow(outOfRange('saturation pressure'));
    expect(() => tables.tSat(Number.NaN)).toThrow(outOfRange('saturation pressure'));
    expect(() => tables.pSat(500)).toThrow(outOfRange('saturation temperature'));
    expect(() => tables.T(tables.pMax * 1.01, 4e5)).toThrow(outOfRange('pressure'));
    expect(() => tables.rho(1e6, tables.hMax + 1)).toThrow(outOfRange('specific enthalpy'));
    expect(() => tables.hPS(1e6, 5000)).toThrow(outOfRange('specific entropy'));
    expect(() => tables.hPT(1e6, 1000)).toThrow(outOfRange('temperature'));
    expect(() => tables.hPT(1e6, Number.NaN)).toThrow(outOfRange('temperature'));
  });
});
