import { describe, expect, it } from '@jest/globals';
import { sfc32 } from '#libs/numeric/index.js';
import type { Fault, SimulatedFault } from './faults.js';
import { effectsOf, faultApplies, SIMULATED_FAULTS } from './faults.js';
import type { Conditions, HighSidePlace, Layout, PlatformHardware } from './hardware.js';
import { randomHardware, typicalHardware, withSecondEvaporator } from './platforms.js';
import { restState } from './rest-state.js';
import { DESIGN_CONDITIONS } from './sizing.js';
import { healthyReadings, solveSystem } from './solve-system.js';

const LAYOUTS: readonly Layout[] = ['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver'];
const BAR = 1e5;
const one = (code: SimulatedFault, severity: number, more: Partial<Fault> = {}): Fault[] => [{ code, severity, ...more }];
const systems: readonly (readonly [string, PlatformHardware])[] = LAYOUTS.map((layout) => [
  layout,
  typicalHardware(layout, 'fixed-clutch', 'R-134a'),
]);
const on = (hw: PlatformHardware, faults: readonly Fault[], conditions: Conditions = DESIGN_CONDITIONS) =>
  solveSystem(hw, conditions, faults);

/** Random sound platforms and weathers in which they run without cycling. */
function steady(count: number, firstSeed: number): { hw: PlatformHardware; conditions: Conditions }[] {
  const out: { hw: PlatformHardware; conditions: Conditions }[] = [];
  for (let seed = firstSeed; out.length < count; seed++) {
    const rng = sfc32(seed).uniform;
    const hw = randomHardware(rng);
    const conditions: Conditions = {
      ...DESIGN_CONDITIONS,
      condenserAirTemperature: 301 + 14 * rng(),
      evaporatorAirTemperature: 299 + 8 * rng(),
      evaporatorAirHumidity: 0.3 + 0.3 * rng(),
      barometricPressure: 80_000 + 22_000 * rng(),
      compressorSpeed: hw.compressor.kind === 'electric' ? 80 : 22 + 10 * rng(),
    };
    const result = solveSystem(hw, conditions);
    if (result.verdict === 'converged' && !result.regimes.clutchCycling && !result.regimes.highPressureCycling)
      out.push({ hw, conditions });
  }
  return out;
}
const RANDOM = steady(24, 9_000);

describe.each(systems)('charge plateau: %s', (layout, hw) => {
  const below = layout === 'orifice-accumulator' ? 0.35 : 0.25;
  const above = layout === 'orifice-accumulator' ? 0.3 : 0.2;
  const charged = (share: number) =>
    on(hw, share < 1 ? one('undercharge', (1 - share) / 0.7) : one('overcharge', (share - 1) / 0.5)).readings;
  const sound = healthyReadings(hw, DESIGN_CONDITIONS);
  const moved = (share: number): number => {
    const r = charged(share);
    return Math.max(
      Math.abs(r.highSide['compressor-discharge'] - sound.highSide['compressor-discharge']),
      Math.abs(r.lowSide['compressor-suction'] - sound.lowSide['compressor-suction']),
    );
  };

  it('running pressures hardly move inside the reserve', () => {
    for (const share of [1 - below + 0.02, 1 - below / 2, 1 + above / 2, 1 + above - 0.02]) expect(moved(share)).toBeLessThan(0.03 * BAR);
  });

  it('and do move outside it', () => {
    expect(moved(1 - below - 0.2)).toBeGreaterThan(0.1 * BAR);
    expect(charged(1 + above + 0.12).highSide['compressor-discharge']).toBeGreaterThan(sound.highSide['compressor-discharge'] + 0.1 * BAR);
  });

  it('the vessel’s level carries the charge: empty and full at the ends of the reserve', () => {
    expect(charged(1 - below + 0.03).vesselLevel).toBeGreaterThan(0.01);
    expect(on(hw, one('undercharge', (below + 0.03) / 0.7)).regimes.vessel).toBe('empty');
    expect(on(hw, one('overcharge', (above + 0.04) / 0.5)).regimes.vessel).toBe('full');
  });

  it('a low charge first shows as subcooling lost or superheat gained, and vapour at the device', () => {
    const low = on(hw, one('undercharge', 0.9));
    expect(low.regimes.flashGas).toBe(true);
    expect(low.readings.subcooling).toBeLessThan(0.5);
    expect(low.readings.superheat).toBeGreaterThan(sound.superheat);
    expect(low.readings.capacity).toBeLessThan(sound.capacity);
  });
});

