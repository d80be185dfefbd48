import type { Barometer } from './barometer.js';
import { SEA_LEVEL_PA } from './barometer.js';
import type { CanonicalReading } from './canonical.js';
import type { Place, PressureReference, RefrigerantName } from './codes.js';
import { CMD, DIMS, DUTY, pressureDim, SPD, TV, temperatureDim } from './dims.js';
import type { EngineInput } from './evidence.js';
import { isHighSide, isLowSide, type Seating, seat } from './places.js';
import { saturationSlope, saturationTemperature } from './saturation.js';
import { tracePicture } from './traces.js';

export type Device = 'gauge' | 'transducer';

/** An absolute pressure with what it hangs on. */
export interface PressureReading {
  readonly id: string;
  readonly device: Device;
  readonly place: Place;
  readonly side: 'high' | 'low';
  readonly pa: number;
  /** Noise of a single look, Pa. */
  readonly sigmaPa: number;
  /** Reference was not stated. */
  readonly unknownReference: boolean;
}

export interface RestPressures {
  readonly readings: readonly PressureReading[];
  /** Transducer minus high-side gauge at rest, Pa; null unless both were read. */
  readonly differencePa: number | null;
  /** Low-side gauge minus high-side gauge at rest, Pa. */
  readonly sidesPa: number | null;
}

/** What was read of the running circuit, in the dimensions of the engine. */
export interface Measured {
  readonly x: Float64Array;
  readonly present: readonly number[];
  /** Instrument variance, row-major DIMS x DIMS (a common bias couples readings of one instrument). */
  readonly noise: Float64Array;
  readonly ids: readonly (readonly string[])[];
  /** Absolute pressures behind the pressure dimensions, Pa; NaN where not read. */
  readonly pa: Float64Array;
  readonly devices: readonly (Device | null)[];
  readonly rest: RestPressures;
  readonly running: readonly PressureReading[];
  /** Gauge and transducer at one place while running: transducer minus gauge, Pa, corrected by the difference at rest. */
  readonly samePlacePa: { readonly value: number; readonly ids: readonly string[] } | null;
  /** Reference the transducer was taken in after the test at rest. */
  readonly transducerReference: PressureReference;
}

/** Needle and scale of a manifold gauge, one standard deviation (class 1.6 to 2.5 instruments; common practice). */
const GAUGE_LOW_PA = 6_000;
const GAUGE_HIGH_PA = 18_000;
const TRANSDUCER_PA = 15_000;
/** Two instruments of a shop agree within about 10 psi at rest (common practice): each is off by 0.25 bar as one standard deviation. */
export const AGREEMENT_SIGMA_PA = 25_000;
/** The low-side gauge has a scale of a third of the high side's, and errs by a share of its scale. */
export const LOW_AGREEMENT_SIGMA_PA = 15_000;

function toAbsolute(pa: number, reference: PressureReference, barometer: Barometer): number {
  if (reference === 'absolute') return pa;
  return pa + (reference === 'sealed-gauge' ? SEA_LEVEL_PA : barometer.pressurePa);
}

/** Mean of a span; on a cycling clutch the end of the on-time, where the low side is lowest and the high side highest. */
function readValue(r: CanonicalReading, cycling: boolean): number {
  if (r.to === undefined) return r.value;
  if (!cycling) return (r.value + r.to) / 2;
  return r.place && isLowSide(r.place) ? Math.min(r.value, r.to) : Math.max(r.value, r.to);
}

function deviceOf(r: CanonicalReading): Device {
  if (r.instrument === 'vehicle-transducer' || r.instrument === 'scan-tool') return 'transducer';
  return r.place === 'high-side-transducer' || r.place === 'low-side-transducer' ? 'transducer' : 'gauge';
}

