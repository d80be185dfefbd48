import { describe, expect, it } from '@jest/globals';
import type { EngineInput, EnginePlatform, EngineReading } from './evidence.js';
import { diagnose, trustChecks } from './index.js';

const PSI = 6894.757293168;
const K = (celsius: number) => celsius + 273.15;

/** Port after the condenser, transducer at the compressor outlet; shop at 1,800 m. */
const platform: EnginePlatform = {
  layout: 'valve-integral-receiver',
  compressor: 'fixed-clutch',
  refrigerant: 'R-134a',
  chargeKg: 0.55,
  highSidePort: 'condenser-outlet',
  highSideTransducer: 'compressor-discharge',
  lowSidePort: 'compressor-suction',
  transducerReference: 'vented-gauge',
  subcoolShare: 0.22,
  dualEvaporator: false,
};
let n = 0;
const psig = (
  place: EngineReading['place'],
  phase: 'rest' | 'running',
  value: number,
  instrument: EngineReading['instrument'] = 'manifold-gauge',
): EngineReading => ({
  id: `r${++n}`,
  quantity: 'pressure',
  place,
  phase,
  instrument,
  reference: 'vented-gauge',
  value: value * PSI,
});
const celsius = (place: EngineReading['place'], value: number): EngineReading => ({
  id: `r${++n}`,
  quantity: 'temperature',
  place,
  phase: 'running',
  instrument: 'thermometer',
  value: K(value),
});
const base: EngineInput = {
  platform,
  elevationM: 1800,
  conditions: {
    outsideAirK: K(32),
    condenserAirK: K(33),
    evaporatorAirK: K(28),
    relativeHumidity: 0.4,
    airSource: 'recirculated',
    engineSpeedPerS: 25,
    runningS: 600,
  },
  readings: [],
  findings: [],
  thermalMaps: [],
  traces: [],
};
const story: EngineInput = {
  ...base,
  readings: [
    psig('high-side-port', 'rest', 84),
    psig('low-side-port', 'rest', 84),
    psig('high-side-transducer', 'rest', 88, 'vehicle-transducer'),
    psig('low-side-port', 'running', 26),
    psig('high-side-port', 'running', 150),
    psig('high-side-transducer', 'running', 255, 'vehicle-transducer'),
  ],
};
const top = (input: EngineInput) => diagnose(input).faults[0]!.code;

describe('a pressure lost inside the condenser', () => {
  it('is placed between transducer and port, and passages and cartridge are not told apart by two pressures', () => {
    const result = diagnose(story);
    expect(['condenser-passages', 'filter-cartridge']).toContain(result.faults[0]!.code);
    expect([...result.tied].sort()).toEqual(['condenser-passages', 'filter-cartridge']);
    expect(result.restriction).toMatchObject({ after: 'compressor-discharge', before: 'condenser-outlet' });
    expect([...result.restriction!.candidates].sort()).toEqual(['condenser-passages', 'filter-cartridge']);
    expect(result.nextTests.slice(0, 2).map((t) => t.code)).toContain('cartridge-temperature-step');
    expect(result.trust.find((t) => t.code === 'rest-agreement')).toMatchObject({ level: 'ok' });
  });

  it('is settled to the cartridge by a temperature step there', () => {
    const rows = [72, 62, 60, 59, 58, 57.5, 57, 41, 40].map((t) => [K(t), K(t)]);
    const result = diagnose({ ...story, thermalMaps: [{ rowsK: rows }] });
    expect(result.faults[0]!.code).toBe('filter-cartridge');
    expect(result.thermal).toMatchObject({ verdict: 'step-at-cartridge', leftOut: 0 });
    expect(result.thermal!.rows).toHaveLength(9);
    expect(top({ ...story, findings: [{ code: 'temperature-step-at-cartridge' }] })).toBe('filter-cartridge');
  });

  it('is settled to the passages by a step inside a pass and cold lower rows', () => {
    const rows = [72, 62, 60, 58, 40, 33, 31, 31, 30].map((t) => [K(t), K(t)]);
    const result = diagnose({ ...story, thermalMaps: [{ rowsK: rows }] });
    expect(result.faults[0]!.code).toBe('condenser-passages');
    expect(result.restriction!.heightShare).toBeGreaterThan(0.3);
    expect(result.restriction!.heightShare).toBeLessThan(0.6);
    expect(result.thermal).toMatchObject({ verdict: 'step-inside', stepAt: result.restriction!.heightShare });
    // A sound condenser agrees above the step, and is warmer below it by the step.
    const [, second, , , fifth] = result.thermal!.rows;
    expect(Math.abs(second!.temperatureK - second!.healthyK)).toBeLessThan(4);
    expect(fifth!.healthyK - fifth!.temperatureK).toBeGreaterThan(12);
  });

  it('leaves out what stands in the warm air of another cooler, and says how much', () => {
    const rows = [72, 62, 60, 58, 40, 33, 31, 31, 30].map((t) => [K(t), K(t)]);
    const shaded = { ...platform, coolerZones: [{ left: 0, right: 0.5, top: 0, bottom: 1 }] };
    expect(diagnose({ ...story, platform: shaded, thermalMaps: [{ rowsK: rows }] }).thermal!.leftOut).toBe(9);
    expect(diagnose({ ...story, thermalMaps: [{ rowsK: rows.slice(0, 3) }] }).thermal).toBeNull();
  });

  it('turns round when port and transducer change places: the pressures no longer fit a restriction', () => {
    const swapped = {
      ...story,
      platform: { ...platform, highSidePort: 'compressor-discharge', highSideTransducer: 'condenser-outlet' } as const,
    };
    const result = diagnose(swapped);
    expect(result.restriction).toBeNull();
    expect(['condenser-passages', 'filter-cartridge']).not.toContain(result.faults[0]!.code);
  });

  it('is bias when the same difference stands at rest', () => {
    const biased = {
      ...story,
      readings: story.readings.map((r) =>
        r.instrument === 'vehicle-transducer' && r.phase === 'rest'
          ? { ...r, value: r.value + 55 * PSI }
          : r.place === 'high-side-port' && r.phase === 'running'
            ? { ...r, value: 195 * PSI }
            : r,
      ),
    };
    expect(['pressure-sensor-bias', 'gauge-bias', 'transducer-bias']).toContain(top(biased));
  });
});

