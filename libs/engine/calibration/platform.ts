import { localBarometer } from '../barometer.js';
import { canonical } from '../canonical.js';
import { CMD, DIMS, DUTY, E, HIGH_DIMS, L, SPD, TV } from '../dims.js';
import type { EngineInput, EnginePlatform, PlatformCalibration } from '../evidence.js';
import { precision } from '../gaussian.js';
import { type Measured, measure } from '../measure.js';
import { seatings } from '../places.js';
import { weatherOf } from '../weather.js';
import { CALIBRATION_VERSION, currentCalibration } from './current.js';
import {
  ALL_DIMS,
  bandsOf,
  type CalibratedGroup,
  groupKey,
  soundAt,
  TRIANGLE,
  triangleAt,
  type WeatherTerms,
  weatherTerms,
} from './model.js';
import { STRUCTURE } from './structure.js';

/** Readings of a vehicle proved sound: taken after a repair that was proved and verified. The engine's own verdict is no proof. */
export interface KnownGood {
  /** Key of the shop; only whether two are the same counts. */
  readonly shop: string;
  /** The case with `stage: 'after'` and readings of that stage, in the conditions they were taken in. */
  readonly input: EngineInput;
}

/** Shops needed before their readings may move what counts as sound: below that one shop's habits would. */
export const SHOPS_NEEDED = 3;

/** Share of the spread among sound systems of a kind that belongs to the platform; the rest is between vehicles of one platform (judgement). */
export const BETWEEN_PLATFORMS = 0.7;
/** An offset beyond this many widths of the kind's own hardware is held there: a weakness every vehicle of a platform shares must not become sound. */
export const CAP = 2.5;
/** A reading this many widths off is drawn in to it: one wrong "sound" case must not move a platform. */
export const CLIP = 3;

/** Instruments and habits of one shop, common to all it reads: one standard deviation, K and shares (common practice). */
function shopSigma(dim: number): number {
  if (dim === CMD || dim === DUTY || dim === SPD) return 0.03;
  if (dim === L || dim === E) return 1;
  return HIGH_DIMS.includes(dim) ? 0.6 : dim === TV ? 0.5 : 0.7;
}

/** Spread of sound systems of a kind within a regime, with the error of structure, row-major over all dimensions. */
export function soundSpread(group: CalibratedGroup): Float64Array {
  const T = new Float64Array(STRUCTURE);
  for (const node of bandsOf(group)[0]!) {
    for (let i = 0; i < DIMS; i++) {
      for (let j = 0; j < DIMS; j++) T[i * DIMS + j]! += node.regimeShare * node.covariance[triangleAt(i, j)]!;
    }
  }
  return T;
}

/** What is left of that spread on a platform whose offset is known as far as `known` says. */
export function platformSpread(group: CalibratedGroup, known: PlatformCalibration): Float64Array {
  const T = soundSpread(group);
  for (let i = 0; i < DIMS; i++) {
    for (let j = 0; j < DIMS; j++) {
      T[i * DIMS + j] = (1 - BETWEEN_PLATFORMS) * T[i * DIMS + j]! + known.remaining[triangleAt(i, j)]!;
    }
  }
  return T;
}

/** Information about the offset: precision matrix and precision times mean. */
interface Information {
  readonly matrix: Float64Array;
  readonly vector: Float64Array;
}
const nothing = (): Information => ({ matrix: new Float64Array(DIMS * DIMS), vector: new Float64Array(DIMS) });

/** A sound vehicle's readings against what sound systems of its kind show in the weather they were taken in. */
export interface SoundResiduals {
  /** Dimensions that were read where it is known what stands there. */
  readonly dims: readonly number[];
  /** Seen less expected, in the order of `dims`. */
  readonly r: Float64Array;
  /** Covariance of instruments, weather and regimes, dims x dims: what belongs to this one visit. */
  readonly visit: Float64Array;
  readonly measured: Measured;
  readonly weather: WeatherTerms;
}

/** Null where nothing of the running circuit was read. */
export function soundResiduals(group: CalibratedGroup, spread: Float64Array, input: EngineInput): SoundResiduals | null {
  const { platform } = input;
  const barometer = localBarometer(input.conditions, input.elevationM);
  const evidence = canonical(input, barometer.pressurePa);
  const seats = seatings(platform);
  const measured = measure(input, evidence.readings, seats[0]!, barometer);
  // Where port and transducer stand must be known before their readings can say what is sound there.
  const dims = measured.present.filter((i) => seats.length === 1 || !HIGH_DIMS.includes(i));
  const d = dims.length;
  if (d === 0) return null;
  const weather = weatherTerms(weatherOf({ ...input, readings: evidence.readings }, barometer), platform.refrigerant);
  const expected = soundAt(group, weather, ALL_DIMS);
  const visit = new Float64Array(d * d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      const k = dims[a]! * DIMS + dims[b]!;
      visit[a * d + b] = measured.noise[k]! + expected.covariance[k]! + STRUCTURE[k]! - spread[k]!;
    }
  }
  return { dims, r: Float64Array.from(dims, (i) => measured.x[i]! - expected.mean[i]!), visit, measured, weather };
}