describe('plateau width follows the reserve volume', () => {
  it.each([0.12, 0.25])('reserve %s below', (below) => {
    const rng = sfc32(5).uniform;
    const hw = randomHardware(rng, { layout: 'valve-receiver', compressor: 'fixed-clutch' });
    const conditions = DESIGN_CONDITIONS;
    // Level at full charge says how much may go: charge that empties it, from the level's own slope.
    const level = (share: number): number => on(hw, one('undercharge', (1 - share) / 0.7), conditions).readings.vesselLevel;
    const slope = (level(1) - level(0.97)) / 0.03;
    const width = level(1) / slope;
    const scaled: PlatformHardware = {
      ...hw,
      vessel: { ...hw.vessel, volume: (hw.vessel.volume * below) / width },
      charge: hw.charge * (1 - width + below),
    };
    const emptied = on(scaled, one('undercharge', (below + 0.03) / 0.7), conditions);
    const held = on(scaled, one('undercharge', Math.max(below - 0.05, 0) / 0.7), conditions);
    expect(emptied.regimes.vessel).toBe('empty');
    expect(held.regimes.vessel).not.toBe('empty');
  });
});

describe('where pressure is lost', () => {
  const drop = (hw: PlatformHardware, faults: readonly Fault[], conditions?: Conditions): number =>
    on(hw, faults, conditions).readings.highSideDrop;

  it('dirt outside never opens a gap between discharge and liquid line: the loss stays that of the flow, whatever the platform', () => {
    const per = (r: ReturnType<typeof on>['readings']): number => r.highSideDrop / (r.massFlow / r.onFraction) ** 2;
    for (const { hw, conditions } of RANDOM) {
      const sound = on(hw, [], conditions).readings;
      for (const severity of [0.3, 0.7]) {
        const seen = on(hw, one('condenser-dirt', severity), conditions).readings;
        // Denser gas at the higher head loses less for the same flow; a stroke that rises with the head moves a little more of it.
        expect(per(seen)).toBeLessThan(1.01 * per(sound));
        expect(seen.highSideDrop - sound.highSideDrop).toBeLessThan(0.2 * BAR);
      }
      expect(per(on(hw, one('condenser-passages', 0.5), conditions).readings)).toBeGreaterThan(1.5 * per(sound));
    }
  });

  it('a restriction inside opens one, more with severity', () => {
    for (const { hw, conditions } of RANDOM) {
      let before = drop(hw, [], conditions);
      const sound = before;
      for (const severity of [0.3, 0.5, 0.7]) {
        const result = on(hw, one('condenser-passages', severity), conditions);
        expect(result.readings.highSideDrop).toBeGreaterThan(before);
        before = result.readings.highSideDrop;
      }
      expect(before - sound).toBeGreaterThan(0.3 * BAR);
    }
  });

  it('that grows with the square of the flow: two speeds, a clogged cartridge', () => {
    const hw = typicalHardware('valve-integral-receiver', 'fixed-clutch', 'R-134a');
    const at = (speed: number) => {
      const conditions: Conditions = { ...DESIGN_CONDITIONS, evaporatorAirTemperature: 308, compressorSpeed: speed };
      const sound = on(hw, [], conditions).readings;
      const seen = on(hw, one('filter-cartridge', 0.5), conditions).readings;
      return { gap: seen.highSideDrop - sound.highSideDrop, flow: seen.massFlow };
    };
    const slow = at(18);
    const fast = at(34);
    expect(fast.flow / slow.flow).toBeGreaterThan(1.1);
    // The liquid's density and the pass behind it change a little with temperature.
    expect(fast.gap / slow.gap / (fast.flow / slow.flow) ** 2).toBeCloseTo(1, 1);
  });

  it('port and transducer read the pressure of their own place', () => {
    const hw = typicalHardware('valve-integral-receiver', 'fixed-clutch', 'R-134a');
    const places: HighSidePlace[] = ['compressor-discharge', 'condenser-inlet', 'condenser-outlet', 'liquid-line-before-drier'];
    let last = Number.POSITIVE_INFINITY;
    for (const place of places) {
      const r = on({ ...hw, highSidePort: place, highSideTransducer: place }, one('condenser-passages', 0.5)).readings;
      expect(r.highSidePort).toBe(r.highSide[place]);
      expect(r.highSideTransducer).toBe(r.highSide[place]);
      expect(r.highSidePort).toBeLessThanOrEqual(last);
      last = r.highSidePort;
    }
    const biased = on(hw, one('pressure-sensor-bias', 0.5)).readings;
    expect(biased.highSideTransducer - biased.highSide[hw.highSideTransducer]).toBeCloseTo(1.5 * BAR, 6);
  });

  it('a discharge-line restriction is hidden from a port behind it and shows in the discharge temperature', () => {
    const hw = typicalHardware('valve-receiver', 'fixed-clutch', 'R-134a');
    const sound = on(hw, []).readings;
    const seen = on(hw, one('discharge-line-restriction', 0.8)).readings;
    expect(seen.highSide['compressor-discharge'] - sound.highSide['compressor-discharge']).toBeGreaterThan(BAR);
    expect(Math.abs(seen.highSide['condenser-outlet'] - sound.highSide['condenser-outlet'])).toBeLessThan(0.3 * BAR);
    expect(seen.dischargeTemperature).toBeGreaterThan(sound.dischargeTemperature + 2);
  });
});