describe('rest alone', () => {
  const soaked = { ...base.conditions, soakTemperatureK: K(20), soakedS: 10 * 3600 };
  it('finds air', () => {
    // R-134a saturates at 5.72 bar absolute at 20 C; 1,800 m stands at 0.815 bar: 4.90 bar gauge would be sound.
    const input = {
      ...base,
      conditions: soaked,
      readings: [
        psig('high-side-port', 'rest', 71 + 22),
        psig('low-side-port', 'rest', 71 + 22),
        psig('high-side-transducer', 'rest', 71 + 23, 'vehicle-transducer'),
      ],
    };
    expect(top(input)).toBe('air-in-system');
  });
  it('finds bias', () => {
    const input = {
      ...base,
      conditions: soaked,
      readings: [
        psig('high-side-port', 'rest', 71),
        psig('low-side-port', 'rest', 71),
        psig('high-side-transducer', 'rest', 71 + 35, 'vehicle-transducer'),
      ],
    };
    expect(top(input)).toBe('pressure-sensor-bias');
  });
  it('finds a nearly empty system and says that nothing else can be told', () => {
    const result = diagnose({
      ...base,
      conditions: soaked,
      readings: [psig('high-side-port', 'rest', 20), psig('low-side-port', 'rest', 20)],
    });
    expect(result.faults[0]!.code).toBe('undercharge');
    expect(result.status).toBe('cannot-tell');
    expect(result.nextTests.length).toBeGreaterThan(0);
  });
  it('gives no verdict on air without a soak', () => {
    const conditions = { ...base.conditions, soakedS: 1800 };
    const result = diagnose({ ...base, conditions, readings: [psig('high-side-port', 'rest', 115), psig('low-side-port', 'rest', 115)] });
    expect(result.faults[0]!.code).not.toBe('air-in-system');
    expect(result.trust.map((t) => t.code)).toContain('not-soaked');
  });
  it('takes an absolute transducer for what it is when its reference is unknown', () => {
    const unknown = { ...platform, transducerReference: 'unknown' } as const;
    const absolute = { ...psig('high-side-transducer', 'rest', 71 + 11.8, 'vehicle-transducer'), reference: 'unknown' } as const;
    const input = { ...base, platform: unknown, conditions: soaked, readings: [psig('high-side-port', 'rest', 71), absolute] };
    expect(trustChecks(input).map((t) => t.code)).toEqual(expect.arrayContaining(['transducer-reference', 'rest-agreement']));
  });
});

describe('invariance', () => {
  it('does not depend on the order of readings or on a value entered twice', () => {
    const once = diagnose(story);
    const shuffled = diagnose({ ...story, readings: [...story.readings].reverse() });
    const twice = diagnose({ ...story, readings: [...story.readings, ...story.readings.map((r) => ({ ...r, id: `z${r.id}` }))] });
    expect(shuffled).toEqual(once);
    expect(twice).toEqual(once);
  });
});

