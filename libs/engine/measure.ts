import type { Barometer } from './barometer.js';
import { SEA_LEVEL_PA } from './barometer.js';
import type { CanonicalReading } from './canonical.js';
import type { Place, PressureReference } from './codes.js';
import { CMD, DIMS, DUTY, pressureDim, SPD, temperatureDim } from './dims.js';
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
  readonly warnings: readonly string[];
}

/** Needle and scale of a manifold gauge, one standard deviation (class 1.6 to 2.5 instruments; common practice). */
const GAUGE_LOW_PA = 6_000;
const GAUGE_HIGH_PA = 18_000;
const TRANSDUCER_PA = 15_000;
/** Two instruments of a shop agree within about 10 psi at rest (common practice): each is off by 0.25 bar as one standard deviation. */
export const AGREEMENT_SIGMA_PA = 25_000;
/** The low-side gauge has a scale of a third of the high side's, and errs by a share of its scale. */
export const LOW_AGREEMENT_SIGMA_PA = 15_000;

function toAbsolute(r: CanonicalReading, reference: PressureReference, barometer: Barometer): number {
  if (reference === 'absolute') return r.value;
  return r.value + (reference === 'sealed-gauge' ? SEA_LEVEL_PA : barometer.pressurePa);
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

const mean = (xs: readonly number[]) => xs.reduce((a, b) => a + b, 0) / xs.length;

function restGap(pressures: readonly PressureReading[]): number | null {
  const t = pressures.filter((p) => p.device === 'transducer' && p.side === 'high').map((p) => p.pa);
  const g = pressures.filter((p) => p.device === 'gauge' && p.side === 'high').map((p) => p.pa);
  const low = pressures.filter((p) => p.device === 'gauge' && p.side === 'low').map((p) => p.pa);
  const gauge = g.length > 0 ? g : low;
  return t.length > 0 && gauge.length > 0 ? mean(t) - mean(gauge) : null;
}

/**
 * Readings as a vector in the engine's dimensions for one seating of port and transducer.
 *
 * Pressures become absolute with the local barometer and then saturation temperatures. A transducer whose reference is not known is tested
 * at rest: the reference that agrees best with the gauge within the agreement of two instruments is taken, before any talk of bias.
 * A difference at rest between gauge and transducer is taken out of the running readings of the transducer.
 */
export function measure(input: EngineInput, readings: readonly CanonicalReading[], seating: Seating, barometer: Barometer): Measured {
  const name = input.platform.refrigerant;
  const cycling = input.platform.compressor === 'fixed-clutch';
  const warnings: string[] = [];

  const absolutes = (transducer: PressureReference): { rest: PressureReading[]; running: PressureReading[] } => {
    const rest: PressureReading[] = [];
    const running: PressureReading[] = [];
    for (const r of readings) {
      if (r.quantity !== 'pressure' || r.place === undefined || r.meaning === 'vacuum-rise') continue;
      const high = isHighSide(r.place);
      if (!high && !isLowSide(r.place)) continue;
      const device = deviceOf(r);
      const stated = r.reference && r.reference !== 'unknown' ? r.reference : undefined;
      const reference = stated ?? (device === 'transducer' ? transducer : 'vented-gauge');
      const pa = toAbsolute({ ...r, value: readValue(r, cycling) }, reference, barometer);
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
  };

  const stated = input.platform.transducerReference;
  let reference: PressureReference = stated && stated !== 'unknown' ? stated : 'vented-gauge';
  const untested = !stated || stated === 'unknown';
  const asVented = absolutes(reference);
  const testable = asVented.rest.some((p) => p.unknownReference);
  if (untested && testable) {
    const gap = (ref: PressureReference) => Math.abs(restGap(absolutes(ref).rest) ?? Number.POSITIVE_INFINITY);
    const candidates: PressureReference[] = ['vented-gauge', 'sealed-gauge', 'absolute'];
    const best = candidates.reduce((a, b) => (gap(b) < gap(a) - 1_000 ? b : a));
    if (gap(best) < 2 * AGREEMENT_SIGMA_PA) reference = best;
  }
  const { rest, running } = absolutes(reference);
  const differencePa = restGap(rest);
  const lowRest = rest.filter((p) => p.side === 'low' && p.device === 'gauge').map((p) => p.pa);
  const highRest = rest.filter((p) => p.side === 'high' && p.device === 'gauge').map((p) => p.pa);
  const sidesPa = lowRest.length > 0 && highRest.length > 0 ? mean(lowRest) - mean(highRest) : null;

  // Taken at rest with everything open, a difference of the instruments is bias and belongs to neither running reading.
  const correction = differencePa ?? 0;
  const corrected = running.map((p) =>
    p.device === 'transducer' && p.side === 'high' ? { ...p, pa: Math.max(p.pa - correction, 1000) } : p,
  );

  const x = new Float64Array(DIMS).fill(Number.NaN);
  const pa = new Float64Array(DIMS).fill(Number.NaN);
  const noise = new Float64Array(DIMS * DIMS);
  const ids: string[][] = Array.from({ length: DIMS }, () => []);
  const devices: (Device | null)[] = new Array(DIMS).fill(null);

  const perDim = new Map<number, PressureReading[]>();
  for (const p of corrected) {
    const dim = pressureDim(p.place);
    if (dim >= 0) perDim.set(dim, [...(perDim.get(dim) ?? []), p]);
  }
  let samePlace: Measured['samePlacePa'] = null;
  const biasK: { dim: number; device: Device; perPa: number }[] = [];
  for (const [dim, group] of perDim) {
    const gauges = group.filter((p) => p.device === 'gauge');
    const transducers = group.filter((p) => p.device === 'transducer');
    if (gauges.length > 0 && transducers.length > 0) {
      samePlace = {
        value: mean(transducers.map((p) => p.pa)) - mean(gauges.map((p) => p.pa)),
        ids: [...gauges, ...transducers].map((p) => p.id),
      };
    }
    const kept = gauges.length > 0 ? gauges : transducers;
    const value = mean(kept.map((p) => p.pa));
    const T = saturationTemperature(name, value);
    const perPa = 1 / saturationSlope(name, Math.min(T, 365));
    pa[dim] = value;
    x[dim] = T;
    devices[dim] = kept[0]!.device;
    ids[dim]!.push(...group.map((p) => p.id));
    const look = Math.hypot(mean(kept.map((p) => p.sigmaPa)), kept.some((p) => p.unknownReference) && differencePa === null ? 40_000 : 0);
    noise[dim * DIMS + dim]! += (look * perPa) ** 2;
    biasK.push({ dim, device: kept[0]!.device, perPa });
  }
  // Bias of an instrument is common to all it reads; after a comparison at rest gauge and transducer share one.
  for (const a of biasK) {
    for (const b of biasK) {
      const same = a.device === b.device || differencePa !== null;
      const low = a.dim < 2;
      const bias = low ? LOW_AGREEMENT_SIGMA_PA : AGREEMENT_SIGMA_PA;
      if (same && low === b.dim < 2) noise[a.dim * DIMS + b.dim]! += bias ** 2 * a.perPa * b.perPa;
      if (same) noise[a.dim * DIMS + b.dim]! += barometer.sigmaPa ** 2 * a.perPa * b.perPa;
    }
  }

  const temperatures = new Map<number, CanonicalReading[]>();
  for (const r of readings) {
    if (r.quantity !== 'temperature' || r.phase !== 'running' || r.place === undefined) continue;
    const dim = temperatureDim(seat(r.place, seating));
    if (dim >= 0) temperatures.set(dim, [...(temperatures.get(dim) ?? []), r]);
  }
  for (const [dim, group] of temperatures) {
    x[dim] = mean(group.map((r) => readValue(r, false)));
    // A contact probe on a pipe is good to about 1.5 K, an imager on bare metal to 4 K (common practice).
    const sigma = group.some((r) => r.instrument === 'thermal-imager') ? 4 : dim === temperatureDim('vent') ? 1 : 1.5;
    noise[dim * DIMS + dim]! += sigma ** 2;
    ids[dim]!.push(...group.map((r) => r.id));
  }

  const share = (meaning: string) => readings.filter((r) => r.meaning === meaning);
  const commands = share('compressor-command');
  const command = commands.length > 0 ? mean(commands.map((r) => r.value)) : input.conditions.compressorCommand;
  if (command !== undefined && input.platform.compressor !== 'fixed-clutch') {
    x[CMD] = command;
    noise[CMD * DIMS + CMD]! += 0.05 ** 2;
    ids[CMD]!.push(...commands.map((r) => r.id));
  }
  const actual = share('compressor-speed');
  const asked = share('compressor-speed-requested');
  if (actual.length > 0 && asked.length > 0 && mean(asked.map((r) => r.value)) > 1) {
    x[SPD] = mean(actual.map((r) => r.value)) / mean(asked.map((r) => r.value));
    noise[SPD * DIMS + SPD]! += 0.03 ** 2;
    ids[SPD]!.push(...actual.map((r) => r.id), ...asked.map((r) => r.id));
  }
  const duty = dutyFromTraces(input);
  if (duty !== null && cycling) {
    x[DUTY] = duty;
    noise[DUTY * DIMS + DUTY]! += 0.05 ** 2;
  }

  const present = Array.from({ length: DIMS }, (_, i) => i).filter((i) => Number.isFinite(x[i]!));
  return {
    x,
    present,
    noise,
    ids: ids.map((list) => [...new Set(list)].sort()),
    pa,
    devices,
    rest: { readings: rest, differencePa, sidesPa },
    running: corrected,
    samePlacePa: samePlace,
    transducerReference: reference,
    warnings,
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
