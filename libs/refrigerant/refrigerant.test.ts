import { describe, expect, it } from '@jest/globals';
import { datumOffset, FLUID_NAMES, fluid, fluidOf, fluidTables, saturationAtT, saturationTMax, stateAtPH, stateAtTRho } from './index.js';
import { equilibriumAtP, equilibriumAtT, guessPressure } from './saturation.js';
import { buildFluidTables } from './tables.js';

// Against printed values and identities: tests/reference/properties*.test.ts. Here: what only this code's own structure promises.

describe.each(FLUID_NAMES)('%s', (name) => {
  const one = fluid(name);

  it('starts saturation from a guess within 2e-6 of the exact pressure', () => {
    for (let T = one.record.equation.TMin; T < saturationTMax(one); T += 1.7) {
      expect(Math.abs(guessPressure(one, T) / equilibriumAtT(one, T).p - 1)).toBeLessThan(2e-6);
    }
  });

  it('solves saturation over its whole range, from the lowest temperature to the margin below the critical one', () => {
    const { TMin } = one.record.equation;
    for (const T of [TMin, TMin + 1e-9, saturationTMax(one) - 1e-9, saturationTMax(one)]) {
      const sat = equilibriumAtT(one, T);
      expect(sat.rhoL).toBeGreaterThan(sat.rhoV);
      expect(equilibriumAtP(one, sat.p).T).toBeCloseTo(T, 6);
    }
  });

  it('is on the datum of the IIR', () => {
    // The published offsets of the ideal part give 200 kJ/kg and 1 kJ/(kg K) to their last digits.
    const offset = datumOffset(one, 'IIR');
    expect(Math.abs(offset.h)).toBeLessThan(0.02);
    expect(Math.abs(offset.s)).toBeLessThan(1e-4);
  });

  it('is not disturbed by evaluations of other fluids in between', () => {
    const first = stateAtTRho(one, 300, 10);
    for (const other of FLUID_NAMES) stateAtTRho(fluid(other), 320, 20);
    stateAtTRho(one, 250, 1200);
    expect(stateAtTRho(one, 300, 10)).toEqual(first);
  });

  it('has tables that are built once, and the same numbers when built again', () => {
    const tables = fluidTables(name);
    expect(fluidTables(name)).toBe(tables);
    const again = buildFluidTables(fluidOf(one.record));
    for (const p of [3e5, 1.2e6, 2.5e6]) {
      expect(again.tSat(p)).toBe(tables.tSat(p));
      for (let h = tables.hMin; h <= tables.hMax; h += (tables.hMax - tables.hMin) / 17) {
        expect(again.T(p, h)).toBe(tables.T(p, h));
        expect(again.rho(p, h)).toBe(tables.rho(p, h));
      }
    }
  });
});

describe('datums', () => {
  it('differ by 148.14 kJ/kg and 0.7956 kJ/(kg K) between IIR and ASHRAE for R-134a (ASHRAE table at -40 °C)', () => {
    const offset = datumOffset(fluid('R-134a'), 'ASHRAE');
    expect(offset.h / 1e3).toBeCloseTo(148.14, 2);
    expect(offset.s / 1e3).toBeCloseTo(0.7956, 4);
    const boiling = datumOffset(fluid('R-134a'), 'NBP');
    const sat = saturationAtT(fluid('R-134a'), 273.15 - 26.07);
    expect(Math.abs(boiling.h - sat.hL)).toBeLessThan(20);
  });
});

describe('gas below the lowest saturation pressure', () => {
  it('is found from its enthalpy and is nearly ideal', () => {
    const r134a = fluid('R-134a');
    const gas = stateAtTRho(r134a, 300, 0.001);
    const back = stateAtPH(r134a, gas.p, gas.h);
    expect(back.T).toBeCloseTo(300, 6);
    expect(gas.p / (0.001 * r134a.eos.R * 300)).toBeCloseTo(1, 4);
  });
});
