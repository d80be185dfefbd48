import { describe, expect, it } from '@jest/globals';
import { diagnose, type EngineInput, type EnginePlatform, type EngineReading, type FindingCode, type Place } from '#libs/engine/index.js';
import { REFERENCE_CASES, type ReferenceCase } from './data/engine/cases.js';

const PSI = 6894.757293168;
const fahrenheit = (f: number) => (f - 32) / 1.8 + 273.15;

const common = { refrigerant: 'R-134a', chargeKg: 0.6, transducerReference: 'vented-gauge', dualEvaporator: false } as const;
const PLATFORMS: Record<ReferenceCase['system'], EnginePlatform> = {
  orifice: {
    ...common,
    layout: 'orifice-accumulator',
    compressor: 'fixed-clutch',
    lowSidePort: 'accumulator',
    highSidePort: 'condenser-inlet',
    highSideTransducer: 'condenser-outlet',
  },
  valve: {
    ...common,
    layout: 'valve-receiver',
    compressor: 'fixed-clutch',
    lowSidePort: 'compressor-suction',
    highSidePort: 'condenser-inlet',
    highSideTransducer: 'condenser-outlet',
  },
  integral: {
    ...common,
    layout: 'valve-integral-receiver',
    compressor: 'fixed-clutch',
    lowSidePort: 'compressor-suction',
    highSidePort: 'condenser-outlet',
    highSideTransducer: 'condenser-inlet',
    subcoolShare: 0.22,
  },
  variable: {
    ...common,
    layout: 'valve-integral-receiver',
    compressor: 'variable-commanded',
    lowSidePort: 'compressor-suction',
    highSidePort: 'condenser-outlet',
    highSideTransducer: 'condenser-inlet',
  },
  electric: {
    ...common,
    layout: 'valve-integral-receiver',
    compressor: 'electric',
    lowSidePort: 'compressor-suction',
    highSidePort: 'condenser-outlet',
    highSideTransducer: 'condenser-inlet',
  },
};

function inputOf(c: ReferenceCase): EngineInput {
  const platform = PLATFORMS[c.system];
  const readings: EngineReading[] = [];
  const add = (r: Omit<EngineReading, 'id'>) => readings.push({ id: `r${readings.length}`, ...r });
  const portIsInlet = platform.highSidePort === 'condenser-inlet';
  const pressure = (value: number | undefined, place: Place, phase: 'rest' | 'running') => {
    if (value === undefined) return;
    const transducer = place === 'high-side-transducer';
    add({
      quantity: 'pressure',
      value: value * PSI,
      place,
      phase,
      reference: 'vented-gauge',
      instrument: transducer ? 'vehicle-transducer' : 'manifold-gauge',
    });
  };
  pressure(c.low, 'low-side-port', 'running');
  pressure(c.dis, portIsInlet ? 'high-side-port' : 'high-side-transducer', 'running');
  pressure(c.liq, portIsInlet ? 'high-side-transducer' : 'high-side-port', 'running');
  pressure(c.restGauge, 'high-side-port', 'rest');
  pressure(c.restLow, 'low-side-port', 'rest');
  pressure(c.restTransducer, 'high-side-transducer', 'rest');
  const temperature = (value: number | undefined, place: Place) => {
    if (value !== undefined) add({ quantity: 'temperature', value: fahrenheit(value), place, phase: 'running', instrument: 'thermometer' });
  };
  temperature(c.vent, 'vent');
  temperature(c.core, 'evaporator-core');
  temperature(c.suction, c.system === 'orifice' ? 'accumulator' : 'evaporator-outlet');
  temperature(c.liquid, 'condenser-outlet');
  temperature(c.afterDrier, 'liquid-line-after-drier');
  temperature(c.discharge, 'compressor-discharge');
  if (c.charge !== undefined) add({ quantity: 'mass', meaning: 'recovered-charge', place: 'service-machine', value: c.charge * 0.6 });
  if (c.oilG !== undefined) add({ quantity: 'mass', meaning: 'oil-recovered', place: 'service-machine', value: c.oilG / 1000 });
  if (c.command !== undefined) add({ quantity: 'fraction', meaning: 'compressor-command', value: c.command });
  if (c.airShare !== undefined) add({ quantity: 'fraction', meaning: 'air-share', instrument: 'identifier', value: c.airShare });
  if (c.purity !== undefined) add({ quantity: 'fraction', meaning: 'refrigerant-purity', instrument: 'identifier', value: c.purity });
  if (c.equaliseS !== undefined) add({ quantity: 'time', meaning: 'equalisation-time', value: c.equaliseS });
  if (c.speedRatio !== undefined) {
    add({ quantity: 'speed', meaning: 'compressor-speed-requested', value: 80 });
    add({ quantity: 'speed', meaning: 'compressor-speed', value: 80 * c.speedRatio });
  }
  const air = fahrenheit(c.air ?? 85);
  const soaked = c.soakedHours !== undefined;
  return {
    platform,
    elevationM: (c.elevationFt ?? 300) * 0.3048,
    conditions: {
      outsideAirK: air,
      ...(soaked ? { soakedS: c.soakedHours! * 3600, soakTemperatureK: air } : {}),
      ...(c.low === undefined && c.dis === undefined
        ? {}
        : {
            runningS: (c.minutes ?? 10) * 60,
            engineSpeedPerS: (c.rpm ?? 1200) / 60,
            airSource: c.outsideAirIn ? 'outside' : 'recirculated',
            relativeHumidity: 0.45,
            blower: 1,
          }),
    },
    readings,
    findings: (c.findings ?? []).map((code) => ({ code: code as FindingCode })),
    thermalMaps: c.rows ? [{ rowsK: c.rows.map((f) => [fahrenheit(f), fahrenheit(f)]) }] : [],
    traces: [],
    complaint: c.complaint,
  };
}

describe('cases from public-domain manuals and trade practice', () => {
  it('holds at least sixty, each with its source', () => {
    expect(REFERENCE_CASES.length).toBeGreaterThanOrEqual(60);
    for (const c of REFERENCE_CASES) expect(c.source.length).toBeGreaterThan(5);
  });

  it.each(REFERENCE_CASES.map((c) => [`${c.name} (${c.system}; ${c.source})`, c] as const))('%s', (_name, c) => {
    const result = diagnose(inputOf(c));
    const answer = result.faults
      .slice(0, 4)
      .map((f) => `${f.code}${f.cascade ? `<${f.cascade}` : ''} ${f.probability.toFixed(2)}`)
      .join(', ');
    expect(c.accept.includes(result.faults[0]!.code) ? 'acceptable' : answer).toBe('acceptable');
  });
});
