import { DIMS, HIGH_DIMS, PRESSURE_DIMS } from '../dims.js';
import type { EngineInput, OwnSound } from '../evidence.js';
import { precision } from '../gaussian.js';
import { AGREEMENT_SIGMA_PA, LOW_AGREEMENT_SIGMA_PA, type Measured } from '../measure.js';
import { seatings } from '../places.js';
import { saturationSlope } from '../saturation.js';
import type { Weather } from '../weather.js';
import type { KnownSound } from './circuit.js';
import { currentCalibration } from './current.js';
import { groupKey, type WeatherTerms, weatherTerms } from './model.js';
import { CAP, CLIP, knownPlatform, platformSpread, type SoundResiduals, soundResiduals, soundSpread } from './platform.js';

/** More readings of one vehicle than these would tell of its age, not of its make. */
export const OWN_AT_MOST = 3;

/** Readings called sound that are of a faulty vehicle: proof errs, and a second fault may have been there (judgement). */
const WRONG = 0.05;
/** How much wider than a sound vehicle's the readings of a faulty one scatter, in widths (judgement). */
const FAULTY_WIDTH = 3;
/**
 * What a vehicle changes by between visits, as a variance in shares of its kind's spread: once (what was repaired and recharged), and each year of wear and dirt
 * (judgement; a doubling of all three moved the log loss of the tempering seeds by 0.004).
 */
const CHANGE = 0.1;
const CHANGE_A_YEAR = 0.06;
/** The same for each squared scaled unit between the weathers (8 K of outside air, 6 K of cabin air): two models of one vehicle differ in how they follow it. */
const CHANGE_BY_WEATHER = 0.1;
/** Share of an instrument's variance that is the same at both visits: a gauge of the same shop, the vehicle's own transducer (judgement). */
const SAME_GAUGE = 0.5;
const SAME_TRANSDUCER = 0.7;

/** Instruments whose error may be common to two visits. */
const SOURCES = 3;
const HIGH_GAUGE = 0;
const LOW_GAUGE = 1;
const TRANSDUCER = 2;

/** What is known of a vehicle's own sound state, and how far its readings of earlier visits were believed. */
export interface KnownVehicle extends KnownSound {
  /** Earlier visits used. */
  readonly readings: number;
  /** Of these, those that look unlike a sound vehicle and count less than half. */
  readonly doubted: number;
  /** What was measured now without the error its instruments had at the earlier visits: that part stands in `offset` and `spread`. */
  readonly settle: (measured: Measured) => Measured;
}

/** Instrument behind a pressure dimension, or -1; after a comparison at rest the transducer carries the gauge's error. */
function sourceOf(measured: Measured, dim: number): number {
  const device = measured.devices[dim];
  if (!device || !PRESSURE_DIMS.includes(dim)) return -1;
  if (!HIGH_DIMS.includes(dim)) return device === 'gauge' ? LOW_GAUGE : -1;
  return device === 'gauge' || measured.rest.differencePa !== null ? HIGH_GAUGE : TRANSDUCER;
}

/** Loadings of the common errors on what was measured, row-major DIMS x SOURCES, K a standard deviation of what is common. */
function loadings(measured: Measured, input: EngineInput, sameShop: boolean, dims: readonly number[]): Float64Array {
  const out = new Float64Array(DIMS * SOURCES);
  for (const i of dims) {
    const source = sourceOf(measured, i);
    if (source < 0 || (source !== TRANSDUCER && !sameShop)) continue;
    const pa = source === LOW_GAUGE ? LOW_AGREEMENT_SIGMA_PA : AGREEMENT_SIGMA_PA;
    const share = source === TRANSDUCER ? SAME_TRANSDUCER : SAME_GAUGE;
    out[i * SOURCES + source] = (Math.sqrt(share) * pa) / saturationSlope(input.platform.refrigerant, Math.min(measured.x[i]!, 365));
  }
  return out;
}

