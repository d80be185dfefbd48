import { describe, expect, it } from '@jest/globals';
import {
  type FlashLimits,
  type FluidName,
  fluid,
  type State,
  saturationAtP,
  saturationAtT,
  stateAtPH,
  stateAtPS,
  stateAtTP,
  stateAtTRho,
} from '#libs/refrigerant/index.js';
import { checkTable, type Row, Worst } from './data/thermo-data.js';

// Every row of the independent evaluation (data/thermo/README.md), every property it has.

const FLUIDS: readonly (readonly [string, FluidName])[] = [
  ['R134a', 'R-134a'],
  ['R1234yf', 'R-1234yf'],
];
/** Direct evaluation and saturation. */
const EXACT = 1e-9;
/** Tables that went through the other library's iteration. */
const FLASH = 1e-7;
/** One row of the R-1234yf table lies at 416.5 K, beyond the equation's 410 K. */
const EXTRAPOLATED: FlashLimits = { TMin: 200, TMax: 420, pMax: 1e8 };

describe.each(FLUIDS)('%s against an independent evaluation of the same equation', (file, name) => {
  const one = fluid(name);

  it('gives every property at (T, rho)', () => {
    const worst = new Worst();
    const rows = checkTable(`${file}_eos_Trho`);
    for (const row of rows) {
      const state = stateAtTRho(one, row.T_K!, row.rho!);
      for (const key of ['p', 'h', 's', 'u', 'cp', 'cv'] as const) worst.add(key, state[key], row[key]!, row);
    }
    expect(rows).toHaveLength(63);
    expect(worst.above(EXACT)).toEqual([]);
  });

  it('gives saturation by temperature, with both phases', () => {
    const worst = new Worst();
    const rows = checkTable(`${file}_sat_T`);
    for (const row of rows) {
      const sat = saturationAtT(one, row.T_K!);
      worst.add('p', sat.p, row.pV!, row);
      for (const key of ['rhoL', 'rhoV', 'hL', 'hV', 'sL', 'sV'] as const) worst.add(key, sat[key], row[key]!, row);
      for (const key of ['cp', 'cv', 'w'] as const) {
        worst.add(`${key}L`, sat.liquid[key], row[`${key}L`]!, row);
        worst.add(`${key}V`, sat.vapour[key], row[`${key}V`]!, row);
      }
    }
    expect(rows).toHaveLength(27);
    expect(worst.above(EXACT)).toEqual([]);
  });

  it('gives saturation to a hundredth of a kelvin below the critical point', () => {
    const worst = new Worst();
    const rows = checkTable(`${file}_nearcritical_sat`);
    for (const row of rows) {
      const sat = saturationAtT(one, row.T_K!);
      worst.add('p', sat.p, row.pV!, row);
      for (const key of ['rhoL', 'rhoV', 'hL', 'hV', 'sL', 'sV'] as const) worst.add(key, sat[key], row[key]!, row);
    }
    expect(rows).toHaveLength(8);
    expect(worst.above(EXACT)).toEqual([]);
  });

  it('gives saturation by pressure', () => {
    const worst = new Worst();
    const rows = checkTable(`${file}_sat_p`);
    for (const row of rows) {
      const sat = saturationAtP(one, row.p!);
      worst.add('T', sat.T, row.T_dew_C! + 273.15, row);
      for (const key of ['rhoL', 'rhoV', 'hL', 'hV', 'sL', 'sV'] as const) worst.add(key, sat[key], row[key]!, row);
    }
    expect(rows).toHaveLength(30);
    expect(worst.above(EXACT)).toEqual([]);
  });

  it.each([
    ['superheated_pT', 60],
    ['subcooled_pT', 30],
    ['nearcritical_pT', 30],
  ])('gives every property at (T, p): %s', (table, count) => {
    const worst = new Worst();
    const rows = checkTable(`${file}_${table}`);
    for (const row of rows) {
      const state = stateAtTP(one, row.T_K!, row.p!);
      for (const key of ['rho', 'h', 's', 'u', 'cp', 'cv', 'w'] as const) worst.add(key, state[key], row[key]!, row);
    }
    expect(rows).toHaveLength(count);
    expect(worst.above(FLASH)).toEqual([]);
  });

  const flash = (rows: readonly Row[], at: (row: Row) => State, third: 'h' | 's'): Worst => {
    const worst = new Worst();
    for (const row of rows) {
      const state = at(row);
      worst.add('T', state.T, row.T_K!, row);
      worst.add('rho', state.rho, row.rho!, row);
      worst.add(third, state[third], row[third]!, row);
      if (row.Q! < 0) expect(state.quality).toBeNull();
      else worst.add('quality', state.quality!, row.Q!, row);
    }
    return worst;
  };

  it('gives temperature, density, entropy and quality at (p, h)', () => {
    const rows = checkTable(`${file}_flash_ph`);
    expect(rows).toHaveLength(70);
    expect(flash(rows, (row) => stateAtPH(one, row.p!, row.h!), 's').above(FLASH)).toEqual([]);
  });

  it('gives temperature, density, enthalpy and quality at (p, s)', () => {
    const rows = checkTable(`${file}_flash_ps`);
    expect(rows).toHaveLength(63);
    expect(flash(rows, (row) => stateAtPS(one, row.p!, row.s!, EXTRAPOLATED), 'h').above(FLASH)).toEqual([]);
  });
});

describe('R152a against an independent evaluation of the same equation', () => {
  it('gives saturation by temperature', () => {
    const worst = new Worst();
    const rows = checkTable('R152a_sat_T');
    for (const row of rows) {
      const sat = saturationAtT(fluid('R-152a'), row.T_K!);
      for (const key of ['p', 'rhoL', 'rhoV', 'hL', 'hV', 'sL', 'sV'] as const) worst.add(key, sat[key], row[key]!, row);
    }
    expect(rows).toHaveLength(27);
    expect(worst.above(EXACT)).toEqual([]);
  });
});
