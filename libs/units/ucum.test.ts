import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { absoluteFromGauge, findUnit, fromSI, type GaugePascal, nearest, type Pascal, suggestUnit, toSI, UNIT_CODES } from './index.js';

const si = (value: number, code: string) => toSI(value, findUnit(code)!);

describe('unit conversions', () => {
  it('give the factors of NIST SP 811 (2008), appendix B.8', () => {
    expect(si(1, '[psi]')).toBeCloseTo(6894.757, 3);
    expect(si(1, "[in_i'Hg]")).toBeCloseTo(3386.389, 3);
    expect(si(1, 'mm[Hg]')).toBeCloseTo(133.3224, 4);
    expect(si(1, '[lb_av]')).toBeCloseTo(0.45359237, 10);
    expect(si(1, '[oz_av]')).toBeCloseTo(0.02834952, 8);
    expect(si(1, '[mi_i]')).toBe(1609.344);
    expect(si(1, 'kgf/cm2')).toBe(98066.5);
  });

  it('give the fixed points of the temperature scales', () => {
    expect(si(0, 'Cel')).toBe(273.15);
    expect(si(32, '[degF]')).toBeCloseTo(273.15, 10);
    expect(si(212, '[degF]')).toBeCloseTo(373.15, 10);
    expect(si(-40, '[degF]')).toBeCloseTo(si(-40, 'Cel'), 10);
  });

  it('come back to where they started', () => {
    fc.assert(
      fc.property(fc.constantFrom(...UNIT_CODES), fc.double({ min: -1e6, max: 1e6, noNaN: true }), (one, value) => {
        expect(Math.abs(fromSI(toSI(value, one), one) - value)).toBeLessThanOrEqual(
          1e-9 * Math.max(1, Math.abs(value), one.offset / one.factor),
        );
      }),
    );
  });

  it('make gauge absolute only with a barometer: 20 psig in Denver is not 20 psig at the sea', () => {
    const gauge = si(20, '[psi]') as GaugePascal;
    expect(absoluteFromGauge(gauge, 101_325 as Pascal) - absoluteFromGauge(gauge, 83_437 as Pascal)).toBeCloseTo(17_888, 6);
  });
});

describe('suggestions', () => {
  it.each([
    ['psi', '[psi]'],
    ['psig', '[psi]'],
    ['°C', 'Cel'],
    ['F', '[degF]'],
    ['rpm', '/min'],
    ['inHg', "[in_i'Hg]"],
    ['kpas', 'kPa'],
  ])('understand %s as %s', (typed, code) => {
    expect(suggestUnit(typed)?.code).toBe(code);
  });

  it('stay silent when nothing is near', () => {
    expect(suggestUnit('furlong')).toBeNull();
    expect(nearest('zzzzzz', ['condenser-fan', 'moisture'])).toBeNull();
    expect(nearest('condensor-fan', ['condenser-fan', 'moisture'])).toBe('condenser-fan');
  });
});