describe('behind a severe restriction the condenser works backwards', () => {
  it.each(systems)('%s: its lower rows are colder than ambient and the healthy ones never are', (_, hw) => {
    const ambient = DESIGN_CONDITIONS.condenserAirTemperature;
    const severe = on(hw, [...one('condenser-passages', 1, { place: 0.75 }), ...one('condenser-passages', 1, { place: 0.75 })]);
    expect(severe.regimes.condenserBelowAir).toBe(true);
    expect(Math.min(...severe.readings.condenserSurface)).toBeLessThan(ambient - 0.3);
    expect(severe.regimes.flashGas).toBe(true);
    expect(Math.min(...on(hw, []).readings.condenserSurface)).toBeGreaterThan(ambient);
  });

  it.each(systems)('%s: the surface steps down where the restriction is', (_, hw) => {
    for (const place of [0.4, 0.7]) {
      const surface = [...on(hw, one('condenser-passages', 0.6, { place })).readings.condenserSurface];
      const sound = [...on(hw, []).readings.condenserSurface];
      const steps = surface.slice(1).map((T, i) => surface[i]! - T - (sound[i]! - sound[i + 1]!));
      const at = (steps.indexOf(Math.max(...steps)) + 1) / surface.length;
      expect(Math.abs(at - place * (1 - hw.condenser.subcoolShare))).toBeLessThan(1.5 / surface.length);
    }
  });

  it('the sign of subcooling under blockage is the layout’s own', () => {
    const change = Object.fromEntries(
      systems.map(([layout, hw]) => [layout, on(hw, one('condenser-passages', 0.55)).readings.subcooling - on(hw, []).readings.subcooling]),
    );
    // Down behind an integral receiver; unmoved where a remote receiver or an orifice tube sets it.
    expect(change['valve-integral-receiver']).toBeLessThan(-0.5);
    expect(Math.abs(change['valve-receiver']!)).toBeLessThan(0.3);
    expect(Math.abs(change['orifice-accumulator']!)).toBeLessThan(0.5);
  });
});

