import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import {
  dewPoint,
  fastEnthalpy,
  fastSaturationEnthalpy,
  fastSaturationHumidity,
  fastVapourPressure,
  humidityRatio,
  humidityRatioFromDewPoint,
  humidityRatioFromWetBulb,
  judgeBarometer,
  moistAirEnthalpy,
  relativeHumidity,
  saturationHumidityRatio,
  saturationTemperatureFromEnthalpy,
  saturationVapourPressure,
  seaLevelFromStation,
  standardAtmosphereElevation,
  standardAtmospherePressure,
  stationFromSeaLevel,
  temperatureFromEnthalpy,
  wetBulb,
} from './index.js';

const temperature = fc.double({ min: 263, max: 333, noNaN: true });
const humidity = fc.double({ min: 0.05, max: 1, noNaN: true });
const pressure = fc.double({ min: 70_000, max: 105_000, noNaN: true });
const RUNS = { numRuns: 300, seed: 11 };

describe('moist air', () => {
  it('comes back from relative humidity, wet bulb, dew point and enthalpy', () => {
    fc.assert(
      fc.property(temperature, humidity, pressure, (T, RH, p) => {
        const W = humidityRatio(T, RH, p);
        expect(relativeHumidity(T, W, p)).toBeCloseTo(RH, 9);
        expect(temperatureFromEnthalpy(moistAirEnthalpy(T, W), W)).toBeCloseTo(T, 8);
        const dew = dewPoint(T, W, p);
        const wet = wetBulb(T, W, p);
        // The library solves both to 0.001 K; d(ln W)/dT of saturated air is below 0.1 /K.
        expect(Math.abs(humidityRatioFromDewPoint(dew, p) / W - 1)).toBeLessThan(2e-4);
        expect(dew).toBeLessThanOrEqual(wet + 2e-3);
        expect(wet).toBeLessThanOrEqual(T + 2e-3);
        // 0.001 K of wet bulb as humidity: d(Ws)/dT = 0.06 Ws (1 + Ws/0.622) plus cp/L, doubled. Between ice and water the equation jumps.
        const Ws = saturationHumidityRatio(wet, p);
        const error = 2e-3 * (0.06 * Ws * (1 + Ws / 0.622) + 4e-4);
        if (Math.abs(wet - 273.15) > 0.02) expect(Math.abs(humidityRatioFromWetBulb(T, Math.min(wet, T), p) - W)).toBeLessThan(error);
      }),
      RUNS,
    );
  });

  it('holds a fifth more water at 1,500 m than at the sea: 30 °C and 50 % are 13.3 and 16.0 g/kg', () => {
    const sea = humidityRatio(303.15, 0.5, 101_325);
    const high = humidityRatio(303.15, 0.5, standardAtmospherePressure(1500));
    // 0.622 * 2123.5 / (p - 2123.5) by hand with pws(30 °C) = 4247 Pa.
    expect(sea).toBeCloseTo((0.621945 * 2123.5) / (101_325 - 2123.5), 5);
    expect(high / sea).toBeCloseTo(1.2, 2);
  });

  it('refuses percent for a fraction, and what is not a number', () => {
    expect(() => humidityRatio(300, 50, 101_325)).toThrow(
      expect.objectContaining({ name: 'OutOfRange', quantity: 'relative humidity', max: 1 }),
    );
    expect(() => humidityRatio(Number.NaN, 0.5, 101_325)).toThrow(expect.objectContaining({ quantity: 'air temperature' }));
    expect(() => humidityRatio(300, 0.5, 101.325)).toThrow(expect.objectContaining({ quantity: 'air pressure' }));
    expect(() => humidityRatioFromWetBulb(290, 291, 1e5)).toThrow(expect.objectContaining({ quantity: 'wet-bulb temperature' }));
    expect(() => moistAirEnthalpy(300, -0.1)).toThrow(expect.objectContaining({ quantity: 'humidity ratio' }));
  });
});

describe('saturated air for inner loops', () => {
  it('agrees with the full formulas over ice and over water', () => {
    for (let T = 213.2; T < 373.1; T += 0.0931) {
      expect(Math.abs(fastVapourPressure(T) / saturationVapourPressure(T) - 1)).toBeLessThan(2e-7);
      if (T < 350)
        expect(Math.abs(fastSaturationHumidity(T, 90_000) / Math.max(1e-7, saturationHumidityRatio(T, 90_000)) - 1)).toBeLessThan(1e-6);
    }
    expect(fastEnthalpy(303.15, 0.02)).toBeCloseTo(moistAirEnthalpy(303.15, 0.02), 6);
    expect(fastSaturationHumidity(373, 50_000)).toBe(Number.POSITIVE_INFINITY);
  });

  it('finds the temperature of saturated air from its enthalpy', () => {
    fc.assert(
      fc.property(fc.double({ min: 214, max: 345, noNaN: true }), pressure, (T, p) => {
        expect(Math.abs(saturationTemperatureFromEnthalpy(fastSaturationEnthalpy(T, p), p) - T)).toBeLessThan(1e-6);
      }),
      RUNS,
    );
    expect(() => saturationTemperatureFromEnthalpy(-1e6, 1e5)).toThrow(expect.objectContaining({ name: 'OutOfRange' }));
    expect(() => saturationTemperatureFromEnthalpy(1e9, 1e5)).toThrow(expect.objectContaining({ name: 'OutOfRange', value: 1e9 }));
  });
});

describe('standard atmosphere and barometers', () => {
  it('comes back from pressure to elevation', () => {
    fc.assert(
      fc.property(fc.double({ min: -400, max: 5000, noNaN: true }), (z) => {
        expect(standardAtmosphereElevation(standardAtmospherePressure(z))).toBeCloseTo(z, 6);
        expect(seaLevelFromStation(stationFromSeaLevel(101_800, z), z)).toBeCloseTo(101_800, 6);
      }),
      RUNS,
    );
    expect(() => standardAtmospherePressure(12_000)).toThrow(expect.objectContaining({ quantity: 'altitude' }));
    expect(() => standardAtmosphereElevation(1000)).toThrow(expect.objectContaining({ quantity: 'pressure' }));
  });

  it("knows a weather report's barometer at 1,600 m, and that it is about 5 inHg too high there", () => {
    const judged = judgeBarometer(101_800, 1600);
    expect(judged.kind).toBe('reduced to sea level');
    expect((101_800 - judged.station!) / 3386.389).toBeCloseTo(5.28, 1);
    expect(judgeBarometer(84_000, 1600)).toMatchObject({ kind: 'station', station: 84_000 });
  });

  it('cannot tell near the sea, and refuses what fits neither', () => {
    expect(judgeBarometer(101_500, 100)).toMatchObject({ kind: 'cannot tell', station: 101_500 });
    expect(judgeBarometer(70_000, 100)).toMatchObject({ kind: 'neither', station: null });
  });
});
