import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { readVin, vinCheckDigit, vinMatches, vinModelYear } from '#libs/casebook/vehicles/vin.js';

/**
 * 49 CFR 565.15: form of the number. The transliteration table and the weights are from memory of 565.15(c); the two numbers below are the ones
 * commonly printed with that rule (also from memory), so they check the whole computation.
 */
describe('vehicle identification number', () => {
  it('has the check digits commonly printed with 49 CFR 565.15(c)', () => {
    expect(vinCheckDigit('1M8GDM9AXKP042788')).toBe('X');
    expect(vinCheckDigit('11111111111111111')).toBe('1');
  });

  it('by hand: 1HGCM82633A004352 sums to 311, and 311 = 28 · 11 + 3', () => {
    // 1·8+8·7+7·6+3·5+4·4+8·3+2·2+6·10 + 3·9+1·8(A)+0+0+4·5+3·4+5·3+2·2 = 8+56+42+15+16+24+4+60+27+8+0+0+20+12+15+4 = 311
    expect(vinCheckDigit('1HGCM82633A004352')).toBe('3');
  });

  it('finds every single mistyped digit', () => {
    fc.assert(
      fc.property(fc.constantFrom(0, 1, 2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 15, 16), fc.integer({ min: 0, max: 9 }), (at, digit) => {
        const vin = '11111111111111111';
        if (digit === 1) return;
        // A change of one value moves the sum by weight × difference; weights are prime to 11 (10 ≡ −1), so the rest changes.
        const typed = vin.slice(0, at) + digit + vin.slice(at + 1);
        expect(vinCheckDigit(typed)).not.toBe(typed[8]);
      }),
    );
  });

  it('carries the model year in position 10, the cycle in position 7', () => {
    expect(vinModelYear('1M8GDMAAXKP042788', 2027)).toBe(2019);
    expect(vinModelYear('1M8GDM9AXKP042788', 2027)).toBe(1989);
    expect(vinModelYear('1M8GDMAAXKP042788', 2000)).toBe(1989);
    expect(vinModelYear('1M8GDMAAX0P042788', 2027)).toBeNull();
  });

  it('is read for what is kept, and never refused', () => {
    expect(readVin('1m8gdm9ax-kp042788', 2027)).toMatchObject({ maker: '1M8', plant: 'P', sequenceBucket: 42, doubts: [] });
    expect(readVin('1M8GDM9A0KP042788', 2027).doubts.map((doubt) => doubt.code)).toEqual(['vin-check-digit']);
    expect(readVin('1M8GDM9AXKPO42788', 2027).doubts.map((doubt) => doubt.code)).toContain('vin-letter');
    expect(readVin('SHORT123', 2027).doubts.map((doubt) => doubt.code)).toEqual(['vin-length']);
  });

  it('fits a pattern over its first eight characters', () => {
    expect(vinMatches('9HC12345XKA000001', '9HC?????')).toBe(true);
    expect(vinMatches('9HD12345XKA000001', '9HC?????')).toBe(false);
  });
});
