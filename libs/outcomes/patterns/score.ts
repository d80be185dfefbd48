import { groupBy } from '../grouping.js';
import { adjustedP, selectFamilies } from '../multiplicity/benjamini-hochberg.js';
import { mantelHaenszelRate, type RateRatio, type RateStratum, stratifiedExact } from '../rates/rate-ratio.js';
import { fitGammaMixture, type GammaMixture, type ShrunkRatio, shrunkRatio } from '../shrinkage/gamma-poisson-shrinker.js';
import { DEFAULT_STRATA, platformOf, type StratumRule, type VehicleHistory } from './history.js';
import { mergedPair, type PairRule, type PairTable, pairTables } from './pair-table.js';

/**
 * Recurring patterns: fault A, later fault B, more often than the same vehicles, ages and seasons have B anyway.
 *
 * For each ordered pair, in the discovery half of the vehicles: Mantel-Haenszel rate ratio over platform x age x season x climate, one-sided exact
 * mid-p, ratio of observed to expected shrunk over all pairs (EB05), Benjamini-Hochberg over the pairs that could pass at all.
 * discovered: q <= share and EB05 > leastRatio and, over both halves, at least `leastEvents` exposed events from `leastShops` shops
 * replicated: discovered, and in the other half ratio > 1 with one-sided mid-p <= 0.05. Its ratio is the one to quote: the discovery ratio
 * of a selected pair is too high (winner's curse).
 * platforms: inside the pairs that Benjamini-Hochberg selected, platforms selected at share R/m.
 * reverse: the pair (B, A), the negative control. A pair whose reverse is discovered too, or that the caller calls confusable, is `doubtful`:
 * it may be one fault seen twice, or two of one cause.
 * `too few` says that nothing can be told. Pairs without exposed time are left out. Sources: see rate-ratio.ts, gamma-poisson-shrinker.ts,
 * benjamini-hochberg.ts; Tarone (1990) on pairs that cannot pass; simulated in tests/validate.
 */
export interface PatternOptions extends Partial<PairRule> {
  readonly strata?: StratumRule;
  readonly share?: number;
  readonly leastRatio?: number;
  readonly leastEvents?: number;
  readonly leastShops?: number;
  readonly level?: number;
  readonly confusable?: (a: string, b: string) => boolean;
}

export type PatternVerdict = 'replicated' | 'discovered' | 'not shown' | 'too few';

export interface PatternHalf {
  readonly ratio: RateRatio;
  readonly observed: number;
  readonly expected: number;
  /** One-sided exact mid-p. */
  readonly p: number;
  /** The least p these totals could give. */
  readonly smallest: number;
}

export interface Pattern {
  readonly a: string;
  readonly b: string;
  readonly verdict: PatternVerdict;
  readonly doubtful: boolean;
  readonly discovery: PatternHalf;
  readonly replication: PatternHalf;
  readonly both: PatternHalf;
  readonly shrunk: ShrunkRatio | null;
  /** Adjusted p of the discovery half; 1 where the pair could not have passed. */
  readonly q: number;
  readonly exposedEvents: number;
  readonly shops: number;
  readonly together: number;
  readonly lags: readonly number[];
  /** Only inside pairs that Benjamini-Hochberg selected. */
  readonly platforms: readonly { readonly platform: string; readonly half: PatternHalf; readonly selected: boolean }[];
  readonly reverse: PatternHalf | null;
}

const PAIR_RULE: PairRule = { blanking: 1, window: 365, lookBack: 90 };
const REPLICATION_P = 0.05;

