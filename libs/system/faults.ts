import type { FluidName } from '#libs/refrigerant/index.js';
import { FAULT_CODES, type FaultCode } from '#libs/vocabulary/index.js';
import { combineEffects, type FaultEffects, NO_EFFECTS } from './fault-effects.js';
import { type PlatformHardware, RATED_FLOW } from './hardware.js';

/** The faults the cycle model has physics for, as the catalogue's words, in its order. */
export type SimulatedFault = Exclude<FaultCode, 'healthy'>;
export const SIMULATED_FAULTS: readonly SimulatedFault[] = FAULT_CODES.filter((code) => code !== 'healthy');

/** A fault and how bad it is, 0 none to 1 the worst still worth telling from a part that does not work at all. */
export interface Fault {
  readonly code: SimulatedFault;
  readonly severity: number;
  /** Restrictions inside the condenser: where, 0 inlet to 1 outlet of the condensing passes. */
  readonly place?: number;
  /** Wrong refrigerant: what was filled in. */
  readonly fluid?: FluidName;
  /** Biases: the sign of the error (default too high / too warm). Air door: heater air or outside air. Second circuit: valve open or shut. */
  readonly variant?: 'low' | 'outside-air' | 'shut';
}

const BAR = 1e5;
/** Density of warm liquid that turns a wanted pressure loss into a resistance, kg/m3; at RATED_FLOW. */
const LIQUID_DENSITY = 1_120;
const resistanceFor = (bar: number): number => (bar * BAR * LIQUID_DENSITY) / RATED_FLOW ** 2;

type Effect = (s: number, fault: Fault, hardware: PlatformHardware) => Partial<FaultEffects>;

/** Multiplier 1 at no severity and `worst` at full, evenly in its logarithm. */
const growing = (worst: number, s: number): number => worst ** s;
const between = (from: number, to: number, s: number): number => from + (to - from) * s;

/**
 * Model entry of every fault. Sizes at full severity follow the effect ranges of the fault catalogue (charge down to a third, condenser passages
 * past 40 times their resistance to nearly closed, cartridge and liquid line to several bar, valve or tube to a third, leakage to half, airflow to
 * about a third...); they are magnitudes of the model, not measured on vehicles.
 */
