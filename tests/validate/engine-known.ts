import {
  diagnose,
  type EngineInput,
  isRelated,
  type KnownGood,
  type KnownPlatform,
  type OwnSound,
  platformCalibration,
} from '#libs/engine/index.js';
import { type Case, drawCase, type Held, type ObservationSet } from './engine-cases.js';
import { between, drawFault, normal, random } from './engine-draws.js';
import type { Judged } from './engine-metrics.js';
import { judge } from './engine-study.js';

/**
 * What was known before: nothing; what the organisation's other platforms of the kind showed; twelve sound readings of the platform; both; the platform's and one
 * sound reading of this very vehicle; that one alone.
 */
export const KNOWLEDGE = ['none', 'related', 'platform', 'platform and related', 'vehicle', 'vehicle alone'] as const;
export type Knowledge = (typeof KNOWLEDGE)[number];

interface KnownCase {
  readonly drawn: Case;
  readonly under: Readonly<Record<Knowledge, EngineInput>>;
}

/** Of readings called sound, those of a vehicle that was not: proof errs. */
const WRONG = 0.05;
/** Of these, those whose fault is the one the vehicle has at the judged visit. */
const SAME_FAULT = 0.5;
/** The vehicle comes back to the shop that read it sound. */
const SAME_SHOP = 0.65;
/** In one shop the same gauge set is taken again. */
const SAME_GAUGE = 0.7;
const SHOPS = 4;
const READINGS = 12;
const CASES = 10;
/** Platforms that one organisation sees. */
const PLATFORMS = 60;

interface Known extends KnownPlatform {
  readonly at: number;
  readonly hardware: Case['hardware'];
}

/**
 * Organisations of the judging model with sixty platforms and four shops, twelve known-good readings of each platform, and ten vehicles
 * of each with one own reading after a repair at an earlier visit: other weather, other looks, wear and dirt since, often another shop, and one in twenty not
 * sound at all. The same cases are judged under each knowledge.
 */
function* knownCases(platforms: number, firstSeed: number, set: ObservationSet): Generator<KnownCase> {
  for (let first = 0; first < platforms; first += PLATFORMS) {
    const at = firstSeed + 1000 * first;
    const shopGauge = Array.from({ length: SHOPS }, (_, shop) => normal(random(at * 31 + shop)));
    const seen = Array.from({ length: Math.min(PLATFORMS, platforms - first) }, (_, i) => platformSeen(at + 1000 * i, set, shopGauge));
    const known = seen.filter((one) => one !== null);
    for (const one of known) yield* casesOf(one, known, set, shopGauge);
  }
}

/** A platform as its organisation knows it; null where its system has no steady state. */
function platformSeen(at: number, set: ObservationSet, shopGauge: readonly number[]): Known | null {
  const model = drawCase(at, set) ?? drawCase(at + 999, set);
  if (!model) return null;
  const { hardware } = model;
  const platform = model.input.platform;
  const known: KnownGood[] = [];
  for (let seed = at + 1; known.length < READINGS && seed < at + 200; seed++) {
    const shop = known.length % SHOPS;
    const u = random(seed * 6113 + 7);
    const vehicle = varied(hardware, seed);
    const bias = { gauge: gaugeOf(u, shopGauge[shop]!), transducer: normal(u) };
    const fault = u() < WRONG ? faulty(u, vehicle) : { code: 'healthy' as const, size: 0 };
    const sound = drawCase(seed, set, { hardware: vehicle, fault, stage: 'after', places: platform, bias });
    if (sound) known.push({ shop: `shop ${shop}`, input: sound.input });
  }
  return { at, hardware, platform, known };
}

function* casesOf(platform: Known, all: readonly Known[], set: ObservationSet, shopGauge: readonly number[]): Generator<KnownCase> {
  const { at, known } = platform;
  const others = all.filter((one) => one !== platform && isRelated(one.platform, platform.platform));
  const alone = platformCalibration(platform.platform, known);
  if (!alone) return;
  const calibrations = {
    related: platformCalibration(platform.platform, [], others) ?? undefined,
    both: platformCalibration(platform.platform, known, others)!,
  };
  let cases = 0;
  for (let seed = at + 200; cases < CASES && seed < at + 300; seed++) {
    const one = visits(seed, set, platform.hardware, platform.platform, shopGauge);
    if (!one) continue;
    cases++;
    const { drawn, ownSound } = one;
    const { input } = drawn;
    const under = {
      none: input,
      related: { ...input, platformCalibration: calibrations.related },
      platform: { ...input, platformCalibration: alone },
      'platform and related': { ...input, platformCalibration: calibrations.both },
      vehicle: { ...input, platformCalibration: alone, ownSound },
      'vehicle alone': { ...input, ownSound },
    };
    yield { drawn, under };
  }
}

