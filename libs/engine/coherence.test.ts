import { describe, expect, it } from '@jest/globals';
import { analyse } from './analysis.js';
import { astray } from './coherence.js';
import { diagnose, type EngineInput, type EngineReading, type Place } from './index.js';

const K = (celsius: number) => celsius + 273.15;
const reading = (id: string, place: Place, quantity: 'pressure' | 'temperature', value: number): EngineReading => ({
  id,
  quantity,
  place,
  phase: 'running',
  instrument: quantity === 'pressure' ? 'manifold-gauge' : 'thermometer',
  ...(quantity === 'pressure' && { reference: 'vented-gauge' }),
  value: quantity === 'pressure' ? value * 1e5 : K(value),
});
const sound: EngineInput = {
  platform: {
    layout: 'valve-receiver',
    compressor: 'fixed-clutch',
    refrigerant: 'R-134a',
    highSidePort: 'condenser-inlet',
    lowSidePort: 'compressor-suction',
    dualEvaporator: false,
  },
  elevationM: 100,
  conditions: { outsideAirK: K(30), evaporatorAirK: K(26), relativeHumidity: 0.45, engineSpeedPerS: 25, blower: 1, runningS: 600 },
  readings: [
    reading('low', 'low-side-port', 'pressure', 1.9),
    reading('high', 'high-side-port', 'pressure', 12.5),
    reading('suction', 'compressor-suction', 'temperature', 8),
    reading('liquid', 'condenser-outlet', 'temperature', 43),
    reading('discharge', 'compressor-discharge', 'temperature', 80),
    reading('vent', 'vent', 'temperature', 8),
    reading('core', 'evaporator-core', 'temperature', 5),
  ],
  findings: [],
  thermalMaps: [],
  traces: [],
};
const withValues = (values: Readonly<Record<string, number>>): EngineInput => ({
  ...sound,
  readings: sound.readings.map((r) => (values[r.id] === undefined ? r : { ...r, value: values[r.id]! })),
});

describe('readings that belong together', () => {
  it('are believed, and so is one that is wild', () => {
    // Seven running readings start at 0.12.
    expect(analyse(sound).astray).toBeLessThan(0.15);
    expect(analyse(withValues({ discharge: K(150) })).astray).toBeLessThan(0.5);
  });

  it('are not believed when each is of another vehicle: the answer falls back to the prior and says why', () => {
    // Vents colder than the refrigerant that cools them, a core far warmer, liquid above its saturation, suction above the cabin.
    const apart = withValues({ low: 3.6e5, vent: K(1), core: K(22), liquid: K(62), suction: K(33), discharge: K(52) });
    const { posterior, prior, astray: lost } = analyse(apart);
    expect(lost).toBeGreaterThan(0.9);
    for (const [code, p] of prior) expect(Math.abs(posterior.codes.get(code)! - p)).toBeLessThan(0.1);
    const answer = diagnose(apart);
    expect(answer.status).toBe('cannot-tell');
    expect(answer.reason).toContain('do not belong together');
    expect(answer.trust.find((t) => t.code === 'readings-apart')?.readings).toHaveLength(7);
  });
});

describe('the odds of it', () => {
  it('say nothing below two readings, and rise with them when apart and together are as likely', () => {
    expect(astray(0, -50, 1)).toBe(0);
    const odds = [2, 4, 8].map((n) => astray(-10, -10, n));
    expect(odds[0]).toBeCloseTo(0.006, 12);
    expect(odds[0]!).toBeLessThan(odds[1]!);
    expect(odds[1]!).toBeLessThan(odds[2]!);
  });

  it('are monotone in the evidence and stay probabilities at its ends', () => {
    expect(astray(-20, -10, 6)).toBeLessThan(astray(-10, -20, 6));
    expect(astray(-2000, 0, 6)).toBeGreaterThanOrEqual(0);
    expect(astray(0, -2000, 6)).toBeLessThanOrEqual(1);
  });
});
