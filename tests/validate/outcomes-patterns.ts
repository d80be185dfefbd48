import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { weighedPatterns } from '#libs/casebook/outcomes/patterns.js';
import type { ProvedVisit, WatchedVehicle } from '#libs/casebook/outcomes/patterns.queries.js';
import { type Pattern, recurringPatterns, type VehicleHistory } from '#libs/outcomes/index.js';
import { type Random, seeded } from './outcomes-random.js';

/**
 * A region of vehicles with faults at constant rates that differ by platform and age, so that a pair looks related when it is not compared
 * within platform. Optionally fault f0 raises the rate of f1 `planted` times for a year.
 */
export interface Region {
  readonly vehicles: number;
  readonly faults: number;
  readonly planted: number;
}

const YEARS = 3;
const YEAR = 365.25;
const START = 18_262;

export function regionOf({ vehicles, faults, planted }: Region, random: Random): readonly VehicleHistory[] {
  // Platforms whose faults all come more often together are what fools an unstratified comparison.
  const platforms = Array.from({ length: 6 }, (_, i) => ({ name: `p${i}`, factor: 0.4 * 1.7 ** i }));
  const base = Array.from({ length: faults }, () => 0.02 + 0.05 * random.uniform());
  return Array.from({ length: vehicles }, (_, v): VehicleHistory => {
    const platform = platforms[v % platforms.length]!;
    const from = START + Math.floor(random.uniform() * 365);
    const until = from + YEARS * YEAR * (0.5 + 0.5 * random.uniform());
    const shop = () => `s${Math.floor(random.uniform() * 8)}`;
    const found: { fault: string; day: number; shop: string }[] = [];
    const first: number[] = [];
    for (let f = 0; f < faults; f++) {
      const rate = (base[f]! * platform.factor) / YEAR;
      for (let t = from + random.exponential() / rate; t < until; t += random.exponential() / rate) {
        found.push({ fault: `f${f}`, day: Math.ceil(t), shop: shop() });
        first[f] ??= t;
      }
    }
    // The extra hazard after f0 is a second, independent stream of f1 inside its window.
    if (planted > 1 && first[0] !== undefined) {
      const rate = ((planted - 1) * base[1]! * platform.factor) / YEAR;
      const end = Math.min(until, first[0] + YEAR);
      for (let t = first[0] + 1 + random.exponential() / rate; t < end; t += random.exponential() / rate) {
        found.push({ fault: 'f1', day: Math.ceil(t), shop: shop() });
      }
    }
    const kept = found.filter((f) => f.day <= until);
    return {
      platform: platform.name,
      built: from - Math.floor(random.uniform() * 3000),
      from,
      until,
      half: v % 2 === 0 ? 0 : 1,
      faults: kept,
    };
  });
}

export interface NullStudy {
  readonly regions: number;
  /** Regions in which any pair was called discovered, and in which any was called replicated. */
  readonly withDiscovery: number;
  readonly withReplication: number;
}

export function nullStudy(regions: number, seed: number, size: Omit<Region, 'planted'>): NullStudy {
  const random = seeded(seed);
  let withDiscovery = 0;
  let withReplication = 0;
  for (let r = 0; r < regions; r++) {
    const found = recurringPatterns(regionOf({ ...size, planted: 1 }, random)).filter((p) => called(p));
    if (found.length > 0) withDiscovery++;
    if (found.some((p) => p.verdict === 'replicated')) withReplication++;
  }
  return { regions, withDiscovery, withReplication };
}

export interface PowerStudy {
  readonly regions: number;
  readonly found: number;
  readonly replicated: number;
  /** Regions in which the reverse pair was called: the negative control. */
  readonly reversed: number;
  readonly medianRatio: number;
}

export function powerStudy(regions: number, seed: number, size: Region): PowerStudy {
  const random = seeded(seed);
  let found = 0;
  let replicated = 0;
  let reversed = 0;
  const ratios: number[] = [];
  for (let r = 0; r < regions; r++) {
    const patterns = recurringPatterns(regionOf(size, random));
    const pair = patterns.find((p) => p.a === 'f0' && p.b === 'f1');
    const reverse = patterns.find((p) => p.a === 'f1' && p.b === 'f0');
    if (pair && called(pair)) found++;
    if (pair?.verdict === 'replicated') replicated++;
    if (reverse && called(reverse)) reversed++;
    const ratio = pair?.replication.ratio.ratio;
    if (typeof ratio === 'number') ratios.push(ratio);
  }
  ratios.sort((a, b) => a - b);
  return { regions, found, replicated, reversed, medianRatio: ratios[Math.floor(ratios.length / 2)] ?? Number.NaN };
}

function called(pattern: Pattern): boolean {
  return pattern.verdict === 'discovered' || pattern.verdict === 'replicated';
}

export interface GapStudy {
  /** Ratio quoted for a planted pair, and for one that is not related, of all vehicles. */
  readonly planted: number;
  readonly unrelated: number;
  readonly exposedEvents: number;
}

/** Vehicles that are there for five years and come only with faults, each 0.08 a year, and 0.3 times a year for other work: what is seen of them is far between. */
export function gapStudy(vehicles: number, planted: number, seed: number): GapStudy {
  const random = seeded(seed);
  const [a, b, c, d] = ['compressor-wear', 'condenser-passages', 'condenser-fan', 'air-door'] as const;
  const span = 5 * YEAR;
  const visits: ProvedVisit[] = [];
  const seen: WatchedVehicle[] = [];
  for (let v = 0; v < vehicles; v++) {
    const id = `${v}`;
    const days = new Set<number>();
    const found = (fault: ProvedVisit['fault'], day: number) => {
      const at = START + Math.ceil(day);
      days.add(at);
      visits.push({ vehicleId: id, isLinked: true, fault, day: at, shopId: `s${Math.floor(random.uniform() * 8)}` });
    };
    const add = (fault: ProvedVisit['fault'], rate: number, from: number, until: number) => {
      for (let day = from + random.exponential() / rate; day < until; day += random.exponential() / rate) found(fault, day);
    };
    const rate = 0.08 / YEAR;
    // Once at most, so that all exposed time is of the planted rate.
    const first = random.exponential() / rate;
    if (first < span) found(a, first);
    for (const fault of [b, c, d]) add(fault, rate, 0, span);
    if (first < span) add(b, (planted - 1) * rate, first + 1, Math.min(span, first + YEAR));
    if (days.size === 0) continue;
    const firstDay = Math.min(...days);
    for (let day = (random.exponential() * YEAR) / 0.3; day < span; day += (random.exponential() * YEAR) / 0.3) {
      if (START + Math.ceil(day) >= firstDay) days.add(START + Math.ceil(day));
    }
    const place = { platformId: 'p', modelYear: 2015, firstYear: 2012, firstShopId: 's0' };
    seen.push({ id, half: v % 2 === 0 ? 0 : 1, ...place, days: [...days].sort((x, y) => x - y) });
  }
  const now = new Date((START + Math.ceil(span)) * 86_400_000);
  const { patterns } = weighedPatterns({ vehicles: seen, visits, platforms: [], climates: [], rules: COMMON_RULES, now });
  const of = (cause: string, effect: string) => patterns.find((one) => one.cause === cause && one.effect === effect)!;
  return { planted: of(a, b).both.ratio!, unrelated: of(c, d).both.ratio!, exposedEvents: of(a, b).exposedEvents };
}
