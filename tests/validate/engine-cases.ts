import type {
  EngineInput,
  EnginePlatform,
  EngineReading,
  FaultCode,
  FindingCode,
  HypothesisCode,
  Layout,
  Place,
} from '#libs/engine/index.js';
import { OutOfRange } from '#libs/numeric/index.js';
import { fluidTables } from '#libs/refrigerant/index.js';
import { between, drawAir, drawFault, drawHardware, normal, type Random, random } from './engine-draws.js';
import { FINDINGS, STRAY } from './engine-frequencies.js';
import { generate } from './engine-generator.js';
import { classes, impactOf, visible } from './engine-grading.js';
import type { Fault, Hardware, Truth, Variant } from './engine-vehicle.js';

/**
 * What is read. `surface` is the round made whole: two gauges, the transducer, the vent and every pipe's surface, and nothing of the scan tool besides;
 * `temperatures` is the same as shops write it down, with gaps, and with the command or the speeds where the vehicle tells them.
 */
export type ObservationSet = 'gauges+vent' | 'gauges+transducer' | 'surface' | 'temperatures' | 'full';
export const OBSERVATION_SETS: readonly ObservationSet[] = ['gauges+vent', 'gauges+transducer', 'surface', 'temperatures', 'full'];
const LEVEL: Readonly<Record<ObservationSet, number>> = { 'gauges+vent': 0, 'gauges+transducer': 1, surface: 2, temperatures: 2, full: 3 };

export interface Case {
  readonly truth: HypothesisCode;
  readonly truthClass: string;
  readonly classOf: (code: HypothesisCode) => string;
  readonly input: EngineInput;
  readonly layout: Layout;
  readonly set: ObservationSet;
  readonly fault: Fault;
  readonly hardware: Hardware;
  /** Loss of capacity, of efficiency or of the cooling delivered, whichever is largest; shares. */
  readonly impact: number;
  /** Share of cooling capacity lost. */
  readonly capacityLost: number;
}

/** What a draw is held to; the rest is drawn. */
export interface Held {
  readonly variant?: Variant;
  readonly hardware?: Hardware;
  readonly fault?: Fault;
  readonly stage?: 'before' | 'after';
  /** Places of port and transducer, and charge, as another vehicle of the platform has them. */
  readonly places?: EnginePlatform;
  /** Error of the shop's gauges and of the vehicle's transducer, in standard deviations. */
  readonly bias?: { readonly gauge: number; readonly transducer: number };
}

/** Draws one case; null when the drawn system has no steady state. */
export function drawCase(seed: number, set: ObservationSet, held: Held = {}): Case | null {
  const u = random(seed * 2_654_435_761);
  for (let i = 0; i < 8; i++) u();
  const hw = held.hardware ?? drawHardware(u, held.variant);
  const air = drawAir(u, hw.compressor === 'electric');
  const fault = held.fault ?? drawFault(u, hw)!;
  let truth: Truth | null = null;
  let sound: Truth | null = null;
  try {
    truth = generate(hw, air, fault);
    sound = generate(hw, air, { code: 'healthy', size: 0 });
  } catch (error) {
    // Outside the property tables there is no vehicle in service.
    if (!(error instanceof OutOfRange)) throw error;
  }
  // Nor is one in service whose valve stands fully open while it is sound: too small a valve for this air.
  if (!truth || !sound?.runs || sound.valveOpen || truth.condenserInlet > 33e5) return null;
  return observe(u, hw, air, fault, truth, sound, set, held);
}

const STATIC_SIGMA = 7_000;