function mean<T>(xs: readonly T[], of: (x: T) => number): number {
  let sum = 0;
  for (let i = 0; i < xs.length; i++) sum += of(xs[i]!);
  return sum / xs.length;
}
const paOf = (p: PressureReading) => p.pa;
const sigmaOf = (p: PressureReading) => p.sigmaPa;
const siOf = (r: CanonicalReading) => r.value;
const idOf = (r: { readonly id: string }) => r.id;

/** Mean pressure of one kind of instrument on one side; null where none was read. */
function meanPa(pressures: readonly PressureReading[], device: Device, side: PressureReading['side']): number | null {
  let sum = 0;
  let count = 0;
  for (const p of pressures) {
    if (p.device !== device || p.side !== side) continue;
    sum += p.pa;
    count++;
  }
  return count === 0 ? null : sum / count;
}

function restGap(pressures: readonly PressureReading[]): number | null {
  const transducer = meanPa(pressures, 'transducer', 'high');
  const gauge = meanPa(pressures, 'gauge', 'high') ?? meanPa(pressures, 'gauge', 'low');
  return transducer === null || gauge === null ? null : transducer - gauge;
}

interface Pressures {
  readonly rest: PressureReading[];
  readonly running: PressureReading[];
}

/** Absolute pressures, a transducer whose reference was not stated taken in `transducer`. */
function absolutes(
  { platform }: EngineInput,
  readings: readonly CanonicalReading[],
  seating: Seating,
  barometer: Barometer,
  transducer: PressureReference,
): Pressures {
  const cycling = platform.compressor === 'fixed-clutch';
  const rest: PressureReading[] = [];
  const running: PressureReading[] = [];
  for (const r of readings) {
    if (r.quantity !== 'pressure' || r.place === undefined || r.meaning === 'vacuum-rise') continue;
    const high = isHighSide(r.place);
    if (!high && !isLowSide(r.place)) continue;
    const device = deviceOf(r);
    const stated = r.reference && r.reference !== 'unknown' ? r.reference : undefined;
    const reference = stated ?? (device === 'transducer' ? transducer : 'vented-gauge');
    const pa = toAbsolute(readValue(r, cycling), reference, barometer);
    const span = r.to === undefined ? 0 : Math.abs(r.to - r.value) / (cycling ? 8 : 4);
    const base = device === 'transducer' ? TRANSDUCER_PA : high ? GAUGE_HIGH_PA : GAUGE_LOW_PA;
    (r.phase === 'rest' ? rest : running).push({
      id: r.id,
      device,
      place: seat(r.place, seating),
      side: high ? 'high' : 'low',
      pa: Math.max(pa, 1000),
      sigmaPa: Math.hypot(base, span),
      unknownReference: stated === undefined && device === 'transducer',
    });
  }
  return { rest, running };
}

/** References a transducer may have, the likeliest first. */
const REFERENCES: readonly PressureReference[] = ['vented-gauge', 'sealed-gauge', 'absolute'];

/** What is filled reading by reading. */
interface Slots {
  readonly x: Float64Array;
  readonly pa: Float64Array;
  readonly noise: Float64Array;
  readonly ids: string[][];
  readonly devices: (Device | null)[];
}

/** An instrument of a pressure dimension, and K a Pa there. */
interface Biased {
  readonly dim: number;
  readonly device: Device;
  readonly perPa: number;
}

/** The pressures of one dimension; gauges go before transducers. */
function fillPressure(slots: Slots, dim: number, group: readonly PressureReading[], name: RefrigerantName, compared: boolean): Biased {
  const gauges = group.filter((p) => p.device === 'gauge');
  const kept = gauges.length > 0 ? gauges : group;
  const { device } = kept[0]!;
  const value = mean(kept, paOf);
  const T = saturationTemperature(name, value);
  const perPa = 1 / saturationSlope(name, Math.min(T, 365));
  slots.pa[dim] = value;
  slots.x[dim] = T;
  slots.devices[dim] = device;
  for (const p of group) slots.ids[dim]!.push(p.id);
  const look = Math.hypot(mean(kept, sigmaOf), !compared && kept.some((p) => p.unknownReference) ? 40_000 : 0);
  slots.noise[dim * DIMS + dim]! += (look * perPa) ** 2;
  return { dim, device, perPa };
}

