import type {
  CompressorKind,
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
import { FINDINGS, FREQUENCY, STRAY } from './engine-frequencies.js';
import { generate } from './engine-generator.js';
import type { Fault, Hardware, Surroundings, Truth } from './engine-vehicle.js';

/** Deterministic uniform numbers (mulberry32, public domain). */
export function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}
type Random = () => number;
const between = (u: Random, a: number, b: number) => a + (b - a) * u();
const normal = (u: Random) => Math.sqrt(-2 * Math.log(Math.max(u(), 1e-12))) * Math.cos(2 * Math.PI * u());
const pick = <T>(u: Random, xs: readonly T[]): T => xs[Math.min(Math.floor(u() * xs.length), xs.length - 1)]!;

export type ObservationSet = 'gauges' | 'gauges+transducer' | 'temperatures' | 'full';
export const OBSERVATION_SETS: readonly ObservationSet[] = ['gauges', 'gauges+transducer', 'temperatures', 'full'];

export interface Case {
  readonly truth: HypothesisCode;
  readonly truthClass: string;
  readonly classOf: (code: HypothesisCode) => string;
  readonly input: EngineInput;
  readonly layout: Layout;
  readonly set: ObservationSet;
}

function drawHardware(u: Random): Hardware {
  const layout = pick(u, ['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver', 'valve-integral-receiver'] as const);
  const kinds: readonly CompressorKind[] =
    layout === 'valve-integral-receiver'
      ? ['fixed-clutch', 'variable', 'variable-commanded', 'variable-commanded', 'electric']
      : ['fixed-clutch', 'fixed-clutch', 'variable'];
  const compressor = pick(u, kinds);
  const electric = compressor === 'electric';
  const wide = (mid: number, spread: number) => mid * Math.exp(spread * normal(u));
  const orifice = layout === 'orifice-accumulator';
  return {
    layout,
    compressor,
    refrigerant: u() < 0.6 ? 'R-134a' : 'R-1234yf',
    displacement: electric ? wide(34e-6, 0.1) : wide(compressor === 'fixed-clutch' ? 150e-6 : 165e-6, 0.1),
    clearance: between(u, 0.03, 0.06),
    isentropic: between(u, 0.6, 0.74),
    condenserUA: wide(600, 0.12),
    condenserAir: wide(0.56, 0.14),
    evaporatorNTU: wide(1.15, 0.12),
    evaporatorAir: wide(0.125, 0.1),
    dropCondenser: wide(0.55e5, 0.25),
    dropSuction: wide(0.16e5, 0.3),
    subcooling: layout === 'valve-integral-receiver' ? between(u, 6, 12) : orifice ? between(u, 3, 9) : between(u, 2.5, 7),
    superheat: orifice ? between(u, 0.5, 5) : between(u, 5, 10),
    reserve: orifice ? between(u, 0.18, 0.36) : between(u, 0.13, 0.28),
    setPoint: between(u, 271.5, 274.5),
    cutOut: between(u, 266.5, 270.5),
  };
}

function drawAir(u: Random, electric: boolean): Surroundings & { readonly outsideK: number; readonly recirculated: boolean } {
  const outsideK = between(u, 291, 313);
  const recirculated = u() < 0.65;
  return {
    outsideK,
    recirculated,
    condenserAirK: outsideK + Math.abs(normal(u)) * 2,
    evaporatorAirK: recirculated ? Math.min(outsideK, 300) + normal(u) * 2 : outsideK + normal(u),
    relativeHumidity: Math.min(Math.max(0.45 + 0.16 * normal(u), 0.12), 0.9),
    speed: electric ? between(u, 40, 100) : between(u, 16, 42),
    blower: u() < 0.7 ? 1 : between(u, 0.6, 1),
    barometerPa: 101_325 * (1 - 2.25577e-5 * (u() < 0.6 ? between(u, 0, 500) : between(u, 500, 2200))) ** 5.25588,
  };
}