describe('air, altitude, weather', () => {
  it('air raises the rest pressure by m R T/V and, running, the head like dirt without a gap', () => {
    for (const [, hw] of systems) {
      const faults = one('air-in-system', 0.6);
      const rest = restState(hw, 298.15, effectsOf(faults, hw));
      expect(rest.pressure - rest.nominalSaturation).toBeCloseTo((0.0015 * 287.05 * 298.15) / rest.gasVolume, 0);
      const sound = on(hw, []).readings;
      const seen = on(hw, faults).readings;
      expect(seen.highSide['compressor-discharge']).toBeGreaterThan(sound.highSide['compressor-discharge'] + 0.5 * BAR);
      expect(seen.highSideDrop - sound.highSideDrop).toBeLessThan(0.25 * BAR);
      expect(Math.abs(seen.lowSide['compressor-suction'] - sound.lowSide['compressor-suction'])).toBeLessThan(0.4 * BAR);
    }
  });

  it('thinner air raises the head: 0.3 to 0.9 bar at 1,600 m', () => {
    for (const [, hw] of systems) {
      const rise =
        on(hw, [], { ...DESIGN_CONDITIONS, barometricPressure: 83_500 }).readings.highSide['compressor-discharge'] -
        on(hw, []).readings.highSide['compressor-discharge'];
      expect(rise).toBeGreaterThan(0.3 * BAR);
      expect(rise).toBeLessThan(0.9 * BAR);
    }
  });

  it('R-1234yf in place of R-134a: cooler discharge by several kelvin, capacity within a tenth (bench: -6.5 K, up to -4 %)', () => {
    for (const [, hw] of systems) {
      const a = on(hw, []).readings;
      const b = on(hw, one('wrong-refrigerant', 1, { fluid: 'R-1234yf' })).readings;
      expect(a.dischargeTemperature - b.dischargeTemperature).toBeGreaterThan(4);
      expect(b.capacity / a.capacity).toBeGreaterThan(0.9);
      expect(b.capacity / a.capacity).toBeLessThan(1.05);
    }
  });
});

describe('severity is monotone where physics says so', () => {
  const cases: readonly (readonly [SimulatedFault, (r: ReturnType<typeof on>['readings']) => number, 1 | -1])[] = [
    ['condenser-dirt', (r) => r.highSide['compressor-discharge'], 1],
    ['condenser-fan', (r) => r.highSide['compressor-discharge'], 1],
    ['air-in-system', (r) => r.highSide['compressor-discharge'], 1],
    ['clutch-slip', (r) => r.capacity, -1],
    ['compressor-leakage', (r) => r.capacity, -1],
    ['suction-restriction', (r) => r.capacity, -1],
    ['evaporator-airflow', (r) => r.capacity, -1],
    ['low-oil', (r) => r.dischargeTemperature, 1],
    ['condenser-passages', (r) => r.highSideDrop, 1],
  ];
  it.each(cases)('%s', (code, of, sign) => {
    for (const [, hw] of systems) {
      let before = of(on(hw, []).readings);
      for (const severity of [0.2, 0.4, 0.6]) {
        const next = of(on(hw, one(code, severity)).readings);
        expect(sign * (next - before)).toBeGreaterThan(0);
        before = next;
      }
    }
  });
});