const common = (B: Float64Array, i: number, j: number): number => {
  let sum = 0;
  for (let s = 0; s < SOURCES; s++) sum += B[i * SOURCES + s]! * B[j * SOURCES + s]!;
  return sum;
};

function distance2(a: WeatherTerms, b: WeatherTerms): number {
  let sum = 0;
  for (let k = 0; k < a.conditions.length; k++) sum += (a.conditions[k]! - b.conditions[k]!) ** 2;
  return sum;
}

/**
 * What is known of a vehicle's own sound state from readings of earlier visits; null without any, or where the engine has no calibration for its kind.
 *
 * Normal model below the platform's: the vehicle's deviation w ~ N(p, S), with p and S of the platform where it is known and 0 and T of the kind where it is
 * not; a reading then is w + change since (a share of T that grows with age and with the distance of the weathers) + instruments + visit. The error of the same
 * shop's gauges and of the vehicle's own transducer is a state of its own, common to both visits. A reading counts by the probability that it is a sound
 * vehicle's, 0.95 beforehand; residuals are drawn in to three widths, and the offset is held within two and a half widths of S: a weakness, or a fault that
 * was overlooked, must not become sound. Pure; the order of the readings does not
 * matter beyond rounding. A reading costs about a seventh of what a case costs.
 */
export function knownVehicle(input: EngineInput, now: Measured, air: Weather): KnownVehicle | null {
  if (!input.ownSound?.length) return null;
  const weather = weatherTerms(air, input.platform.refrigerant);
  const group = currentCalibration().get(groupKey(input.platform.layout, input.platform.compressor));
  if (!group) return null;
  const T = soundSpread(group);
  const platform = knownPlatform(input);
  const S = platform ? platformSpread(group, platform) : T;
  const p = Float64Array.from({ length: DIMS }, (_, i) => platform?.offset[i] ?? 0);

  const n = DIMS + SOURCES;
  const prior = precision(S, DIMS).inverse;
  const information = new Float64Array(n * n);
  for (let i = 0; i < DIMS; i++) for (let j = 0; j < DIMS; j++) information[i * n + j] = prior[i * DIMS + j]!;
  for (let s = DIMS; s < n; s++) information[s * n + s] = 1;
  const vector = new Float64Array(n);

  let readings = 0;
  let doubted = 0;
  for (const own of newest(input.ownSound)) {
    const sound = soundResiduals(group, T, earlier(input, own));
    if (!sound) continue;
    readings++;
    const B = loadings(sound.measured, input, own.sameShop, sound.dims);
    const changed = CHANGE + CHANGE_A_YEAR * (own.ageDays / 365) + CHANGE_BY_WEATHER * distance2(sound.weather, weather);
    const belief = addReading(information, vector, sound, B, { S, T, p, changed });
    if (belief < 0.5) doubted++;
  }
  if (readings === 0) return null;

  const left = precision(information, n).inverse;
  const state = new Float64Array(n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) state[i]! += left[i * n + j]! * vector[j]!;
  for (let i = 0; i < DIMS; i++) {
    const most = CAP * Math.sqrt(S[i * DIMS + i]!);
    state[i] = Math.min(Math.max(state[i]!, -most), most);
  }
  // As today's instruments show it: the vehicle's own state and what these instruments were off by before.
  const one = seatings(input.platform).length === 1;
  const commonDims = now.present.filter((i) => one || !HIGH_DIMS.includes(i));
  const B = loadings(now, input, true, commonDims);
  const offset = new Float64Array(DIMS);
  const half = new Float64Array(DIMS * n);
  const spread = new Float64Array(DIMS * DIMS);
  for (let i = 0; i < DIMS; i++) {
    offset[i] = p[i]! + state[i]!;
    for (let s = 0; s < SOURCES; s++) offset[i]! += B[i * SOURCES + s]! * state[DIMS + s]!;
    for (let k = 0; k < n; k++) {
      half[i * n + k] = left[i * n + k]!;
      for (let s = 0; s < SOURCES; s++) half[i * n + k]! += B[i * SOURCES + s]! * left[(DIMS + s) * n + k]!;
    }
  }
  for (let i = 0; i < DIMS; i++) {
    for (let j = 0; j < DIMS; j++) {
      spread[i * DIMS + j] = half[i * n + j]!;
      for (let s = 0; s < SOURCES; s++) spread[i * DIMS + j]! += half[i * n + DIMS + s]! * B[j * SOURCES + s]!;
    }
  }
  const settle = (measured: Measured): Measured => {
    const own = loadings(measured, input, true, commonDims);
    const noise = new Float64Array(measured.noise);
    for (const i of commonDims) for (const j of commonDims) noise[i * DIMS + j]! -= common(own, i, j);
    return { ...measured, noise };
  };
  return { offset, spread, readings, doubted, settle };
}