describe('what may block a stretch', () => {
  const readings = (port: 'condenser-outlet' | 'liquid-line-after-drier') => ({
    ...base,
    platform: { ...platform, layout: 'valve-receiver' as const, subcoolShare: null, highSidePort: port },
    readings: [
      psig('high-side-port', 'rest', 79),
      psig('high-side-transducer', 'rest', 81, 'vehicle-transducer'),
      psig('low-side-port', 'running', 26),
      psig('high-side-port', 'running', 150),
      psig('high-side-transducer', 'running', 260, 'vehicle-transducer'),
    ],
  });
  it('is told apart by the step across a cartridge only where there is one', () => {
    for (const port of ['condenser-outlet', 'liquid-line-after-drier'] as const) {
      const { restriction } = diagnose(readings(port));
      expect(restriction?.candidates).not.toContain('filter-cartridge');
      expect(restriction?.message).not.toContain('cartridge');
    }
    const { restriction } = diagnose(readings('liquid-line-after-drier'));
    expect(restriction!.candidates.length).toBeGreaterThan(1);
    expect(restriction!.message).toContain('temperatures along the way can');
  });
});

describe('charge', () => {
  const weighed = (share: number): EngineReading => ({
    id: 'w',
    quantity: 'mass',
    meaning: 'recovered-charge',
    place: 'service-machine',
    instrument: 'service-machine',
    value: 0.55 * share,
  });
  const healthy = [
    psig('low-side-port', 'running', 24),
    psig('high-side-port', 'running', 195),
    psig('high-side-transducer', 'running', 202, 'vehicle-transducer'),
  ];
  it('is found on the plateau by weight and by nothing else', () => {
    const before = diagnose({ ...base, readings: healthy });
    expect(before.faults[0]!.code).toBe('healthy');
    expect(before.summary).toContain('only weighing');
    expect(top({ ...base, readings: [...healthy, weighed(0.78)] })).toBe('undercharge');
    expect(top({ ...base, readings: [...healthy, weighed(1.3)] })).toBe('overcharge');
    expect(top({ ...base, readings: [...healthy, weighed(0.99)] })).toBe('healthy');
  });

  it('is as large as it was weighed, a fiftieth staying in the system, and known by the scale and not by the steps between severities', () => {
    for (const [code, share, size] of [
      ['undercharge', 0.7, 0.28],
      ['undercharge', 0.4, 0.58],
      ['overcharge', 1.3, 0.32],
    ] as const) {
      const { severity } = diagnose({ ...base, readings: [...healthy, weighed(share)] }).faults.find((f) => f.code === code)!;
      expect(Math.abs(severity!.value - size)).toBeLessThan(0.04);
      expect(severity!.low).toBeLessThan(size);
      expect(severity!.high).toBeGreaterThan(size);
      // 90 % of an error of 3 to 5 hundredths.
      expect(severity!.high - severity!.low).toBeLessThan(0.14);
    }
  });
});

describe('answers', () => {
  it('blames open hand valves before the vehicle', () => {
    const input = {
      ...base,
      readings: [
        psig('low-side-port', 'running', 120),
        psig('high-side-port', 'running', 121),
        psig('high-side-transducer', 'running', 215, 'vehicle-transducer'),
      ],
    };
    expect(top(input)).toBe('manifold-valves-open');
    expect(diagnose(input).trust[0]).toMatchObject({ code: 'equal-while-running', level: 'stop' });
  });
  it('sees a door when the core is cold and the vent warm', () => {
    const input = {
      ...base,
      readings: [
        psig('low-side-port', 'running', 24),
        psig('high-side-port', 'running', 195),
        celsius('evaporator-core', 5),
        celsius('vent', 22),
      ],
    };
    expect(top(input)).toBe('air-door');
  });
  it('says that it cannot tell without readings', () => {
    const result = diagnose(base);
    expect(result.status).toBe('cannot-tell');
    expect(result.nextTests.length).toBeGreaterThan(0);
    expect(result.unseen.length).toBeGreaterThan(20);
  });
  it('reports a cascade when the debris source shows', () => {
    const result = diagnose({ ...story, findings: [{ code: 'metal-fines-magnetic' }] });
    expect(result.faults.slice(0, 4).some((f) => f.cascade === 'compressor-wear')).toBe(true);
  });
  it('keeps probabilities in order, within bounds and summing to one', () => {
    const result = diagnose(story);
    const sum = result.faults.reduce((total, f) => total + f.probability, 0);
    expect(sum).toBeGreaterThan(0.97);
    // Each is given to the nearest millionth.
    expect(sum).toBeLessThanOrEqual(1 + 0.5e-6 * result.faults.length + 1e-9);
    for (let i = 1; i < result.faults.length; i++)
      expect(result.faults[i]!.probability).toBeLessThanOrEqual(result.faults[i - 1]!.probability);
  });
});
