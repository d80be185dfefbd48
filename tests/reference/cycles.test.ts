import { describe, expect, it } from '@jest/globals';
import { fluid, fluidTables, saturationAtP, saturationAtT, stateAtPS, stateAtTP } from '#libs/refrigerant/index.js';
import { PUBLISHED } from './data/thermo-data.js';

// Refrigeration cycles worked in textbooks, recomputed state by state. Textbook datum: h = s = 0 for saturated liquid at -40 °C.
// Moran & Shapiro's tables are of an older formulation: only their differences and COP are compared (data/thermo/README.md).

const r134a = fluid('R-134a');
const DATUM = saturationAtT(r134a, 233.15);
const kelvin = (celsius: number): number => celsius + 273.15;
/** The book's ton of refrigeration, 211 kJ/min, kW. */
const TON = 211 / 60;

/** What the book prints: quantity and value, with the tolerance of its print. */
function printed(source: string): ReadonlyMap<string, { value: number; tolerance: number }> {
  return new Map(PUBLISHED.filter((check) => check.source.startsWith(source)).map((check) => [check.quantity, check]));
}

function compare(source: string, computed: Readonly<Record<string, number>>): void {
  const book = printed(source);
  expect([...book.keys()].sort()).toEqual(Object.keys(computed).sort());
  for (const [quantity, { value, tolerance }] of book) {
    expect({ quantity, off: Math.abs(computed[quantity]! - value) <= tolerance ? 0 : computed[quantity]! - value }).toEqual({
      quantity,
      off: 0,
    });
  }
}

/** Saturated vapour in, isentropic or real compression, condensed (and maybe subcooled) liquid, throttled. J/kg. */
function simpleCycle(pEvaporator: number, pCondenser: number, eta = 1, tLiquid?: number) {
  const suction = saturationAtP(r134a, pEvaporator);
  const h2s = stateAtPS(r134a, pCondenser, suction.sV).h;
  const work = (h2s - suction.hV) / eta;
  const h3 = tLiquid === undefined ? saturationAtP(r134a, pCondenser).hL : stateAtTP(r134a, tLiquid, pCondenser).h;
  return { h1: suction.hV, s1: suction.sV, h2s, h2: suction.hV + work, h3, work, cooling: suction.hV - h3 };
}

describe('textbook cycles, R-134a', () => {
  it('Cengel & Boles example 11-1: ideal, 0.14 to 0.8 MPa, 0.05 kg/s', () => {
    const cycle = simpleCycle(0.14e6, 0.8e6);
    compare('Cengel & Boles, Thermodynamics, Example 11-1', {
      h1: (cycle.h1 - DATUM.hL) / 1e3,
      s1: (cycle.s1 - DATUM.sL) / 1e3,
      h2s: (cycle.h2s - DATUM.hL) / 1e3,
      h3: (cycle.h3 - DATUM.hL) / 1e3,
      Q_L: (0.05 * cycle.cooling) / 1e3,
      W_in: (0.05 * cycle.work) / 1e3,
      Q_H: (0.05 * (cycle.h2 - cycle.h3)) / 1e3,
    });
  });

  it('Cengel & Boles example 11-2: superheated suction, hot discharge, subcooled liquid', () => {
    const one = stateAtTP(r134a, kelvin(-10), 0.14e6);
    const two = stateAtTP(r134a, kelvin(50), 0.8e6);
    const h2s = stateAtPS(r134a, 0.8e6, one.s).h;
    const three = stateAtTP(r134a, kelvin(26), 0.72e6);
    compare('Cengel & Boles Example 11-2', {
      h1: (one.h - DATUM.hL) / 1e3,
      h2: (two.h - DATUM.hL) / 1e3,
      h2s: (h2s - DATUM.hL) / 1e3,
      h3: (three.h - DATUM.hL) / 1e3,
      Q_L: (0.05 * (one.h - three.h)) / 1e3,
      W_in: (0.05 * (two.h - one.h)) / 1e3,
      eta_isentropic: (h2s - one.h) / (two.h - one.h),
      COP_R: (one.h - three.h) / (two.h - one.h),
    });
  });

  it('Cengel & Boles problem: 0.20 MPa and -5 °C to 1.2 MPa and 70 °C, 0.07 kg/s', () => {
    const one = stateAtTP(r134a, kelvin(-5), 0.2e6);
    const two = stateAtTP(r134a, kelvin(70), 1.2e6);
    const three = stateAtTP(r134a, kelvin(44), 1.15e6);
    compare('Cengel & Boles end-of-chapter problem', {
      eta_isentropic: (stateAtPS(r134a, 1.2e6, one.s).h - one.h) / (two.h - one.h),
      W_in: (0.07 * (two.h - one.h)) / 1e3,
      COP_R: (one.h - three.h) / (two.h - one.h),
    });
  });

  it('Moran & Shapiro example 10.1: ideal, 0 °C and 26 °C, 0.08 kg/s', () => {
    const pCondenser = saturationAtT(r134a, kelvin(26)).p;
    const cycle = simpleCycle(saturationAtT(r134a, kelvin(0)).p, pCondenser);
    compare('Moran & Shapiro Example 10.1', {
      W_in: (0.08 * cycle.work) / 1e3,
      capacity: (0.08 * cycle.cooling) / 1e3 / TON,
      COP_R: cycle.cooling / cycle.work,
      p_cond: pCondenser / 1e5,
    });
  });

  it('Moran & Shapiro example 10.2: -10 °C and 9 bar', () => {
    const cycle = simpleCycle(saturationAtT(r134a, kelvin(-10)).p, 9e5);
    compare('Moran & Shapiro Example 10.2', { capacity: (0.08 * cycle.cooling) / 1e3 / TON, COP_R: cycle.cooling / cycle.work });
  });

  it('Moran & Shapiro example 10.3: 80 % isentropic efficiency, liquid at 30 °C', () => {
    const cycle = simpleCycle(saturationAtT(r134a, kelvin(-10)).p, 9e5, 0.8, kelvin(30));
    compare('Moran & Shapiro Example 10.3', {
      W_in: (0.08 * cycle.work) / 1e3,
      capacity: (0.08 * cycle.cooling) / 1e3 / TON,
      COP_R: cycle.cooling / cycle.work,
    });
  });

  it('Moran & Shapiro problem: ideal, -10 °C and 28 °C', () => {
    const cycle = simpleCycle(saturationAtT(r134a, kelvin(-10)).p, saturationAtT(r134a, kelvin(28)).p);
    compare('Moran & Shapiro problem', {
      'w_compressor (h2-h1)': cycle.work / 1e3,
      'q_evap (h1-h4)': cycle.cooling / 1e3,
      COP_R: cycle.cooling / cycle.work,
    });
  });

  it('come out of the run-time tables too: example 11-1', () => {
    const tables = fluidTables('R-134a');
    const h1 = tables.hVapour(0.14e6);
    const h2 = tables.hPS(0.8e6, tables.sVapour(0.14e6));
    const h3 = tables.hLiquid(0.8e6);
    const book = printed('Cengel & Boles, Thermodynamics, Example 11-1');
    expect(Math.abs((0.05 * (h1 - h3)) / 1e3 - book.get('Q_L')!.value)).toBeLessThanOrEqual(book.get('Q_L')!.tolerance);
    expect(Math.abs((0.05 * (h2 - h1)) / 1e3 - book.get('W_in')!.value)).toBeLessThanOrEqual(book.get('W_in')!.tolerance);
  });
});