/** Bias of an instrument is common to all it reads; after a comparison at rest gauge and transducer share one. */
function addBiases(noise: Float64Array, biased: readonly Biased[], compared: boolean, barometerSigmaPa: number): void {
  for (const a of biased) {
    for (const b of biased) {
      if (a.device !== b.device && !compared) continue;
      const low = a.dim < 2;
      const bias = low ? LOW_AGREEMENT_SIGMA_PA : AGREEMENT_SIGMA_PA;
      if (low === b.dim < 2) noise[a.dim * DIMS + b.dim]! += bias ** 2 * a.perPa * b.perPa;
      noise[a.dim * DIMS + b.dim]! += barometerSigmaPa ** 2 * a.perPa * b.perPa;
    }
  }
}

function fillTemperatures(slots: Slots, readings: readonly CanonicalReading[], seating: Seating): void {
  const byDim = new Map<number, CanonicalReading[]>();
  for (const r of readings) {
    if (r.quantity !== 'temperature' || r.phase !== 'running' || r.place === undefined) continue;
    const dim = temperatureDim(seat(r.place, seating));
    if (dim < 0) continue;
    const held = byDim.get(dim);
    if (held) held.push(r);
    else byDim.set(dim, [r]);
  }
  for (const [dim, group] of byDim) {
    slots.x[dim] = mean(group, (r) => readValue(r, false));
    // A contact probe on a pipe is good to about 1.5 K, an imager on bare metal to 4 K (common practice).
    const sigma = group.some((r) => r.instrument === 'thermal-imager') ? 4 : dim === TV ? 1 : 1.5;
    slots.noise[dim * DIMS + dim]! += sigma ** 2;
    for (const r of group) slots.ids[dim]!.push(r.id);
  }
}

/** Stroke, speed and duty of the compressor. */
function fillShares(slots: Slots, input: EngineInput, readings: readonly CanonicalReading[]): void {
  const { x, noise, ids } = slots;
  const cycling = input.platform.compressor === 'fixed-clutch';
  const commands = readings.filter((r) => r.meaning === 'compressor-command');
  const command = commands.length > 0 ? mean(commands, siOf) : input.conditions.compressorCommand;
  if (command !== undefined && !cycling) {
    x[CMD] = command;
    noise[CMD * DIMS + CMD]! += 0.05 ** 2;
    ids[CMD]!.push(...commands.map(idOf));
  }
  const actual = readings.filter((r) => r.meaning === 'compressor-speed');
  const asked = readings.filter((r) => r.meaning === 'compressor-speed-requested');
  if (actual.length > 0 && asked.length > 0 && mean(asked, siOf) > 1) {
    x[SPD] = mean(actual, siOf) / mean(asked, siOf);
    noise[SPD * DIMS + SPD]! += 0.03 ** 2;
    ids[SPD]!.push(...actual.map(idOf), ...asked.map(idOf));
  }
  const duty = dutyFromTraces(input);
  if (duty !== null && cycling) {
    x[DUTY] = duty;
    noise[DUTY * DIMS + DUTY]! += 0.05 ** 2;
  }
}

/** Transducer less gauge where both stand at one place; null where they do not. */
function gapAt(group: readonly PressureReading[]): Measured['samePlacePa'] {
  const gauges = group.filter((p) => p.device === 'gauge');
  const transducers = group.filter((p) => p.device === 'transducer');
  if (gauges.length === 0 || transducers.length === 0) return null;
  return { value: mean(transducers, paOf) - mean(gauges, paOf), ids: [...gauges, ...transducers].map(idOf) };
}

