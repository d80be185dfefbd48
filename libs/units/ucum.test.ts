import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import {
  absoluteFromGauge,
  celsiusFromKelvin,
  differenceFromSI,
  differenceToSI,
  fahrenheitFromKelvin,
  findUnit,
  fromSI,
  type GaugePascal,
  gaugeFromAbsolute,
  kelvinFromCelsius,
  kelvinFromFahrenheit,
  nearest,
  type Pascal,
  suggestUnit,
  temperatureDifference,
  toSI,
  UNIT_CODES,
} from './index.js';

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

  it('follow from their definitions: pound, inch, standard gravity, mercury of 13,595.1 kg/m3', () => {
    expect(si(1, '[psi]')).toBeCloseTo(6894.757293168361, 9);
    expect(si(1, "[in_i'Hg]") / si(1, 'mm[Hg]')).toBeCloseTo(25.4, 12);
    expect(si(1000, 'um[Hg]')).toBeCloseTo(si(1, 'mm[Hg]'), 12);
    expect(si(760, 'mm[Hg]')).toBeCloseTo(101_325, 1);
    expect(si(29.92, "[in_i'Hg]")).toBeCloseTo(101_321, 0);
    expect(si(16, '[oz_av]')).toBeCloseTo(si(1, '[lb_av]'), 15);
    expect(si(5280, '[ft_i]')).toBeCloseTo(si(1, '[mi_i]'), 9);
    expect(si(12, '[in_i]')).toBeCloseTo(si(1, '[ft_i]'), 15);
    expect(si(900, '/min')).toBe(15);
    expect(si(1013.25, 'hPa')).toBe(101_325);
  });

  it('keep differences apart from temperatures: 25 °C minus 20 °C is 9 °F, not 41 °F', () => {
    const fahrenheit = findUnit('[degF]')!;
    const difference = temperatureDifference(kelvinFromCelsius(25), kelvinFromCelsius(20));
    expect(differenceFromSI(difference, fahrenheit)).toBeCloseTo(9, 10);
    expect(differenceToSI(9, fahrenheit)).toBeCloseTo(5, 12);
    expect(celsiusFromKelvin(kelvinFromFahrenheit(98.6))).toBeCloseTo(37, 10);
    expect(fahrenheitFromKelvin(kelvinFromCelsius(-40))).toBeCloseTo(-40, 10);
  });

  it('are each listed once, with a factor above zero, and findable', () => {
    expect(new Set(UNIT_CODES.map((one) => one.code)).size).toBe(UNIT_CODES.length);
    for (const one of UNIT_CODES) {
      expect(one.factor).toBeGreaterThan(0);
      expect(findUnit(one.code)).toBe(one);
    }
    expect(findUnit('psi')).toBeNull();
    expect(findUnit('CEL')).toBeNull();
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
    expect(gaugeFromAbsolute(absoluteFromGauge(gauge, 83_437 as Pascal), 83_437 as Pascal)).toBeCloseTo(gauge, 6);
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
