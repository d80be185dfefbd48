import { describe, expect, it } from '@jest/globals';
import type { EngineInput } from './evidence.js';
import { trustChecks } from './index.js';

const PSI = 6894.757293168;
const base: EngineInput = {
  platform: {
    layout: 'valve-receiver',
    compressor: 'fixed-clutch',
    refrigerant: 'R-134a',
    highSidePort: 'condenser-inlet',
    highSideTransducer: 'condenser-outlet',
  },
  elevationM: 1600,
  conditions: { outsideAirK: 303 },
  readings: [],
  findings: [],
  thermalMaps: [],
  traces: [],
};
const codes = (input: EngineInput) => trustChecks(input).map((t) => t.code);

describe('trust checks', () => {
  it('names a barometer reduced to sea level', () => {
    expect(codes({ ...base, conditions: { barometerPa: 101_600 } })).toContain('barometer-reduced');
  });

  it('doubts a station barometer that cannot stand at this elevation', () => {
    expect(codes({ ...base, conditions: { barometerPa: 94_000, barometerKind: 'station' } })).toContain('barometer-elevation');
  });

  it('says when neither barometer nor elevation is known', () => {
    expect(codes({ ...base, elevationM: undefined })).toContain('barometer-unknown');
  });

  it('leaves out a vacuum deeper than the local barometer and names it', () => {
    const readings = [{ id: 'v', quantity: 'pressure', place: 'low-side-port', phase: 'rest', value: -28 * 3386.389 } as const];
    expect(trustChecks({ ...base, readings })[0]).toMatchObject({ code: 'impossible-value', level: 'stop', readings: ['v'] });
  });

  it('guesses the unit slip of an impossible value', () => {
    const readings = [{ id: 't', quantity: 'temperature', place: 'vent', phase: 'running', value: 273.15 + 95 } as const];
    expect(trustChecks({ ...base, readings })[0]).toMatchObject({ code: 'unit-slip', level: 'stop' });
  });

  it('asks for a comparison at rest when gauge and transducer were read only running', () => {
    const readings = [
      {
        id: 'g',
        quantity: 'pressure',
        place: 'high-side-port',
        phase: 'running',
        value: 200 * PSI,
        instrument: 'manifold-gauge',
        reference: 'vented-gauge',
      },
      {
        id: 't',
        quantity: 'pressure',
        place: 'high-side-transducer',
        phase: 'running',
        value: 190 * PSI,
        instrument: 'vehicle-transducer',
        reference: 'vented-gauge',
      },
    ] as const;
    expect(codes({ ...base, readings })).toContain('rest-missing');
  });

  it('doubts pressures that have not equalised, and samples that have not settled', () => {
    const readings = [
      { id: 'a', quantity: 'pressure', place: 'high-side-port', phase: 'rest', value: 120 * PSI, reference: 'vented-gauge' },
      { id: 'b', quantity: 'pressure', place: 'low-side-port', phase: 'rest', value: 60 * PSI, reference: 'vented-gauge' },
      { id: 'c', quantity: 'pressure', place: 'low-side-port', phase: 'running', value: 25 * PSI, reference: 'vented-gauge' },
    ] as const;
    expect(codes({ ...base, conditions: { ...base.conditions, runningS: 60 }, readings })).toEqual(
      expect.arrayContaining(['not-equalised', 'unsettled']),
    );
  });

  it('stops at hoses on the wrong ports', () => {
    const readings = [
      { id: 'a', quantity: 'pressure', place: 'high-side-port', phase: 'running', value: 40 * PSI, reference: 'vented-gauge' },
      { id: 'b', quantity: 'pressure', place: 'low-side-port', phase: 'running', value: 90 * PSI, reference: 'vented-gauge' },
    ] as const;
    expect(codes({ ...base, readings })).toContain('sides-swapped');
  });
});