/** Adds what one vehicle's readings say about the offset of its platform and shop together. */
function addCase(into: Information, group: CalibratedGroup, spread: Float64Array, input: EngineInput): boolean {
  const sound = soundResiduals(group, spread, input);
  if (!sound) return false;
  const { dims, r, visit: own } = sound;
  const d = dims.length;
  for (let a = 0; a < d; a++) {
    const i = dims[a]!;
    // Of the hardware's spread the platform's share is what is sought.
    for (let b = 0; b < d; b++) own[a * d + b]! += (1 - BETWEEN_PLATFORMS) * spread[i * DIMS + dims[b]!]!;
    const widest = CLIP * Math.sqrt(own[a * d + a]! + BETWEEN_PLATFORMS * spread[i * DIMS + i]!);
    r[a] = Math.min(Math.max(r[a]!, -widest), widest);
  }
  const { inverse } = precision(own, d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      into.matrix[dims[a]! * DIMS + dims[b]!]! += inverse[a * d + b]!;
      into.vector[dims[a]!]! += inverse[a * d + b]! * r[b]!;
    }
  }
  return true;
}

/** The same without the part the shop's own instruments may have added: L - L (L + B^-1)^-1 L, B diagonal (matrix inversion lemma). */
function withoutShop(shop: Information): Information {
  const sum = new Float64Array(shop.matrix);
  for (let i = 0; i < DIMS; i++) sum[i * DIMS + i]! += 1 / shopSigma(i) ** 2;
  const { inverse } = precision(sum, DIMS);
  const gain = new Float64Array(DIMS * DIMS);
  for (let i = 0; i < DIMS; i++) {
    for (let k = 0; k < DIMS; k++) {
      const x = shop.matrix[i * DIMS + k]!;
      if (x !== 0) for (let j = 0; j < DIMS; j++) gain[i * DIMS + j]! += x * inverse[k * DIMS + j]!;
    }
  }
  const out = { matrix: new Float64Array(shop.matrix), vector: new Float64Array(shop.vector) };
  for (let i = 0; i < DIMS; i++) {
    for (let k = 0; k < DIMS; k++) {
      const g = gain[i * DIMS + k]!;
      out.vector[i]! -= g * shop.vector[k]!;
      for (let j = 0; j < DIMS; j++) out.matrix[i * DIMS + j]! -= g * shop.matrix[k * DIMS + j]!;
    }
  }
  return out;
}

/**
 * Calibration of a platform's sound expectation by known-good readings; null with fewer than three shops or where the engine has no
 * calibration for this kind of system.
 *
 * Normal model with three levels: offset of the platform ~ N(0, 0.7 T), instruments of a shop ~ N(0, B), vehicle and readings ~ N(0, 0.3 T + noise),
 * T the spread of sound systems of the kind. The offset is the posterior mean, so few readings move it little (shrinkage), and is held within
 * two and a half widths of the hardware. Judge a case by it with `diagnose({ ...input, platformCalibration })`. Pure; the order of the cases does not matter
 * beyond rounding. About 0.1 ms a case.
 */
export function platformCalibration(platform: EnginePlatform, known: readonly KnownGood[]): PlatformCalibration | null {
  const key = groupKey(platform.layout, platform.compressor);
  const group = currentCalibration().get(key);
  if (!group) return null;
  const spread = soundSpread(group);
  const shops = new Map<string, Information>();
  let cases = 0;
  for (const { shop, input } of known) {
    const into = shops.get(shop) ?? nothing();
    if (!addCase(into, group, spread, { ...input, platform })) continue;
    shops.set(shop, into);
    cases++;
  }
  if (shops.size < SHOPS_NEEDED) return null;
  const prior = precision(
    spread.map((x) => BETWEEN_PLATFORMS * x),
    DIMS,
  ).inverse;
  const sum = { matrix: new Float64Array(prior), vector: new Float64Array(DIMS) };
  for (const key of [...shops.keys()].sort()) {
    const { matrix, vector } = withoutShop(shops.get(key)!);
    for (let i = 0; i < matrix.length; i++) sum.matrix[i]! += matrix[i]!;
    for (let i = 0; i < DIMS; i++) sum.vector[i]! += vector[i]!;
  }
  const remaining = precision(sum.matrix, DIMS).inverse;
  const offset = Array.from({ length: DIMS }, (_, i) => {
    let x = 0;
    for (let j = 0; j < DIMS; j++) x += remaining[i * DIMS + j]! * sum.vector[j]!;
    const most = CAP * Math.sqrt(spread[i * DIMS + i]!);
    return Math.min(Math.max(x, -most), most);
  });
  const triangle: number[] = new Array(TRIANGLE).fill(0);
  for (let i = 0; i < DIMS; i++) for (let j = 0; j <= i; j++) triangle[triangleAt(i, j)] = remaining[i * DIMS + j]!;
  return { calibration: CALIBRATION_VERSION, group: key, cases, shops: shops.size, offset, remaining: triangle };
}

/** The platform's own calibration in a case, when it belongs to this engine and this kind of system. */
export function knownPlatform(input: EngineInput): PlatformCalibration | null {
  const known = input.platformCalibration;
  const { layout, compressor } = input.platform;
  return known && known.calibration === CALIBRATION_VERSION && known.group === groupKey(layout, compressor) ? known : null;
}

/** What the platform's calibration says of a case's sound expectation. */
export function knownOf(input: EngineInput): { readonly offset: readonly number[]; readonly spread: Float64Array } | null {
  const known = knownPlatform(input);
  const group = known && currentCalibration().get(known.group);
  return group ? { offset: known.offset, spread: platformSpread(group, known) } : null;
}