export function recurringPatterns(vehicles: readonly VehicleHistory[], options: PatternOptions = {}): readonly Pattern[] {
  const { strata = DEFAULT_STRATA, share = 0.05, leastRatio = 1.5, leastEvents = 5, leastShops = 3, level = 0.95 } = options;
  const rule = { ...PAIR_RULE, ...pick(options) };
  const keyed = (tables: readonly PairTable[]) => new Map(tables.map((t) => [idOf(t.a, t.b), t]));
  const halves = ([0, 1] as const).map((half) =>
    keyed(
      pairTables(
        vehicles.filter((v) => v.half === half),
        rule,
        strata,
      ),
    ),
  );
  const whole = mergedTables(halves).filter((t) => [...t.strata.values()].some((s) => s.exposedTime > 0));
  const scored = whole.map((table) => {
    const parts = halves.map((h) => rateStrata(h.get(idOf(table.a, table.b))));
    return {
      table,
      discovery: halfOf(parts[0]!, level),
      replication: halfOf(parts[1]!, level),
      both: halfOf(rateStrata(table), level),
      strata: parts[0]!,
    };
  });
  const testable = scored.filter((s) => s.discovery.smallest <= share);
  const q = adjustedP(testable.map((s) => s.discovery.p));
  const qOf = new Map(testable.map((s, i) => [idOf(s.table.a, s.table.b), q[i]!]));
  const prior = fitted(scored.map((s) => s.discovery));
  // Platforms are looked at only inside the pairs that are selected.
  const families = testable.map((s, i) => ({
    key: idOf(s.table.a, s.table.b),
    p: s.discovery.p,
    platforms: q[i]! <= share ? byPlatform(s.strata, level) : [],
  }));
  const chosen = selectFamilies(
    families.map(({ key, p, platforms }) => ({ key, p, members: platforms.map((m) => m.half.p) })),
    share,
  );
  const platformsOf = new Map(
    families.map(({ key, platforms }, i) => [
      key,
      platforms.map((m, k) => Object.freeze({ ...m, selected: chosen[i]!.members[k] === true })),
    ]),
  );
  const found = new Map(
    scored.map((s) => {
      const shrunk = prior && s.discovery.expected > 0 ? shrunkRatio({ n: s.discovery.observed, e: s.discovery.expected }, prior) : null;
      const id = idOf(s.table.a, s.table.b);
      const enough = s.table.exposedEvents >= leastEvents && s.table.shops.length >= leastShops;
      const discovered = enough && (qOf.get(id) ?? 1) <= share && (shrunk?.eb05 ?? 0) > leastRatio;
      return [id, { ...s, id, shrunk, enough, discovered }] as const;
    }),
  );
  return Object.freeze(
    [...found.values()].map((s): Pattern => {
      const { a, b, exposedEvents, shops, together, lags } = s.table;
      const reverse = found.get(idOf(b, a));
      const confirmed =
        s.replication.p <= REPLICATION_P && (s.replication.ratio.ratio ?? Number.POSITIVE_INFINITY) > 1 && s.replication.observed > 0;
      return Object.freeze({
        a,
        b,
        verdict: s.discovered ? (confirmed ? 'replicated' : 'discovered') : s.enough ? 'not shown' : 'too few',
        doubtful: reverse?.discovered === true || options.confusable?.(a, b) === true,
        discovery: s.discovery,
        replication: s.replication,
        both: s.both,
        shrunk: s.shrunk,
        q: qOf.get(s.id) ?? 1,
        exposedEvents,
        shops: shops.length,
        together,
        lags,
        platforms: Object.freeze(platformsOf.get(s.id) ?? []),
        reverse: reverse?.both ?? null,
      });
    }),
  );
}

/** Counts of both halves added. */
function mergedTables(halves: readonly ReadonlyMap<string, PairTable>[]): readonly PairTable[] {
  const merged = new Map<string, PairTable>();
  for (const half of halves) {
    for (const [id, table] of half) {
      const other = merged.get(id);
      merged.set(id, other ? mergedPair(other, table) : table);
    }
  }
  return [...merged.values()];
}

const idOf = (a: string, b: string) => `${a}\u0000${b}`;

function pick({ blanking, window, lookBack }: Partial<PairRule>): Partial<PairRule> {
  return {
    ...(blanking === undefined ? {} : { blanking }),
    ...(window === undefined ? {} : { window }),
    ...(lookBack === undefined ? {} : { lookBack }),
  };
}

type PlatformStratum = RateStratum & { readonly platform: string };

function rateStrata(table: PairTable | undefined): readonly PlatformStratum[] {
  return table ? [...table.strata].map(([stratum, counts]) => ({ ...counts, platform: platformOf(stratum) })) : [];
}

function halfOf(strata: readonly PlatformStratum[], level: number): PatternHalf {
  const exact = stratifiedExact(strata);
  return Object.freeze({
    ratio: mantelHaenszelRate(strata, level),
    observed: exact.observed,
    expected: exact.expected,
    p: exact.oneSided,
    smallest: exact.smallest,
  });
}

function byPlatform(strata: readonly PlatformStratum[], level: number): readonly { platform: string; half: PatternHalf }[] {
  return [
    ...groupBy(
      strata.filter((s) => s.exposedTime > 0),
      (s) => s.platform,
    ),
  ].map(([platform, own]) => ({ platform, half: halfOf(own, level) }));
}

/** Most pairs have a ratio near 1 (0.5 to 1.7), one in ten may have any. Only where the fit starts and what few events leave it at. */
const MOSTLY_ORDINARY: GammaMixture = { a1: 0.5, b1: 0.2, a2: 10, b2: 10, share: 0.1 };

/** The prior of the ratios from all pairs, zero cells kept; null when there are too few pairs or no events to learn it from. */
function fitted(halves: readonly PatternHalf[]): GammaMixture | null {
  const cells = halves.filter((h) => h.expected > 0).map((h) => ({ n: h.observed, e: h.expected }));
  return cells.length >= 2 && cells.some((c) => c.n > 0) ? fitGammaMixture(cells, 'none', MOSTLY_ORDINARY, 0.01) : null;
}
