import { describe, expect, it } from '@jest/globals';
import { localBarometer, standardPressure } from './barometer.js';

const inHg = 3386.389;

describe('local barometer', () => {
  // Barometer by elevation, inHg: 0 ft 29.92, 3,000 ft 26.82, 5,000 ft 24.90, 7,000 ft 23.09, 10,000 ft 20.58 (US Standard Atmosphere 1976).
  it.each([
    [0, 29.92],
    [3000, 26.82],
    [5000, 24.9],
    [7000, 23.09],
    [10_000, 20.58],
  ])('follows the standard atmosphere at %i ft', (feet, expected) => {
    expect(standardPressure(feet * 0.3048) / inHg).toBeCloseTo(expected, 1);
  });

  it('takes a weather report at 1,600 m as reduced to sea level, about 5 inHg off', () => {
    const b = localBarometer({ barometerPa: 30.0 * inHg }, 1600);
    expect(b).toMatchObject({ source: 'reduced', looksReduced: true });
    expect((30 * inHg - b.pressurePa) / inHg).toBeCloseTo(5.3, 0);
  });

  it('believes a station barometer near what the elevation says', () => {
    expect(localBarometer({ barometerPa: 83_900, barometerKind: 'station' }, 1600)).toMatchObject({
      pressurePa: 83_900,
      source: 'station',
    });
  });

  it('keeps a wide margin when nothing is known', () => {
    expect(localBarometer({}, undefined).sigmaPa).toBeGreaterThan(3000);
  });
});
