import type { FluidName } from '#libs/refrigerant/index.js';

/**
 * What faults do to the model: every parameter change there is, in one record. Shares multiply, additions add, limits narrow. The record of a
 * healthy system changes nothing.
 */
export interface FaultEffects {
  /** Charge present as a share of the specified one. */
  readonly chargeShare: number;
  /** Air in the circuit, kg. */
  readonly airMass: number;
  /** Fluid in the circuit instead of the specified one. */
  readonly stranger: FluidName | null;
  /** Internal volume taken up by oil beyond the normal amount, as a share of the heat exchangers' volume. */
  readonly oilShare: number;
  /** Air through the condenser and its face left clear, as shares. */
  readonly condenserAirflow: number;
  readonly condenserFace: number;
  /** Refrigerant-side conductances, as shares. */
  readonly condenserInside: number;
  readonly evaporatorInside: number;
  /** Hot air drawn back into the condenser, K. */
  readonly condenserAirRise: number;
  /** Restriction inside the condensing passes as a multiple of the healthy passes' resistance, and its place (0 inlet, 1 outlet; null: the platform's). */
  readonly passageRestriction: number;
  readonly passagePlace: number | null;
  /** Added resistances, 1/m4. */
  readonly cartridge: number;
  readonly dischargeLine: number;
  readonly drier: number;
  /** Suction line resistance as a multiple of the healthy line's. */
  readonly suctionLine: number;
  /** Thermostatic valve: share of its flow area; opening it cannot close below, or null. */
  readonly valveFlow: number;
  readonly valveHeldOpen: number | null;
  /** Share of the orifice tube's flow. */
  readonly orificeFlow: number;
  /** Share of the compressed gas leaking back; isentropic efficiency as a share; speed as a share; stroke limits. */
  readonly leakage: number;
  readonly isentropic: number;
  readonly speed: number;
  readonly strokeMaximum: number;
  readonly strokeMinimum: number;
  /** The compressor does not run. */
  readonly inhibited: boolean;
  readonly evaporatorAirflow: number;
  /** Evaporator air-side conductance as a share. */
  readonly evaporatorFace: number;
  /** Share of the vent air that has passed the heater, and of the evaporator's air that comes from outside unasked. */
  readonly ventReheat: number;
  readonly outsideShare: number;
  /** Transducer reads this much too high, Pa; the evaporator sensor this much too warm, K. */
  readonly transducerBias: number;
  readonly evaporatorSensorBias: number;
  /** Second evaporator: its valve normal, held open, or shut; share of that state. */
  readonly secondValve: 'normal' | 'open' | 'shut';
  readonly secondShare: number;
}

export const NO_EFFECTS: FaultEffects = Object.freeze({
  chargeShare: 1,
  airMass: 0,
  stranger: null,
  oilShare: 0,
  condenserAirflow: 1,
  condenserFace: 1,
  condenserInside: 1,
  evaporatorInside: 1,
  condenserAirRise: 0,
  passageRestriction: 0,
  passagePlace: null,
  cartridge: 0,
  dischargeLine: 0,
  drier: 0,
  suctionLine: 1,
  valveFlow: 1,
  valveHeldOpen: null,
  orificeFlow: 1,
  leakage: 0,
  isentropic: 1,
  speed: 1,
  strokeMaximum: 1,
  strokeMinimum: 0,
  inhibited: false,
  evaporatorAirflow: 1,
  evaporatorFace: 1,
  ventReheat: 0,
  outsideShare: 0,
  transducerBias: 0,
  evaporatorSensorBias: 0,
  secondValve: 'normal',
  secondShare: 0,
});

const PRODUCTS = [
  'chargeShare',
  'condenserAirflow',
  'condenserFace',
  'condenserInside',
  'evaporatorInside',
  'suctionLine',
  'valveFlow',
  'orificeFlow',
  'isentropic',
  'speed',
  'evaporatorAirflow',
  'evaporatorFace',
] as const;
const SUMS = [
  'airMass',
  'oilShare',
  'condenserAirRise',
  'passageRestriction',
  'cartridge',
  'dischargeLine',
  'drier',
  'transducerBias',
  'evaporatorSensorBias',
] as const;

/**
 * Effects of two faults at once. Shares multiply, additions add, leaks and mixed-in shares combine as 1 - (1 - a)(1 - b), limits take the narrower,
 * and of a stranger fluid, a place or a held valve the later fault's stands.
 */
export function combineEffects(a: FaultEffects, b: FaultEffects): FaultEffects {
  const out: { -readonly [K in keyof FaultEffects]: FaultEffects[K] } = { ...a };
  for (const key of PRODUCTS) out[key] = a[key] * b[key];
  for (const key of SUMS) out[key] = a[key] + b[key];
  for (const key of ['leakage', 'ventReheat', 'outsideShare'] as const) out[key] = 1 - (1 - a[key]) * (1 - b[key]);
  out.strokeMaximum = Math.min(a.strokeMaximum, b.strokeMaximum);
  out.strokeMinimum = Math.min(Math.max(a.strokeMinimum, b.strokeMinimum), out.strokeMaximum);
  out.inhibited = a.inhibited || b.inhibited;
  out.stranger = b.stranger ?? a.stranger;
  out.passagePlace = b.passagePlace ?? a.passagePlace;
  out.valveHeldOpen = b.valveHeldOpen ?? a.valveHeldOpen;
  if (b.secondValve !== 'normal') {
    out.secondValve = b.secondValve;
    out.secondShare = b.secondShare;
  }
  return Object.freeze(out);
}
