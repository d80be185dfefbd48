import { describe, expect, it } from '@jest/globals';
import {
  type FluidName,
  fluid,
  type State,
  saturationAtP,
  saturationAtT,
  saturationCurve,
  stateAtTP,
  stateAtTRho,
} from '#libs/refrigerant/index.js';
import { PUBLISHED, type PublishedCheck } from './data/thermo-data.js';

// Values printed in papers, handbooks, tables and trade charts: they check that the coefficients were copied right.

const NAMES: Record<string, FluidName> = { R134a: 'R-134a', R1234yf: 'R-1234yf' };
const PSI = 6894.757293168361;
/** Factor from SI to the printed unit. */
const PER_SI: Record<string, number> = {
  MPa: 1e-6,
  kPa: 1e-3,
  K: 1,
  'kg/m3': 1,
  'm3/kg': 1,
  'kJ/kg': 1e-3,
  'kJ/(kg K)': 1e-3,
  'm/s': 1,
};

/** Cycles are in cycles.test.ts, air in air.test.ts. */
const PROPERTY = PUBLISHED.filter((check) => check.fluid in NAMES && !/Example|problem/.test(check.source));
const ASSERTED = PROPERTY.filter((check) => check.useAs !== 'informational');

/** Table 9 of Tillner-Roth & Baehr goes 5 K beyond the range the paper states. */
const LIMITS = { TMin: 169.85, TMax: 460, pMax: 7e7 };

const number = (check: PublishedCheck, key: string): number => check.inputs[key] as number;

/** Textbooks put h and s at zero for saturated liquid at -40 °C. */
function datum(check: PublishedCheck, kind: 'h' | 's'): number {
  return String(check.inputs['reference'] ?? '').includes('-40') ? saturationAtT(fluid('R-134a'), 233.15)[kind === 'h' ? 'hL' : 'sL'] : 0;
}

function stateOf(check: PublishedCheck): State {
  const one = fluid(NAMES[check.fluid]!);
  const { inputs } = check;
  const phase = String(inputs['phase'] ?? '');
  if ('rho_mol_dm3' in inputs)
    return stateAtTRho(one, number(check, 'T_K'), Math.max(1e-9, number(check, 'rho_mol_dm3') * 1000 * one.record.equation.molarMass));
  if (phase.startsWith('saturat')) {
    const sat = 'T_K' in inputs ? saturationAtT(one, number(check, 'T_K')) : saturationAtP(one, number(check, 'p_Pa'));
    return phase.endsWith('liquid') ? sat.liquid : sat.vapour;
  }
  if ('p_MPa' in inputs) return stateAtTP(one, number(check, 't_C') + 273.15, number(check, 'p_MPa') * 1e6);
  return stateAtTP(one, number(check, 'T_K'), number(check, 'p_Pa'), LIMITS);
}

function computed(check: PublishedCheck): number {
  const one = fluid(NAMES[check.fluid]!);
  const { molarMass } = one.record.equation;
  const sat = () => saturationAtT(one, number(check, 't_C') + 273.15);
  const out = PER_SI[check.unit] ?? Number.NaN;
  switch (check.quantity) {
    case 'p':
    case 'T':
    case 'rho':
    case 'u':
    case 'w':
      return stateOf(check)[check.quantity] * out;
    case 'cp':
    case 'cv':
      return stateOf(check)[check.quantity] * (check.unit === 'J/(mol K)' ? molarMass : out);
    case 'h':
    case 's':
      return (stateOf(check)[check.quantity] - datum(check, check.quantity)) * out;
    case 'v':
      return 1 / stateOf(check).rho;
    case 'psat':
      if ('t_F' in check.inputs)
        return (saturationAtT(one, ((number(check, 't_F') + 459.67) * 5) / 9).p - number(check, 'atm_kPa') * 1e3) / PSI;
      return sat().p * out;
    case 'T_sat':
      return (saturationAtP(one, number(check, 'p_psig') * PSI + number(check, 'atm_kPa') * 1e3).T * 9) / 5 - 459.67;
    case 'hf':
      return ('p_kPa' in check.inputs ? saturationAtP(one, number(check, 'p_kPa') * 1e3).hL : sat().hL) * out - datum(check, 'h') * out;
    case 'hg':
      return (sat().hV - datum(check, 'h')) * out;
    case 'hfg':
      return (sat().hV - sat().hL) * out;
    case 'sf':
      return (sat().sL - datum(check, 's')) * out;
    case 'sg':
      return (sat().sV - datum(check, 's')) * out;
    case 'vg':
      return 1 / sat().rhoV;
    case 'rhoL':
    case 'rhoV':
    case 'hL':
    case 'hV':
    case 'sL':
    case 'sV':
      return sat()[check.quantity] * out;
    case 'normal boiling point':
      return saturationAtP(one, number(check, 'p_kPa') * 1e3).T - 273.15;
    case 'critical temperature':
      return one.record.critical.T - 273.15;
    case 'critical pressure':
      return one.record.critical.p / 1e3;
    default:
      return Number.NaN;
  }
}

describe('published property values', () => {
  const sources = [...new Set(ASSERTED.map((check) => check.source))];

  it('are all there: a filter that lost some would pass silently', () => {
    expect(PROPERTY.length).toBe(363);
    expect(PROPERTY.length - ASSERTED.length).toBe(3);
  });

  it.each(sources)('%s', (source) => {
    const off = ASSERTED.filter((check) => check.source === source)
      .map((check) => ({
        quantity: check.quantity,
        inputs: check.inputs,
        printed: check.value,
        computed: computed(check),
        tolerance: check.tolerance,
      }))
      .filter((line) => !(Math.abs(line.computed - line.printed) <= line.tolerance));
    expect(off).toEqual([]);
  });

  it('hold on the dome of the pressure-enthalpy diagram, wherever a table prints one of its round degrees', () => {
    const names: Record<string, FluidName> = { R134a: 'R-134a', R1234yf: 'R-1234yf' };
    let held = 0;
    for (const check of ASSERTED) {
      const { quantity } = check;
      const name = names[check.fluid];
      if (name === undefined || !['psat', 'hf', 'hg', 'hL', 'hV'].includes(quantity) || !('t_C' in check.inputs)) continue;
      const point = saturationCurve(name).find(({ T }) => Math.abs(T - 273.15 - number(check, 't_C')) < 1e-6);
      if (!point) continue;
      const si = { psat: point.p, hf: point.hL, hL: point.hL, hg: point.hV, hV: point.hV }[quantity as 'psat' | 'hf' | 'hg' | 'hL' | 'hV'];
      const value = (si - (quantity === 'psat' ? 0 : datum(check, 'h'))) * PER_SI[check.unit]!;
      expect([check.source, quantity, check.inputs['t_C'], Math.abs(value - check.value) <= check.tolerance]).toEqual([
        check.source,
        quantity,
        check.inputs['t_C'],
        true,
      ]);
      held++;
    }
    expect(held).toBeGreaterThan(20);
    for (const name of ['R-134a', 'R-1234yf'] as const) {
      const curve = saturationCurve(name);
      expect(curve.at(-1)!.hV - curve.at(-1)!.hL).toBeLessThan(12_000);
      expect(curve.every(({ p }, i) => i === 0 || p > curve[i - 1]!.p)).toBe(true);
    }
  });
});