const newest = (own: readonly OwnSound[]) =>
  own
    .map((one) => ({ one, key: JSON.stringify(one) }))
    .sort((a, b) => a.one.ageDays - b.one.ageDays || (a.key < b.key ? -1 : 1))
    .slice(0, OWN_AT_MOST)
    .map(({ one }) => one);

function earlier({ platform }: EngineInput, own: OwnSound): EngineInput {
  const { sameShop: _same, ageDays: _age, readings, ...visit } = own;
  return {
    platform,
    ...visit,
    readings: readings.map((r) => ({ ...r, stage: 'after' })),
    stage: 'after',
    findings: [],
    thermalMaps: [],
    traces: [],
  };
}

interface Levels {
  readonly S: Float64Array;
  readonly T: Float64Array;
  readonly p: Float64Array;
  readonly changed: number;
}

/** Adds one reading to what is known of vehicle and instruments. @returns the probability that a sound vehicle was read. */
function addReading(information: Float64Array, vector: Float64Array, sound: SoundResiduals, B: Float64Array, levels: Levels): number {
  const { dims, visit } = sound;
  const { S, T, p, changed } = levels;
  const d = dims.length;
  const n = DIMS + SOURCES;
  const V = new Float64Array(d * d);
  const whole = new Float64Array(d * d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      const k = dims[a]! * DIMS + dims[b]!;
      V[a * d + b] = visit[a * d + b]! - common(B, dims[a]!, dims[b]!) + changed * T[k]!;
      whole[a * d + b] = visit[a * d + b]! + changed * T[k]! + S[k]!;
    }
  }
  const r = Float64Array.from(dims, (i, a) => {
    const widest = CLIP * Math.sqrt(whole[a * d + a]!);
    return Math.min(Math.max(sound.r[a]! - p[i]!, -widest), widest);
  });
  // Against a faulty vehicle's, which scatter so much wider in every direction.
  const all = precision(whole, d).inverse;
  let q = 0;
  for (let a = 0; a < d; a++) for (let b = 0; b < d; b++) q += r[a]! * all[a * d + b]! * r[b]!;
  const odds = (WRONG / (1 - WRONG)) * Math.exp(0.5 * q * (1 - FAULTY_WIDTH ** -2) - d * Math.log(FAULTY_WIDTH));
  const belief = 1 / (1 + odds);

  const { inverse } = precision(V, d);
  // Rows of the reading: the vehicle's own dimension, and the common errors.
  const row = (a: number, k: number) => (k < DIMS ? (dims[a] === k ? 1 : 0) : B[dims[a]! * SOURCES + (k - DIMS)]!);
  for (let a = 0; a < d; a++) {
    const states = [dims[a]!, DIMS, DIMS + 1, DIMS + 2];
    for (let b = 0; b < d; b++) {
      const w = belief * inverse[a * d + b]!;
      for (const i of states) {
        const x = row(a, i) * w;
        if (x === 0) continue;
        vector[i]! += x * r[b]!;
        for (const j of [dims[b]!, DIMS, DIMS + 1, DIMS + 2]) information[i * n + j]! += x * row(b, j);
      }
    }
  }
  return belief;
}
