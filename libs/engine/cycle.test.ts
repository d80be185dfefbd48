import { describe, expect, it } from '@jest/globals';
import { saturationCurve } from '#libs/refrigerant/index.js';
import { circuitCycles } from './cycle.js';
import { expectedHealthy } from './diagnose.js';
import type { EngineInput, EngineReading } from './evidence.js';

const psi = (place: EngineReading['place'], value: number): EngineReading => ({
  id: `${place} ${value}`,
  quantity: 'pressure',
  place: place!,
  phase: 'running',
  reference: 'absolute',
  value: value * 6894.757,
});
const celsius = (place: EngineReading['place'], value: number): EngineReading => ({
  id: `${place} ${value} C`,
  quantity: 'temperature',
  place: place!,
  phase: 'running',
  value: value + 273.15,
});
const input = (readings: readonly EngineReading[], parts: Partial<EngineInput> = {}): EngineInput => ({
  platform: {
    layout: 'valve-integral-receiver',
    compressor: 'fixed-clutch',
    refrigerant: 'R-134a',
    highSidePort: 'liquid-line-after-drier',
    highSideTransducer: 'compressor-discharge',
    lowSidePort: 'compressor-suction',
  },
  elevationM: 1_800,
  conditions: { outsideAirK: 303.15, airSource: 'recirculated', runningS: 720 },
  readings,
  findings: [],
  thermalMaps: [],
  traces: [],
  ...parts,
});
const of = (states: ReturnType<typeof circuitCycles>['seen'], place: string) => states.find((state) => state.place === place);

describe('the cycle in pressure and enthalpy', () => {
  const whole = circuitCycles(
    input([
      psi('compressor-suction', 40),
      psi('compressor-discharge', 270),
      psi('liquid-line-after-drier', 160),
      celsius('compressor-suction', 14),
      celsius('compressor-discharge', 92),
      celsius('liquid-line-after-drier', 33),
    ]),
  );

  it('has the healthy side the answers are judged by', () => {
    const expected = new Map(expectedHealthy(input([])).map((one) => [one.observation, one]));
    const suction = of(whole.healthy, 'compressor-suction')!;
    expect(suction.pressurePa).toBeCloseTo(expected.get('low-pressure')!.value, 3);
    expect(suction.pressureErrorPa).toBeCloseTo(expected.get('low-pressure')!.tolerance, 3);
    expect(of(whole.healthy, 'condenser-inlet')!.pressurePa).toBeCloseTo(expected.get('discharge-pressure')!.value, 3);
    expect(of(whole.healthy, 'compressor-discharge')!.temperatureK).toBeCloseTo(expected.get('discharge-temperature')!.value, 6);
    expect(whole.healthy.map(({ place }) => place)).toEqual([
      'compressor-suction',
      'compressor-discharge',
      'condenser-inlet',
      'condenser-outlet',
      'valve-inlet',
      'valve-outlet',
      'evaporator-outlet',
    ]);
    expect(whole.healthy.every(({ enthalpyJPerKg }) => enthalpyJPerKg !== null)).toBe(true);
    // Heat given off is heat taken up and work put in: the corners must lie in that order.
    const h = (place: string) => of(whole.healthy, place)!.enthalpyJPerKg!;
    expect(h('valve-outlet')).toBeLessThan(h('evaporator-outlet'));
    expect(h('compressor-suction')).toBeLessThan(h('compressor-discharge'));
    expect(h('valve-inlet')).toBe(h('valve-outlet'));
  });

  /** Cengel & Boles, Thermodynamics, Example 11-2, whose zero at -40 °C lies 148.14 kJ/kg below ours. */
  it('places what was read where tables have it', () => {
    const book = circuitCycles(
      input([
        { ...psi('compressor-suction', 0), value: 0.14e6 },
        celsius('compressor-suction', -10),
        { ...psi('compressor-discharge', 0), value: 0.8e6 },
        celsius('compressor-discharge', 50),
      ]),
    );
    expect(Math.abs(of(book.seen, 'compressor-suction')!.enthalpyJPerKg! / 1e3 - 148.14 - 246.36)).toBeLessThan(0.3);
    expect(Math.abs(of(book.seen, 'compressor-discharge')!.enthalpyJPerKg! / 1e3 - 148.14 - 286.69)).toBeLessThan(0.3);
    expect(of(whole.seen, 'compressor-discharge')).toMatchObject({
      phase: 'vapour',
      reckoned: false,
      readings: ['compressor-discharge 270', 'compressor-discharge 92 C'],
    });
    expect(of(whole.seen, 'valve-inlet')).toMatchObject({ phase: 'liquid', pressureAt: 'liquid-line-after-drier' });
    expect(of(whole.seen, 'valve-outlet')).toMatchObject({
      phase: 'mixture',
      reckoned: true,
      enthalpyJPerKg: of(whole.seen, 'valve-inlet')!.enthalpyJPerKg,
    });
  });

  it('gives a level and no point for a pressure alone, and never borrows across the condenser', () => {
    const { seen, cautions } = circuitCycles(input([psi('compressor-discharge', 270), celsius('condenser-outlet', 40)]));
    expect(seen).toHaveLength(1);
    expect(seen[0]).toMatchObject({ place: 'compressor-discharge', temperatureK: null, enthalpyJPerKg: null, phase: null });
    expect(cautions.join()).toMatch(/a level and no point: a thermometer/);
  });

  it('does not say how much is vapour near saturation', () => {
    const curve = saturationCurve('R-134a');
    const point = curve.find(({ T }) => Math.round(T - 273.15) === 10)!;
    const { seen, cautions } = circuitCycles(
      input([{ ...psi('compressor-suction', 0), value: point.p }, celsius('compressor-suction', 10.8)]),
    );
    expect(seen[0]).toMatchObject({ phase: 'mixture', enthalpyJPerKg: null });
    expect(cautions.join()).toMatch(/do not tell how much of it is vapour/);
  });

  it('is drawn for readings no system has, and for none', () => {
    const wild = circuitCycles(
      input([psi('compressor-discharge', 5_000), celsius('compressor-discharge', 900), psi('compressor-suction', 0.1)]),
    );
    expect(wild.seen.every(({ pressurePa }) => Number.isFinite(pressurePa))).toBe(true);
    expect(circuitCycles(input([])).seen).toEqual([]);
  });
});