const EFFECTS: Readonly<Record<SimulatedFault, Effect>> = {
  undercharge: (s) => ({ chargeShare: between(1, 0.3, s) }),
  overcharge: (s) => ({ chargeShare: between(1, 1.5, s) }),
  // 2.5 g of air: about 1.5 bar in the litre and a half of gas volume a system has at rest.
  'air-in-system': (s) => ({ airMass: 0.0025 * s }),
  'wrong-refrigerant': (s, fault, hardware) =>
    s > 0 ? { stranger: fault.fluid ?? (hardware.refrigerant === 'R-134a' ? 'R-1234yf' : 'R-134a') } : {},
  // The iced moment of a valve that freezes now and then.
  moisture: (s, _, hardware) =>
    hardware.expansion.kind === 'thermostatic-valve' ? { valveFlow: between(1, 0.2, s) } : { orificeFlow: between(1, 0.5, s) },
  'excess-oil': (s) => ({
    condenserInside: between(1, 0.75, s),
    evaporatorInside: between(1, 0.7, s),
    suctionLine: between(1, 2, s),
    oilShare: 0.12 * s,
  }),
  'low-oil': (s) => ({ isentropic: between(1, 0.8, s) }),
  'condenser-dirt': (s) => ({ condenserAirflow: between(1, 0.4, s), condenserFace: between(1, 0.5, s) }),
  'condenser-fan': (s) => ({ condenserAirflow: between(1, 0.22, s), condenserAirRise: 6 * s }),
  'condenser-passages': (s, fault) => ({ passageRestriction: growing(600, s) - 1, passagePlace: fault.place ?? null }),
  'filter-cartridge': (s, _, hardware) =>
    hardware.layout === 'valve-integral-receiver' ? { cartridge: resistanceFor(5) * s } : { drier: resistanceFor(5) * s },
  'liquid-line-restriction': (s) => ({ drier: resistanceFor(8) * s }),
  // Hot gas is some fifteen times thinner than liquid, so the same passage takes fifteen times the pressure.
  'discharge-line-restriction': (s) => ({ dischargeLine: resistanceFor(0.4) * s }),
  'valve-restricted': (s) => ({ valveFlow: between(1, 0.33, s) }),
  'valve-stuck-open': (s) => ({ valveHeldOpen: between(0.25, 1, s), valveFlow: between(1, 1.3, s) }),
  'orifice-clogged': (s) => ({ orificeFlow: between(1, 0.35, s) }),
  'orifice-oversize': (s) => ({ orificeFlow: between(1, 1.8, s) }),
  'suction-restriction': (s) => ({ suctionLine: growing(25, s) }),
  'compressor-leakage': (s) => ({ leakage: 0.5 * s, isentropic: between(1, 0.95, s) }),
  'compressor-wear': (s) => ({ isentropic: between(1, 0.65, s), leakage: 0.15 * s * s }),
  'displacement-stuck-low': (s) => ({ strokeMaximum: between(0.75, 0.25, s) }),
  'displacement-stuck-high': (s) => ({ strokeMinimum: between(0.5, 1, s) }),
  'clutch-slip': (s) => ({ speed: between(1, 0.5, s) }),
  'electric-compressor-limited': (s) => ({ speed: between(1, 0.3, s) }),
  'evaporator-airflow': (s) => ({ evaporatorAirflow: between(1, 0.35, s) }),
  'evaporator-fouling': (s) => ({ evaporatorFace: between(1, 0.5, s), evaporatorAirflow: between(1, 0.85, s) }),
  'air-door': (s, fault) => (fault.variant === 'outside-air' ? { outsideShare: s } : { ventReheat: 0.5 * s }),
  'pressure-sensor-bias': (s, fault) => ({ transducerBias: (fault.variant === 'low' ? -3 : 3) * BAR * s }),
  'temperature-sensor-bias': (s, fault) => ({ evaporatorSensorBias: (fault.variant === 'low' ? 6 : -6) * s }),
  'compressor-inhibited': (s) => ({ inhibited: s > 0 }),
  sealant: (s, _, hardware) => ({
    passageRestriction: growing(12, s) - 1,
    condenserInside: between(1, 0.85, s),
    ...(hardware.expansion.kind === 'thermostatic-valve' ? { valveFlow: between(1, 0.5, s) } : { orificeFlow: between(1, 0.5, s) }),
  }),
  'second-circuit': (s, fault) => ({ secondValve: fault.variant === 'shut' ? 'shut' : 'open', secondShare: s }),
};

/** Whether a platform has the part the fault is in. */
export function faultApplies(code: SimulatedFault, hardware: PlatformHardware): boolean {
  const valve = hardware.expansion.kind === 'thermostatic-valve';
  const kind = hardware.compressor.kind;
  switch (code) {
    case 'valve-restricted':
    case 'valve-stuck-open':
      return valve;
    case 'orifice-clogged':
    case 'orifice-oversize':
      return !valve;
    case 'filter-cartridge':
      return hardware.layout !== 'orifice-accumulator';
    case 'displacement-stuck-low':
    case 'displacement-stuck-high':
      return kind === 'variable' || kind === 'variable-commanded';
    case 'clutch-slip':
      return kind !== 'electric';
    case 'electric-compressor-limited':
      return kind === 'electric';
    case 'second-circuit':
      return hardware.secondEvaporator !== null;
    default:
      return true;
  }
}

/** Effects of any number of faults together; a fault the platform cannot have changes nothing. Severities are held to 0..1. */
export function effectsOf(faults: readonly Fault[], hardware: PlatformHardware): FaultEffects {
  let all = NO_EFFECTS;
  for (const fault of faults) {
    if (!faultApplies(fault.code, hardware)) continue;
    const s = Math.min(Math.max(fault.severity, 0), 1);
    if (!(s > 0)) continue;
    all = combineEffects(all, { ...NO_EFFECTS, ...EFFECTS[fault.code](s, fault, hardware) });
  }
  return all;
}
