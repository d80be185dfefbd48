import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import type { EngineInput, EngineReading } from './evidence.js';
import {
  CATALOGUE,
  diagnose,
  expectedHealthy,
  FAULT_CODES,
  FINDING_CODES,
  HYPOTHESIS_CODES,
  judgeReading,
  PLACES,
  signatureDimensions,
} from './index.js';

const high = [
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  null,
] as const;
const platform = fc.record({
  layout: fc.constantFrom('orifice-accumulator', 'valve-receiver', 'valve-integral-receiver'),
  compressor: fc.constantFrom('fixed-clutch', 'variable', 'variable-commanded', 'electric'),
  refrigerant: fc.constantFrom('R-134a', 'R-1234yf'),
  chargeKg: fc.option(fc.double({ min: 0.3, max: 1.5, noNaN: true }), { nil: null }),
  highSidePort: fc.constantFrom(...high),
  highSideTransducer: fc.constantFrom(...high),
  transducerReference: fc.constantFrom('vented-gauge', 'sealed-gauge', 'absolute', 'unknown', null),
}) as fc.Arbitrary<EngineInput['platform']>;
const reading = fc.record(
  {
    id: fc.uuid(),
    quantity: fc.constantFrom('pressure', 'temperature', 'mass', 'fraction', 'time', 'speed'),
    place: fc.constantFrom(...PLACES),
    phase: fc.constantFrom('rest', 'running'),
    stage: fc.constantFrom('before', 'after'),
    meaning: fc.constantFrom(
      'recovered-charge',
      'air-share',
      'equalisation-time',
      'compressor-command',
      'vacuum-rise',
      'oil-recovered',
      'compressor-speed',
    ),
    instrument: fc.constantFrom('manifold-gauge', 'vehicle-transducer', 'thermometer', 'thermal-imager'),
    reference: fc.constantFrom('vented-gauge', 'sealed-gauge', 'absolute', 'unknown'),
    value: fc.oneof(
      fc.double({ min: -2e5, max: 5e6, noNaN: true }),
      fc.double({ min: 230, max: 420, noNaN: true }),
      fc.double({ min: 0, max: 2, noNaN: true }),
    ),
  },
  { requiredKeys: ['id', 'quantity', 'value'] },
) as fc.Arbitrary<EngineReading>;
const temperature = fc.option(fc.double({ min: 250, max: 325, noNaN: true }), { nil: undefined });
const input = fc.record({
  platform,
  elevationM: fc.option(fc.integer({ min: -400, max: 4000 }), { nil: undefined }),
  conditions: fc.record({
    outsideAirK: temperature,
    evaporatorAirK: temperature,
    soakTemperatureK: temperature,
    soakedS: fc.option(fc.integer({ min: 0, max: 1e5 }), { nil: undefined }),
  }),
  readings: fc.array(reading, { maxLength: 14 }),
  findings: fc.array(fc.record({ code: fc.constantFrom(...FINDING_CODES) }), { maxLength: 4 }),
  thermalMaps: fc.array(
    fc.record({
      rowsK: fc.array(fc.array(fc.double({ min: 270, max: 370, noNaN: true }), { minLength: 1, maxLength: 3 }), { maxLength: 12 }),
    }),
    { maxLength: 2 },
  ),
  traces: fc.constant([]),
}) as fc.Arbitrary<EngineInput>;

describe('whatever is typed', () => {
  it('gets an answer with finite numbers, ordered probabilities and a signature of the stated length', () => {
    fc.assert(
      fc.property(input, (case_) => {
        const result = diagnose(case_);
        let last = Number.POSITIVE_INFINITY;
        for (const f of result.faults) {
          expect(Number.isFinite(f.probability)).toBe(true);
          expect(f.probability).toBeLessThanOrEqual(last);
          last = f.probability;
          if (f.severity) {
            expect(f.severity.low).toBeLessThanOrEqual(f.severity.value);
            expect(f.severity.value).toBeLessThanOrEqual(f.severity.high);
          }
        }
        for (const line of result.ledger) for (const w of line.weights) expect(Number.isFinite(w.logOdds)).toBe(true);
        expect(result.signature.values).toHaveLength(signatureDimensions.length);
        expect(result.cautions.length).toBeGreaterThan(4);
        expect(JSON.stringify(result)).not.toContain('NaN');
      }),
      { numRuns: 150, seed: 20_261_125 },
    );
  });

  it('does not depend on the order of readings or findings', () => {
    fc.assert(
      fc.property(input, (case_) => {
        const reversed = {
          ...case_,
          readings: [...case_.readings].reverse(),
          findings: [...case_.findings].reverse(),
          thermalMaps: [...case_.thermalMaps].reverse(),
        };
        expect(diagnose(reversed)).toEqual(diagnose(case_));
      }),
      { numRuns: 60, seed: 7 },
    );
  });

  it('is judged without throwing', () => {
    fc.assert(
      fc.property(reading, (r) => {
        expect(['impossible', 'unlikely', 'plausible']).toContain(judgeReading(r).verdict);
      }),
      { numRuns: 300, seed: 3 },
    );
  });
});