function drawFault(u: Random, hw: Hardware): Fault | null {
  const variable = hw.compressor === 'variable' || hw.compressor === 'variable-commanded';
  const fits = (code: FaultCode) => {
    if (code === 'filter-cartridge') return hw.layout === 'valve-integral-receiver';
    if (code === 'valve-restricted' || code === 'valve-stuck-open') return hw.layout !== 'orifice-accumulator';
    if (code === 'orifice-clogged' || code === 'orifice-oversize') return hw.layout === 'orifice-accumulator';
    if (code === 'displacement-stuck-low') return variable;
    if (code === 'electric-compressor-limited') return hw.compressor === 'electric';
    if (code === 'clutch-slip') return hw.compressor !== 'electric';
    return true;
  };
  const open = FREQUENCY.filter(([code]) => fits(code));
  let x = u() * open.reduce((sum, [, w]) => sum + w, 0);
  for (const [code, w] of open) {
    x -= w;
    if (x <= 0) return { code, size: code === 'undercharge' ? between(u, 0.08, 0.99) : between(u, 0.15, 1) };
  }
  return { code: 'healthy', size: 0 };
}

/** Draws one case; null when the drawn system has no steady state. */
export function drawCase(seed: number, set: ObservationSet): Case | null {
  const u = random(seed * 2_654_435_761);
  for (let i = 0; i < 8; i++) u();
  const hw = drawHardware(u);
  const air = drawAir(u, hw.compressor === 'electric');
  const fault = drawFault(u, hw)!;
  let truth: Truth | null = null;
  let sound: Truth | null = null;
  try {
    truth = generate(hw, air, fault);
    sound = generate(hw, air, { code: 'healthy', size: 0 });
  } catch (error) {
    // Outside the property tables there is no vehicle in service.
    if (!(error instanceof OutOfRange)) throw error;
  }
  if (!truth || !sound?.runs || truth.condenserInlet > 33e5) return null;
  return observe(u, hw, air, fault, truth, sound, set);
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
): Case {
  const level = OBSERVATION_SETS.indexOf(set);
  const readings: EngineReading[] = [];
  const add = (r: Omit<EngineReading, 'id'>) => readings.push({ id: `r${readings.length}`, ...r });
  const portUpstream = u() < 0.45;
  const transducerUpstream = level > 0 && u() < 0.75 ? !portUpstream : u() < 0.4;
  const known = u() < 0.85;
  const place = (upstream: boolean): Place => (upstream ? 'condenser-inlet' : 'condenser-outlet');
  const at = (upstream: boolean) => (upstream ? truth.condenserInlet : truth.condenserOutlet);
  const gaugeBias = 12_000 * normal(u);
  const sensorBias = fault.code === 'pressure-sensor-bias' ? (u() < 0.5 ? -1 : 1) * (1.2e5 + 3.5e5 * fault.size) : 14_000 * normal(u);
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
  const withTransducer = level >= 1 && u() < 0.9;
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
    if (u() < chance)
      add({ quantity: 'temperature', place: where, phase: 'running', instrument: 'thermometer', value: wild(K + sigma * normal(u), 15) });
  };
  const vented = u() < (level >= 2 ? 0.95 : 0.7);
  if (vented) temperature('vent', truth.ventK, 0.7, 1);
  if (level >= 2) {
    temperature(lowPlace, truth.suctionK, 1.3, 0.75);
    temperature('condenser-outlet', truth.liquidK, 1.3, 0.8);
    temperature('liquid-line-after-drier', truth.lateLiquidK, 1.3, 0.3);
    temperature('compressor-discharge', truth.dischargeK, 2.5, 0.45);
    temperature('evaporator-core', truth.coreK, 1, 0.5);
  }
  const variable = hw.compressor === 'variable-commanded';
  let command = false;
  if (level >= 2 && variable && u() < 0.8) {
    command = true;
    add({ quantity: 'fraction', meaning: 'compressor-command', value: Math.min(Math.max(truth.stroke + 0.08 * normal(u), 0), 1) });
  }
  let speeds = false;
  if (level >= 2 && hw.compressor === 'electric' && u() < 0.8) {
    speeds = true;
    add({ quantity: 'speed', meaning: 'compressor-speed-requested', value: air.speed });
    add({ quantity: 'speed', meaning: 'compressor-speed', value: air.speed * truth.speedRatio * (1 + 0.01 * normal(u)) });
  }
  let weighed = false;
  const charge = between(u, 0.4, 0.9);
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
  let equalised = false;
  if (level === 3) {
    for (const [code, chance] of FINDINGS[fault.code as FaultCode] ?? []) if (u() < chance) findings.add(code);
    for (const code of STRAY) if (u() < 0.03) findings.add(code);
    if (u() < 0.3) {
      equalised = true;
      const centre = fault.code === 'compressor-leakage' ? 75 : 210;
      add({ quantity: 'time', meaning: 'equalisation-time', value: centre * Math.exp(0.4 * normal(u)) });
    }
  }

  const stepKnown = [...findings].some((f) => f.includes('cartridge') || f.includes('rows') || f.includes('step'));
  const airKnown = [...findings].some((f) => f.includes('fins') || f.includes('fan'));
  const classOf = classes({
    step: stepKnown,
    airSide: airKnown,
    soaked,
    driven: command || speeds || equalised || findings.has('clutch-slips'),
    weighed,
  });

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
    findings: [...findings].map((code) => ({ code })),
    thermalMaps: [],
    traces: [],
  };
  const read = new Set(readings.map((r) => r.place));
  const told = (FINDINGS[fault.code as FaultCode] ?? []).some(([code]) => findings.has(code));
  const shown = visible(fault, truth, sound, { weighed, soaked, compared: withTransducer && rest, told, command, speeds, read });
  return { truth: fault.code, truthClass: shown ? classOf(fault.code) : 'healthy', classOf, input, layout: hw.layout, set };
}