/**
 * Readings as a vector in the engine's dimensions for one seating of port and transducer.
 *
 * Pressures become absolute with the local barometer and then saturation temperatures. A transducer whose reference is not known is tested
 * at rest: the reference that agrees best with the gauge within the agreement of two instruments is taken, before any talk of bias.
 * A difference at rest between gauge and transducer is taken out of the running readings of the transducer.
 *
 * In parts of its own each: the machine code of one function with all of them is made anew at every instrument that was not seen before.
 */
export function measure(input: EngineInput, readings: readonly CanonicalReading[], seating: Seating, barometer: Barometer): Measured {
  const name = input.platform.refrigerant;
  const stated = input.platform.transducerReference;
  let reference: PressureReference = stated && stated !== 'unknown' ? stated : 'vented-gauge';
  let read = absolutes(input, readings, seating, barometer, reference);
  const untested = !stated || stated === 'unknown';
  if (untested && read.rest.some((p) => p.unknownReference)) {
    let least = Number.POSITIVE_INFINITY;
    for (const candidate of REFERENCES) {
      const gap = Math.abs(restGap(absolutes(input, readings, seating, barometer, candidate).rest) ?? Number.POSITIVE_INFINITY);
      if (gap >= least - 1_000) continue;
      least = gap;
      reference = candidate;
    }
    if (least >= 2 * AGREEMENT_SIGMA_PA) reference = 'vented-gauge';
    if (reference !== 'vented-gauge') read = absolutes(input, readings, seating, barometer, reference);
  }
  const { rest, running } = read;
  const differencePa = restGap(rest);
  const compared = differencePa !== null;
  const lowRest = meanPa(rest, 'gauge', 'low');
  const highRest = meanPa(rest, 'gauge', 'high');
  const sidesPa = lowRest === null || highRest === null ? null : lowRest - highRest;

  // Taken at rest with everything open, a difference of the instruments is bias and belongs to neither running reading.
  const corrected = compared
    ? running.map((p) => (p.device === 'transducer' && p.side === 'high' ? { ...p, pa: Math.max(p.pa - differencePa, 1000) } : p))
    : running;

  const slots: Slots = {
    x: new Float64Array(DIMS).fill(Number.NaN),
    pa: new Float64Array(DIMS).fill(Number.NaN),
    noise: new Float64Array(DIMS * DIMS),
    ids: Array.from({ length: DIMS }, () => []),
    devices: new Array(DIMS).fill(null),
  };
  const perDim = new Map<number, PressureReading[]>();
  for (const p of corrected) {
    const dim = pressureDim(p.place);
    if (dim < 0) continue;
    const held = perDim.get(dim);
    if (held) held.push(p);
    else perDim.set(dim, [p]);
  }
  let samePlace: Measured['samePlacePa'] = null;
  const biased: Biased[] = [];
  for (const [dim, group] of perDim) {
    samePlace = gapAt(group) ?? samePlace;
    biased.push(fillPressure(slots, dim, group, name, compared));
  }
  addBiases(slots.noise, biased, compared, barometer.sigmaPa);
  fillTemperatures(slots, readings, seating);
  fillShares(slots, input, readings);

  const present: number[] = [];
  for (let i = 0; i < DIMS; i++) if (Number.isFinite(slots.x[i]!)) present.push(i);
  return {
    x: slots.x,
    present,
    noise: slots.noise,
    ids: slots.ids.map((list) => (list.length < 2 ? list : [...new Set(list)].sort())),
    pa: slots.pa,
    devices: slots.devices,
    rest: { readings: rest, differencePa, sidesPa },
    running: corrected,
    samePlacePa: samePlace,
    transducerReference: reference,
  };
}

/** Share of the time a cycling clutch is on, from a low-side trace. Null without a trace of two whole cycles. */
export function dutyFromTraces(input: EngineInput): number | null {
  for (const [i, trace] of input.traces.entries()) {
    const cycling = isLowSide(trace.place) ? tracePicture(trace, i)?.cycling : null;
    if (cycling) return cycling.duty;
  }
  return null;
}