describe('catalogue', () => {
  it('holds 33 faults and 5 measurement errors, each once, and leads only to faults it knows', () => {
    expect(CATALOGUE.map((e) => e.code)).toEqual([...HYPOTHESIS_CODES]);
    expect(CATALOGUE.filter((e) => e.kind === 'fault')).toHaveLength(33);
    expect(CATALOGUE.filter((e) => e.kind === 'measurement')).toHaveLength(5);
    for (const e of CATALOGUE) {
      for (const code of e.leadsTo) expect(FAULT_CODES).toContain(code);
      expect(e.seenBy.length).toBeGreaterThan(0);
    }
  });
});

describe('expectedHealthy', () => {
  const at = (outsideF: number) =>
    new Map(
      expectedHealthy({
        platform: { layout: 'valve-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' },
        elevationM: 0,
        conditions: {
          outsideAirK: (outsideF - 32) / 1.8 + 273.15,
          airSource: 'recirculated',
          relativeHumidity: 0.5,
          compressorSpeedPerS: 25,
        },
        readings: [],
        findings: [],
        thermalMaps: [],
        traces: [],
      }).map((e) => [e.observation, e]),
    );

  // US Army TM 5-3805-290-23-1 WP 0018, Table 1: R-134a, max cool, fan high, at least ten minutes; psig.
  it.each([
    [70, 120, 190, 10, 20],
    [80, 140, 210, 10, 25],
    [90, 170, 240, 15, 30],
    [100, 190, 270, 15, 30],
    [110, 210, 300, 15, 30],
  ])('stands inside the published window at %i F', (f, highLow, highHigh, lowLow, lowHigh) => {
    const psig = (name: string) => (at(f).get(name)!.value - 101_325) / 6894.757;
    expect(psig('discharge-pressure')).toBeGreaterThan(highLow);
    expect(psig('discharge-pressure')).toBeLessThan(highHigh);
    expect(psig('low-pressure')).toBeGreaterThan(lowLow - 1);
    expect(psig('low-pressure')).toBeLessThan(lowHigh);
  });

  // From memory, no source: subcooling at the condenser outlet in kelvin, as the trade expects it of sound systems.
  it.each([
    ['orifice-accumulator', 6, 11],
    ['valve-receiver', 1, 6],
    ['valve-integral-receiver', 6, 12],
  ] as const)('%s subcools by what the trade expects on a warm day', (layout, low, high) => {
    const { value } = expectedHealthy({
      platform: { layout, compressor: 'fixed-clutch', refrigerant: 'R-134a' },
      elevationM: 0,
      conditions: { outsideAirK: 305, airSource: 'recirculated', relativeHumidity: 0.5, compressorSpeedPerS: 25 },
      readings: [],
      findings: [],
      thermalMaps: [],
      traces: [],
    }).find((e) => e.observation === 'subcooling')!;
    expect(value).toBeGreaterThan(low);
    expect(value).toBeLessThan(high);
  });

  it('differs between the refrigerants by no more than their saturation does (R-134a 229.2, R-1234yf 223.4 psig at 140 F)', () => {
    const of = (refrigerant: 'R-134a' | 'R-1234yf') =>
      expectedHealthy({
        platform: { layout: 'valve-receiver', compressor: 'fixed-clutch', refrigerant },
        elevationM: 0,
        conditions: { outsideAirK: 308, airSource: 'recirculated' },
        readings: [],
        findings: [],
        thermalMaps: [],
        traces: [],
      }).find((e) => e.observation === 'discharge-pressure')!.value / 6894.757;
    expect(Math.abs(of('R-134a') - of('R-1234yf'))).toBeLessThan(10);
  });
});