interface Given {
  readonly weighed: boolean;
  readonly soaked: boolean;
  readonly compared: boolean;
  readonly told: boolean;
  readonly command: boolean;
  readonly speeds: boolean;
  readonly read: ReadonlySet<Place | undefined>;
}

/** Graded by impact: a fault that changes nothing read, was not seen by eye and costs less than 3 % of capacity counts as healthy. */
function visible(fault: Fault, truth: Truth, sound: Truth, given: Given): boolean {
  if (fault.code === 'healthy') return false;
  if (given.told) return true;
  if (given.weighed && (fault.code === 'undercharge' || fault.code === 'overcharge')) return true;
  if (given.soaked && fault.code === 'air-in-system') return true;
  if (given.speeds && fault.code === 'electric-compressor-limited') return true;
  if (fault.code === 'pressure-sensor-bias') return given.compared;
  const lost = 1 - truth.capacityW / Math.max(sound.capacityW, 1);
  const moved = (a: number, b: number, by: number) => Math.abs(a - b) > by;
  return (
    lost > 0.03 ||
    moved(truth.condenserInlet, sound.condenserInlet, 0.9e5) ||
    moved(truth.condenserOutlet, sound.condenserOutlet, 0.9e5) ||
    moved(truth.compressorSuction, sound.compressorSuction, 0.25e5) ||
    moved(truth.ventK, sound.ventK, 3) ||
    (given.command && moved(truth.stroke, sound.stroke, 0.2)) ||
    (given.read.has('condenser-outlet') &&
      moved(truth.condenserOutlet - truth.liquidK * 1e4, sound.condenserOutlet - sound.liquidK * 1e4, 4e4)) ||
    (given.read.has('compressor-suction') && moved(truth.suctionK, sound.suctionK, 6)) ||
    (given.read.has('liquid-line-after-drier') && moved(truth.liquidK - truth.lateLiquidK, sound.liquidK - sound.lateLiquidK, 4))
  );
}

/** Classes of faults that the given observations cannot tell apart, as published with the reference signatures. */
function classes(given: {
  step: boolean;
  airSide: boolean;
  soaked: boolean;
  driven: boolean;
  weighed: boolean;
}): (code: HypothesisCode) => string {
  return (code) => {
    if (!given.step && (code === 'condenser-passages' || code === 'filter-cartridge')) return 'inside the condenser';
    if (!given.airSide && (code === 'condenser-dirt' || code === 'condenser-fan')) return 'air side of the condenser';
    if (!given.airSide && !given.soaked && code === 'air-in-system') return 'air side of the condenser';
    if (
      !given.driven &&
      (code === 'displacement-stuck-low' ||
        code === 'clutch-slip' ||
        code === 'compressor-leakage' ||
        code === 'electric-compressor-limited')
    )
      return 'small compressor';
    if (code === 'pressure-sensor-bias' || code === 'gauge-bias' || code === 'transducer-bias') return 'bias';
    return code;
  };
}
