import { localBarometer } from '../barometer.js';
import { canonical } from '../canonical.js';
import { CMD, DIMS, DUTY, E, HIGH_DIMS, L, SPD, TV } from '../dims.js';
import type { EngineInput, EnginePlatform, PlatformCalibration, RelatedSound } from '../evidence.js';
import { precision } from '../gaussian.js';
import { type Measured, measure } from '../measure.js';
import { seatings } from '../places.js';
import { weatherOf } from '../weather.js';
import { CALIBRATION_VERSION, currentCalibration } from './current.js';
import { addInformation, type Information, type Normal, noInformation, posterior, throughSpread } from './information.js';
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

/** Known-good readings of one platform. */
export interface KnownPlatform {
  readonly platform: EnginePlatform;
  readonly known: readonly KnownGood[];
}

/** Related platforms needed before they may move what counts as sound on one that is not among them. */
export const RELATED_NEEDED = 3;

/** Shares of the error of structure, and of the hardware's spread, that are common to all platforms of a kind (judgement; flat on the tempering seeds). */
const COMMON_STRUCTURE = 0.5;
const COMMON_HARDWARE = 0.2;

/** Two platforms of one kind of system: the engine expects the same of both before it knows either. */
export const isRelated = (a: Pick<EnginePlatform, 'layout' | 'compressor'>, b: typeof a): boolean =>
  groupKey(a.layout, a.compressor) === groupKey(b.layout, b.compressor);

interface Learned {
  readonly offset: Information;
  readonly cases: number;
  readonly shops: ReadonlySet<string>;
}

/** What one platform's readings say about its offset, what its shops' own instruments may have added taken out. */
function learned(group: CalibratedGroup, spread: Float64Array, { platform, known }: KnownPlatform): Learned {
  const shops = new Map<string, Information>();
  let cases = 0;
  for (const { shop, input } of known) {
    const into = shops.get(shop) ?? noInformation();
    if (!addCase(into, group, spread, { ...input, platform })) continue;
    shops.set(shop, into);
    cases++;
  }
  const offset = noInformation();
  for (const key of [...shops.keys()].sort()) addInformation(offset, throughSpread(shops.get(key)!, PRECISION_OF_SHOPS));
  return { offset, cases, shops: new Set(shops.keys()) };
}

const PRECISION_OF_SHOPS = diagonal((i) => 1 / shopSigma(i) ** 2);

function diagonal(of: (dim: number) => number): Float64Array {
  const out = new Float64Array(DIMS * DIMS);
  for (let i = 0; i < DIMS; i++) out[i * DIMS + i] = of(i);
  return out;
}

/** What sound vehicles of related platforms say about the offset of another of their kind; null with fewer than three of them, or of their shops. */
function ofRelated(
  group: CalibratedGroup,
  spread: Float64Array,
  related: readonly KnownPlatform[],
): (Normal & { readonly from: RelatedSound }) | null {
  const common = spread.map((t, k) => COMMON_STRUCTURE * STRUCTURE[k]! + COMMON_HARDWARE * (t - STRUCTURE[k]!));
  const between = spread.map((t, k) => BETWEEN_PLATFORMS * t - common[k]!);
  const precisionBetween = precision(between, DIMS).inverse;
  const sum = noInformation();
  const shops = new Set<string>();
  let [platforms, cases] = [0, 0];
  for (const one of related) {
    const { offset, ...of } = learned(group, spread, one);
    if (of.cases === 0) continue;
    platforms++;
    cases += of.cases;
    for (const shop of of.shops) shops.add(shop);
    addInformation(sum, throughSpread(offset, precisionBetween));
  }
  if (platforms < RELATED_NEEDED || shops.size < SHOPS_NEEDED) return null;
  const { mean, covariance } = posterior({ mean: new Float64Array(DIMS), covariance: common }, sum);
  // The same shops read all of them: what their instruments err by on the whole does not go away with more platforms.
  const instruments = diagonal((i) => shopSigma(i) ** 2 / shops.size);
  return {
    mean,
    covariance: covariance.map((c, k) => c + between[k]! + instruments[k]!),
    from: { platforms, cases, shops: shops.size },
  };
}

/**
 * Calibration of a platform's sound expectation by known-good readings of its own and of related platforms (`isRelated`; itself not among them). Null where neither
 * comes from at least three shops (of related ones: from three platforms, too), or where the engine has no calibration for this kind of system.
 *
 * Normal model with four levels, T the spread of sound systems of the kind: what all platforms of the kind are off by ~ N(0, C), C half of the structural error
 * and a fifth of the hardware's spread; the platform ~ N(that, 0.7 T - C); instruments of a shop ~ N(0, B); vehicle and readings ~ N(0, 0.3 T + noise). The
 * offset is the posterior mean, so few readings move it little (shrinkage), and is held within two and a half widths of the hardware. Judge a case by it with
 * `diagnose({ ...input, platformCalibration })`. Pure; the order of the cases does not matter beyond rounding. About 0.1 ms a case.
 */
export function platformCalibration(
  platform: EnginePlatform,
  known: readonly KnownGood[],
  related: readonly KnownPlatform[] = [],
): PlatformCalibration | null {
  const key = groupKey(platform.layout, platform.compressor);
  const group = currentCalibration().get(key);
  if (!group) return null;
  const spread = soundSpread(group);
  const own = learned(group, spread, { platform, known });
  const isOwn = own.shops.size >= SHOPS_NEEDED;
  const kin = ofRelated(group, spread, related);
  if (!isOwn && !kin) return null;
  const before = kin ?? { mean: new Float64Array(DIMS), covariance: spread.map((x) => BETWEEN_PLATFORMS * x) };
  const { mean, covariance } = isOwn ? posterior(before, own.offset) : before;
  const offset = Array.from(mean, (x, i) => {
    const most = CAP * Math.sqrt(spread[i * DIMS + i]!);
    return Math.min(Math.max(x, -most), most);
  });
  const remaining: number[] = new Array(TRIANGLE).fill(0);
  for (let i = 0; i < DIMS; i++) for (let j = 0; j <= i; j++) remaining[triangleAt(i, j)] = covariance[i * DIMS + j]!;
  const [cases, shops] = isOwn ? [own.cases, own.shops.size] : [0, 0];
  return { calibration: CALIBRATION_VERSION, group: key, cases, shops, related: kin?.from ?? null, offset, remaining };
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