describe('control', () => {
  it('a variable compressor hides low-side faults in its stroke', () => {
    const hw = typicalHardware('valve-integral-receiver', 'variable', 'R-134a');
    const sound = on(hw, []);
    const starved = on(hw, one('evaporator-airflow', 0.5));
    expect(Math.abs(starved.readings.lowSide['compressor-suction'] - sound.readings.lowSide['compressor-suction'])).toBeLessThan(0.1 * BAR);
    expect(starved.readings.stroke).toBeLessThan(sound.readings.stroke - 0.1);
  });

  it('an externally controlled one follows its command', () => {
    const hw = typicalHardware('valve-integral-receiver', 'variable-commanded', 'R-134a');
    let before = 0;
    for (const command of [1, 0.7, 0.4, 0.1]) {
      const suction = on(hw, [], { ...DESIGN_CONDITIONS, command }).readings.lowSide['compressor-suction'];
      expect(suction).toBeGreaterThan(before);
      before = suction;
    }
  });

  it('a fixed clutch cycles when the load is small, read at its cut-out', () => {
    for (const [, hw] of systems) {
      const cool = on(hw, [], { ...DESIGN_CONDITIONS, condenserAirTemperature: 294, evaporatorAirTemperature: 291, blower: 0.5 });
      expect(cool.verdict).toBe('converged');
      expect(cool.regimes.clutchCycling).toBe(true);
      expect(cool.readings.onFraction).toBeLessThan(0.95);
      expect(cool.readings.lowSide['compressor-suction']).toBeCloseTo(hw.control.clutchCutOut, 0);
    }
  });

  it('a dead fan ends at the high-pressure switch, wherever it sits', () => {
    for (const place of ['compressor-discharge', 'liquid-line-before-drier'] as const) {
      const hw = { ...typicalHardware('valve-integral-receiver', 'fixed-clutch', 'R-1234yf'), highSideTransducer: place };
      const stopped = on(hw, one('condenser-fan', 1), {
        ...DESIGN_CONDITIONS,
        condenserAirTemperature: 314,
        evaporatorAirTemperature: 312,
      });
      expect(stopped.regimes.highPressureCycling).toBe(true);
      // The switch's own tolerance in the search is 200 Pa.
      expect(Math.abs(stopped.readings.highSideTransducer - hw.control.highCutOut)).toBeLessThan(300);
    }
  });

  it('an inhibited compressor leaves rest pressures, named as such', () => {
    const off = on(systems[0]![1], one('compressor-inhibited', 1));
    expect(off.verdict).toBe('no-steady-state');
    expect(off.reason).toBe('compressor-off');
    expect(off.readings.highSidePort).toBe(off.readings.lowSidePort);
  });

  it('a second evaporator held open floods the compressor, shut it takes its load away', () => {
    const hw = withSecondEvaporator(typicalHardware('valve-receiver', 'variable', 'R-134a'));
    const sound = on(hw, []);
    expect(on(hw, one('second-circuit', 1)).regimes.floodback).toBe(true);
    expect(on(hw, one('second-circuit', 1, { variant: 'shut' })).readings.capacity).toBeLessThan(sound.readings.capacity);
  });
});

describe('solver', () => {
  it('a warm start changes the cost, not the answer', () => {
    for (const { hw, conditions } of RANDOM.slice(0, 10)) {
      const start = solveSystem(hw, { ...conditions, condenserAirTemperature: conditions.condenserAirTemperature - 2 });
      const cold = solveSystem(hw, conditions, one('condenser-dirt', 0.3));
      const warm = solveSystem(hw, conditions, one('condenser-dirt', 0.3), start.point);
      expect(warm.readings.highSidePort / cold.readings.highSidePort).toBeCloseTo(1, 8);
      expect(warm.readings.superheat).toBeCloseTo(cold.readings.superheat, 5);
    }
  });

  it('energy, mass and flow close', () => {
    for (const { hw, conditions } of RANDOM) {
      for (const code of SIMULATED_FAULTS) {
        if (code === 'compressor-inhibited' || !faultApplies(code, hw)) continue;
        const { verdict, closure } = solveSystem(hw, conditions, one(code, 0.45));
        expect(['converged', 'no-steady-state']).toContain(verdict);
        if (verdict !== 'converged') continue;
        expect(Math.abs(closure.energy)).toBeLessThan(1e-6);
        expect(Math.abs(closure.mass)).toBeLessThan(1e-6);
        expect(Math.abs(closure.flow)).toBeLessThan(1e-6);
      }
    }
  });

  it('refuses conditions it does not answer for, NaN included', () => {
    const hw = systems[0]![1];
    expect(() => solveSystem(hw, { ...DESIGN_CONDITIONS, condenserAirTemperature: 400 })).toThrow('condenser air temperature');
    expect(() => solveSystem(hw, { ...DESIGN_CONDITIONS, compressorSpeed: Number.NaN })).toThrow('compressor speed');
  });
});