/** The same, judged by the engine under each knowledge. */
export function knownGood(platforms: number, firstSeed: number, set: ObservationSet): Record<Knowledge, Judged[]> {
  const judged = Object.fromEntries(KNOWLEDGE.map((knowledge) => [knowledge, []])) as unknown as Record<Knowledge, Judged[]>;
  for (const { drawn, under } of knownCases(platforms, firstSeed, set)) {
    for (const knowledge of KNOWLEDGE) judged[knowledge].push(judge(drawn, diagnose(under[knowledge])));
  }
  return judged;
}

/** A vehicle of the platform at the judged visit, and what was read of it after a repair before. */
function visits(
  seed: number,
  set: ObservationSet,
  platform: Case['hardware'],
  places: NonNullable<Held['places']>,
  shopGauge: readonly number[],
): { readonly drawn: Case; readonly ownSound: OwnSound[] } | null {
  const u = random(seed * 4409 + 5);
  const then = varied(platform, seed);
  const years = between(u, 0.1, 3);
  const transducer = normal(u);
  const shop = Math.floor(u() * SHOPS);
  const sameShop = u() < SAME_SHOP;
  const gauge = gaugeOf(u, shopGauge[shop]!);
  const sameGauge = u() < SAME_GAUGE;
  const drawn = drawCase(seed, set, { hardware: aged(then, years, u), places, bias: { gauge, transducer } });
  if (!drawn) return null;
  const wrong = u() < WRONG;
  const still = u() < SAME_FAULT && drawn.truth !== 'healthy';
  const other = faulty(u, then);
  const fault = !wrong ? ({ code: 'healthy', size: 0 } as const) : still ? drawn.fault : other;
  const before = !sameShop
    ? gaugeOf(u, shopGauge[(shop + 1 + Math.floor(u() * (SHOPS - 1))) % SHOPS]!)
    : sameGauge
      ? gauge
      : gaugeOf(u, shopGauge[shop]!);
  const bias = { gauge: before, transducer: transducer + 0.3 * normal(u) };
  for (let again = 0; again < 8; again++) {
    const sound = drawCase(seed + 400 + 50 * again, set, { hardware: then, fault, stage: 'after', places, bias });
    if (!sound) continue;
    const { elevationM, conditions, readings } = sound.input;
    return { drawn, ownSound: [{ elevationM: elevationM!, conditions, readings, ageDays: Math.round(365 * years), sameShop }] };
  }
  return null;
}

/** A gauge of a shop: what its gauges have in common, and its own error. */
const gaugeOf = (u: () => number, shop: number) => 0.6 * shop + 0.8 * normal(u);

function faulty(u: () => number, hardware: Case['hardware']): Case['fault'] {
  for (let i = 0; i < 20; i++) {
    const fault = drawFault(u, hardware);
    if (fault && fault.code !== 'healthy') return fault;
  }
  return { code: 'condenser-dirt', size: 0.5 };
}

/** Vehicles of one platform differ: three to five hundredths in what was made or has aged (common practice). */
function varied(hardware: Case['hardware'], seed: number): Case['hardware'] {
  const u = random(seed * 7919 + 13);
  const by = (x: number, sigma: number) => x * Math.exp(sigma * normal(u));
  return {
    ...hardware,
    displacement: by(hardware.displacement, 0.02),
    condenserUA: by(hardware.condenserUA, 0.04),
    condenserAir: by(hardware.condenserAir, 0.05),
    evaporatorNTU: by(hardware.evaporatorNTU, 0.04),
    evaporatorAir: by(hardware.evaporatorAir, 0.04),
    subcooling: by(hardware.subcooling, 0.06),
    superheat: by(hardware.superheat, 0.08),
  };
}

/** The same vehicle later: a little dirt on the condenser, dust in the filter, wear of the compressor, charge within what was weighed in (judgement). */
function aged(hardware: Case['hardware'], years: number, u: () => number): Case['hardware'] {
  const by = (x: number, aYear: number, sigma: number) => x * Math.exp(aYear * years + sigma * Math.sqrt(0.3 + years) * normal(u));
  return {
    ...hardware,
    isentropic: by(hardware.isentropic, -0.004, 0.01),
    condenserUA: by(hardware.condenserUA, -0.006, 0.015),
    condenserAir: by(hardware.condenserAir, -0.006, 0.02),
    evaporatorNTU: by(hardware.evaporatorNTU, -0.003, 0.012),
    evaporatorAir: by(hardware.evaporatorAir, -0.008, 0.02),
    subcooling: by(hardware.subcooling, -0.01, 0.05),
    superheat: by(hardware.superheat, 0, 0.04),
  };
}