function observe(
  u: Random,
  hw: Hardware,
  air: ReturnType<typeof drawAir>,
  fault: Fault,
  truth: Truth,
  sound: Truth,
  set: ObservationSet,
  { stage, places, bias }: Held,
): Case {
  const level = LEVEL[set];
  const whole = set === 'surface';
  const readings: EngineReading[] = [];
  const add = (r: Omit<EngineReading, 'id'>) => readings.push({ id: `r${readings.length}`, ...(stage && { stage }), ...r });
  const drawnUpstream = u() < 0.45;
  const portUpstream = places?.highSidePort ? places.highSidePort === 'condenser-inlet' : drawnUpstream;
  const drawnTransducer = level > 0 && u() < 0.75 ? !portUpstream : u() < 0.4;
  const transducerUpstream = places?.highSideTransducer ? places.highSideTransducer === 'condenser-inlet' : drawnTransducer;
  const drawnKnown = u() < 0.85;
  const known = places ? places.highSidePort !== null : drawnKnown;
  const place = (upstream: boolean): Place => (upstream ? 'condenser-inlet' : 'condenser-outlet');
  const at = (upstream: boolean) => (upstream ? truth.condenserInlet : truth.condenserOutlet);
  const drawnGauge = normal(u);
  const gaugeBias = 12_000 * (bias?.gauge ?? drawnGauge);
  const drawnSensor = fault.code === 'pressure-sensor-bias' ? (u() < 0.5 ? -1 : 1) * (1.2e5 + 3.5e5 * fault.size) : 14_000 * normal(u);
  const sensorBias = bias && fault.code !== 'pressure-sensor-bias' ? 14_000 * bias.transducer : drawnSensor;
  const wild = (x: number, by: number) => (u() < 0.01 ? x + by * normal(u) : x);
  const gauge = (pa: number) => wild(pa - air.barometerPa + gaugeBias + 9_000 * normal(u), 3e5);

  const lowPlace: Place = hw.layout === 'orifice-accumulator' ? 'accumulator' : 'compressor-suction';
  const lowPa = lowPlace === 'accumulator' ? truth.evaporatorOutlet : truth.compressorSuction;
  add({
    quantity: 'pressure',
    place: 'low-side-port',
    phase: 'running',
    instrument: 'manifold-gauge',
    reference: 'vented-gauge',
    value: wild(lowPa - air.barometerPa + 0.5 * gaugeBias + 4_000 * normal(u), 1e5),
  });
  add({
    quantity: 'pressure',
    place: 'high-side-port',
    phase: 'running',
    instrument: 'manifold-gauge',
    reference: 'vented-gauge',
    value: gauge(at(portUpstream)),
  });
  const withTransducer = level >= 1 && (u() < 0.9 || whole);
  const sensor = (pa: number) => pa - air.barometerPa + sensorBias + 8_000 * normal(u);
  if (withTransducer)
    add({
      quantity: 'pressure',
      place: 'high-side-transducer',
      phase: 'running',
      instrument: 'vehicle-transducer',
      reference: 'vented-gauge',
      value: sensor(at(transducerUpstream)),
    });
  let soaked = false;
  let rest = false;
  if (level >= 1 && u() < (level === 3 ? 0.85 : 0.5)) {
    rest = true;
    soaked = level === 3 && u() < 0.6;
    const T = (soaked ? air.outsideK : air.outsideK + between(u, 0, 12)) + 0.5 * normal(u);
    const saturated = fluidTables(hw.refrigerant).pSat(T);
    const inert = fault.code === 'air-in-system' ? (0.5 + 2.8 * fault.size) * 0.75e5 : 0;
    const empty = fault.code === 'undercharge' && fault.size > 0.9;
    const p = (empty ? truth.compressorSuction : saturated + inert) + STATIC_SIGMA * normal(u);
    add({
      quantity: 'pressure',
      place: 'high-side-port',
      phase: 'rest',
      instrument: 'manifold-gauge',
      reference: 'vented-gauge',
      value: p - air.barometerPa + gaugeBias + 5_000 * normal(u),
    });
    add({
      quantity: 'pressure',
      place: 'low-side-port',
      phase: 'rest',
      instrument: 'manifold-gauge',
      reference: 'vented-gauge',
      value: p - air.barometerPa + 0.5 * gaugeBias + 4_000 * normal(u),
    });
    if (withTransducer)
      add({
        quantity: 'pressure',
        place: 'high-side-transducer',
        phase: 'rest',
        instrument: 'vehicle-transducer',
        reference: 'vented-gauge',
        value: sensor(p),
      });
  }
  const temperature = (where: Place, K: number, sigma: number, chance: number) => {
    if (u() < chance || whole)
      add({ quantity: 'temperature', place: where, phase: 'running', instrument: 'thermometer', value: wild(K + sigma * normal(u), 15) });
  };
  const vented = u() < (level === 0 ? 1 : level >= 2 ? 0.95 : 0.7);
  if (vented || whole) temperature('vent', truth.ventK, 0.7, 1);
  if (level >= 2) {
    temperature(lowPlace, truth.suctionK, 1.3, 0.75);
    temperature('condenser-outlet', truth.liquidK, 1.3, 0.8);
    temperature('liquid-line-after-drier', truth.lateLiquidK, 1.3, 0.3);
    temperature('compressor-discharge', truth.dischargeK, 2.5, 0.45);
    if (!whole) temperature('evaporator-core', truth.coreK, 1, 0.5);
  }
  const variable = hw.compressor === 'variable-commanded';
  let command = false;
  if (level >= 2 && !whole && variable && u() < 0.8) {
    command = true;
    add({ quantity: 'fraction', meaning: 'compressor-command', value: Math.min(Math.max(truth.stroke + 0.08 * normal(u), 0), 1) });
  }
  let speeds = false;
  if (level >= 2 && !whole && hw.compressor === 'electric' && u() < 0.8) {
    speeds = true;
    add({ quantity: 'speed', meaning: 'compressor-speed-requested', value: air.speed });
    add({ quantity: 'speed', meaning: 'compressor-speed', value: air.speed * truth.speedRatio * (1 + 0.01 * normal(u)) });
  }
  let weighed = false;
  const drawnCharge = between(u, 0.4, 0.9);
  const charge = places?.chargeKg ?? drawnCharge;
  if (level === 3 && u() < 0.4) {
    weighed = true;
    const share =
      fault.code === 'undercharge' ? 1 - fault.size : fault.code === 'overcharge' ? 1 + fault.size * 0.6 : 0.98 + 0.025 * normal(u);
    add({
      quantity: 'mass',
      meaning: 'recovered-charge',
      place: 'service-machine',
      value: Math.max(charge * (share - 0.015) + 0.02 * normal(u), 0.003),
    });
  }
  const findings = new Set<FindingCode>();
  if (level === 3) {
    for (const [code, chance] of FINDINGS[fault.code as FaultCode] ?? []) if (u() < chance) findings.add(code);
    for (const code of STRAY) if (u() < 0.03) findings.add(code);
    if (u() < 0.3) {
      const centre = fault.code === 'compressor-leakage' ? 75 : 210;
      add({ quantity: 'time', meaning: 'equalisation-time', value: centre * Math.exp(0.4 * normal(u)) });
    }
  }

  const platform: EnginePlatform = {
    layout: hw.layout,
    compressor: hw.compressor,
    refrigerant: hw.refrigerant,
    chargeKg: charge,
    highSidePort: known ? place(portUpstream) : null,
    highSideTransducer: known ? place(transducerUpstream) : null,
    lowSidePort: lowPlace,
    transducerReference: 'vented-gauge',
    reserveShare: hw.layout === 'orifice-accumulator' ? 0.3 : 0.2,
    dualEvaporator: false,
  };
  const maybe = <T>(value: T, chance: number): T | undefined => (u() < chance ? value : undefined);
  const input: EngineInput = {
    platform,
    elevationM: (1 - (air.barometerPa / 101_325) ** (1 / 5.25588)) / 2.25577e-5,
    conditions: {
      outsideAirK: air.outsideK + 0.7 * normal(u),
      condenserAirK: maybe(air.condenserAirK + 0.7 * normal(u), 0.5),
      evaporatorAirK: maybe(air.evaporatorAirK + 0.7 * normal(u), 0.6),
      relativeHumidity: maybe(Math.min(Math.max(air.relativeHumidity + 0.04 * normal(u), 0.02), 1), 0.6),
      airSource: maybe(air.recirculated ? ('recirculated' as const) : ('outside' as const), 0.85),
      compressorSpeedPerS: maybe(air.speed, 0.3),
      engineSpeedPerS: hw.compressor === 'electric' ? undefined : maybe(air.speed / between(u, 1.2, 1.4), 0.8),
      blower: maybe(air.blower, 0.7),
      runningS: 600,
      soakedS: rest ? (soaked ? 10 * 3600 : 1800) : undefined,
      soakTemperatureK: soaked ? air.outsideK + 0.5 * normal(u) : undefined,
    },
    readings,
    ...(stage && { stage }),
    findings: [...findings].map((code) => ({ code, ...(stage && { stage }) })),
    thermalMaps: [],
    traces: [],
  };
  const classOf = classes(input);
  const read = new Set(readings.map((r) => r.place));
  const told = (FINDINGS[fault.code as FaultCode] ?? []).some(([code]) => findings.has(code));
  const shown = visible(fault, truth, sound, { weighed, soaked, compared: withTransducer && rest, told, command, speeds, read });
  return {
    truth: fault.code,
    truthClass: shown ? classOf(fault.code) : 'healthy',
    classOf,
    input,
    layout: hw.layout,
    set,
    fault,
    hardware: hw,
    ...impactOf(fault, truth, sound, air.evaporatorAirK),
  };
}
