import { describe, expect, it } from '@jest/globals';
import { judgeConditions, judgeReading } from './plausibility.js';

const psi = 6894.757293168;
const kelvin = (celsius: number) => celsius + 273.15;

describe('judgeReading', () => {
  it('believes ordinary values', () => {
    expect(judgeReading({ quantity: 'pressure', place: 'low-side-port', phase: 'running', value: 30 * psi }).verdict).toBe('plausible');
    expect(judgeReading({ quantity: 'pressure', place: 'high-side-port', phase: 'running', value: 220 * psi }).verdict).toBe('plausible');
    expect(judgeReading({ quantity: 'temperature', place: 'vent', value: kelvin(7) }).verdict).toBe('plausible');
    expect(
      judgeReading({ quantity: 'mass', meaning: 'recovered-charge', value: 0.52 }, { platform: { refrigerant: 'R-134a', chargeKg: 0.55 } })
        .verdict,
    ).toBe('plausible');
  });

  it.each([
    [
      'outside air 95 typed as Celsius',
      { quantity: 'temperature', place: 'outside', value: kelvin(95), unit: 'Cel' },
      'impossible',
      'degF-typed-as-Cel',
    ],
    [
      'outside air 30 typed as Fahrenheit',
      { quantity: 'temperature', place: 'outside', value: kelvin(-1.1), unit: '[degF]' },
      'unlikely',
      'Cel-typed-as-degF',
    ],
    [
      'high side 220 psi typed as kPa',
      { quantity: 'pressure', place: 'high-side-port', phase: 'running', value: 220e3, unit: 'kPa' },
      'unlikely',
      'psi-typed-as-kPa',
    ],
    [
      'high side 220 psi typed as bar',
      { quantity: 'pressure', place: 'high-side-port', phase: 'running', value: 220e5, unit: 'bar' },
      'impossible',
      'psi-typed-as-bar',
    ],
    [
      'high side 16 bar typed as psi',
      { quantity: 'pressure', place: 'high-side-port', phase: 'running', value: 16 * psi, unit: '[psi]' },
      'unlikely',
      'bar-typed-as-psi',
    ],
    [
      'recovered 520 g typed as kg',
      { quantity: 'mass', meaning: 'recovered-charge', value: 520, unit: 'kg' },
      'impossible',
      'g-typed-as-kg',
    ],
    ['humidity 55 typed as a ratio', { quantity: 'relative-humidity', value: 55, unit: '1' }, 'impossible', 'percent-typed-as-ratio'],
    [
      'engine 1500 a minute typed as a second',
      { quantity: 'speed', value: 1500, unit: '/s' },
      'impossible',
      'per-minute-typed-as-per-second',
    ],
  ] as const)('names the slip: %s', (_name, reading, verdict, slip) => {
    const judgement = judgeReading(reading);
    expect(judgement.verdict).toBe(verdict);
    expect(judgement.slip).toBe(slip);
  });

  it('refuses a vacuum deeper than the local barometer (barometer 24.9 inHg at 5,000 ft, US Army TM 5-3805-296)', () => {
    const reading = { quantity: 'pressure', place: 'low-side-port', phase: 'rest', value: -28 * 3386.389 } as const;
    expect(judgeReading(reading).verdict).toBe('unlikely');
    const high = judgeReading(reading, { barometerPa: 24.9 * 3386.389 });
    expect(high.verdict).toBe('impossible');
    expect(high.reason).toContain('24.9 inHg');
  });

  it('lets a low side in vacuum wait for one confirmation', () => {
    const reading = { quantity: 'pressure', place: 'low-side-port', phase: 'running', value: -5 * psi } as const;
    expect(judgeReading(reading).verdict).toBe('unlikely');
    expect(judgeReading({ ...reading, confirmed: true }).verdict).toBe('plausible');
  });

  it('never lets a confirmation rescue the impossible, and refuses what is not a number', () => {
    expect(judgeReading({ quantity: 'temperature', place: 'outside', value: kelvin(95), confirmed: true }).verdict).toBe('impossible');
    expect(judgeReading({ quantity: 'temperature', value: Number.NaN }).verdict).toBe('impossible');
  });

  it('guesses a gauge value typed as absolute', () => {
    const judgement = judgeReading({
      quantity: 'pressure',
      place: 'low-side-port',
      phase: 'running',
      value: 0.9e5,
      reference: 'absolute',
      unit: 'bar',
    });
    expect(judgement).toMatchObject({ verdict: 'unlikely', slip: 'gauge-typed-as-absolute' });
  });

  it('judges the conditions by field', () => {
    expect(judgeConditions({ outsideAirK: kelvin(90), relativeHumidity: 0.5 })).toMatchObject([
      { field: 'outsideAirK', slip: 'degF-typed-as-Cel' },
    ]);
  });
});
