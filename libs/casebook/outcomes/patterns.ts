import type { FaultCode, PatternRatio, RecurringPattern } from '#libs/contracts/index.js';
import { CATALOGUE } from '#libs/engine/index.js';
import {
  coolingDegreeDays,
  DEFAULT_STRATA,
  type Pattern,
  type PatternHalf,
  recurringPatterns,
  type StratumRule,
  type VehicleHistory,
} from '#libs/outcomes/index.js';
import { casesBehind } from './behind.js';
import { DEGREE_DAY_BASE_C, dayNumber } from './clocks.js';
import { climateKind } from './groups.js';
import type { StandingRules } from './outcome-rules.js';
import type { BoardPlatform, ShopClimate } from './outcomes.queries.js';
import type { ProvedVisit, WatchedVehicle } from './patterns.queries.js';

/** Raised whenever what is computed here changes: stored scores of another version are not shown. */
export const PATTERN_RULES = 4;
export const WINDOW_DAYS = 365;
export const FEWEST_EVENTS = 5;
export const FEWEST_SHOPS = 3;
const BLANKING_DAYS = 1;
const LAG_BIN_DAYS = 30;
/** A month is hot with this share of the hottest month's degree-days. */
const HOT_SHARE = 1 / 3;

/**
 * Faults the same readings can mean, so that one may be proved where the other was. Common practice: a restriction hides anywhere between the condenser and
 * the evaporator; too little air over the condenser is dirt or fan; a compressor that pumps too little is worn, leaks, slips or stays at small stroke.
 */
const CONFUSABLE: readonly (readonly FaultCode[])[] = [
  ['condenser-passages', 'filter-cartridge', 'liquid-line-restriction'],
  ['liquid-line-restriction', 'valve-restricted', 'orifice-clogged', 'moisture'],
  ['condenser-dirt', 'condenser-fan'],
  ['compressor-leakage', 'compressor-wear', 'displacement-stuck-low', 'clutch-slip', 'electric-compressor-limited'],
  ['overcharge', 'air-in-system'],
  ['undercharge', 'valve-restricted'],
  ['evaporator-airflow', 'evaporator-fouling'],
];

export function isConfusable(a: string, b: string): boolean {
  return CONFUSABLE.some((group) => group.includes(a as FaultCode) && group.includes(b as FaultCode));
}

const LEADS_TO = new Map(CATALOGUE.map((entry) => [entry.code as string, new Set<string>(entry.leadsTo)]));

export interface PatternFacts {
  readonly vehicles: readonly WatchedVehicle[];
  readonly visits: readonly ProvedVisit[];
  readonly platforms: readonly BoardPlatform[];
  readonly climates: readonly ShopClimate[];
  readonly rules: StandingRules;
  readonly now: Date;
}

export interface WeighedPatterns {
  /** Vehicles that were watched for any time. */
  readonly vehicles: number;
  readonly patterns: RecurringPattern[];
}

/** Every ordered pair of faults that had time to show, weighed; those found first. */
export function weighedPatterns(facts: PatternFacts): WeighedPatterns {
  const histories = historiesOf(facts);
  const byId = new Map(facts.platforms.map((platform) => [platform.id, platform]));
  const found = recurringPatterns(histories.flat(), {
    strata: strataOf(facts.climates),
    window: WINDOW_DAYS,
    blanking: BLANKING_DAYS,
    leastEvents: FEWEST_EVENTS,
    leastShops: FEWEST_SHOPS,
    confusable: isConfusable,
  });
  const rank = ['replicated', 'discovered', 'not-shown', 'too-few'];
  const patterns = found
    .map((pattern) => described(pattern, byId))
    .sort(
      (a, b) =>
        rank.indexOf(a.verdict) - rank.indexOf(b.verdict) ||
        Number(a.doubtful) - Number(b.doubtful) ||
        (b.eb05 ?? 0) - (a.eb05 ?? 0) ||
        (a.cause < b.cause ? -1 : a.cause > b.cause ? 1 : a.effect < b.effect ? -1 : 1),
    );
  return { vehicles: histories.length, patterns };
}

/**
 * A vehicle is known by its first visit and watched from there until a time after it was last seen. One that was not seen for longer is lost until it comes again, and then
 * known by that visit, which is no event: to count what comes after an absence, and the absence of those alone that come back, made the time without a cause look worse than it
 * is, and a ratio of 4 like one of 3. Its half is drawn by the keyed hash of its VIN: it never changes sides, nor when everything is loaded again under the same key.
 */
function historiesOf({ vehicles, visits, climates, rules, now }: PatternFacts): VehicleHistory[][] {
  const today = dayNumber(now.toISOString().slice(0, 10));
  const climate = new Map(climates.map((shop) => [shop.id, climateKind(shop)]));
  const proved = new Map<string, ProvedVisit[]>();
  for (const visit of visits) {
    if (visit.vehicleId === null || !visit.isLinked) continue;
    const list = proved.get(visit.vehicleId);
    if (list) list.push(visit);
    else proved.set(visit.vehicleId, [visit]);
  }
  const known = vehicles.map((vehicle) => {
    const whole = {
      platform: vehicle.platformId,
      climate: climate.get(vehicle.firstShopId) ?? '',
      built: dayNumber(`${vehicle.modelYear ?? vehicle.firstYear}-07-01`),
      half: vehicle.half,
      faults: (proved.get(vehicle.id) ?? []).map(({ fault, day, shopId }) => ({ fault, day, shop: shopId })),
    };
    return stretchesOf(vehicle.days, rules.presenceDays, today).map((stretch) => ({ ...whole, ...stretch }));
  });
  return known.filter((stretches) => stretches.length > 0);
}

/** The time a vehicle counts as around, cut where it was not seen for longer than `presenceDays`. */
function stretchesOf(days: readonly number[], presenceDays: number, today: number): Pick<VehicleHistory, 'from' | 'until'>[] {
  const stretches: { from: number; until: number }[] = [];
  for (const day of days) {
    const last = stretches.at(-1);
    const until = Math.max(day, Math.min(today, day + presenceDays));
    if (last && day <= last.until) last.until = until;
    else stretches.push({ from: day, until });
  }
  return stretches.filter(({ from, until }) => from < until);
}

/** The hot season of the region, from the mean of its shops: May to September in the north, the other half of the year in the south. */
function strataOf(climates: readonly ShopClimate[]): StratumRule {
  if (climates.length === 0) return DEFAULT_STRATA;
  const heat = Array.from({ length: 12 }, (_, month) =>
    climates.reduce((sum, shop) => sum + coolingDegreeDays(shop.normals[month]!, DEGREE_DAY_BASE_C), 0),
  );
  const hottest = Math.max(...heat);
  return { ...DEFAULT_STRATA, seasonOfMonth: heat.map((degreeDays) => (degreeDays > HOT_SHARE * hottest ? 1 : 0)) };
}

function described(pattern: Pattern, platforms: ReadonlyMap<string, BoardPlatform>): RecurringPattern {
  const { a, b } = pattern;
  const verdict = pattern.verdict === 'not shown' ? 'not-shown' : pattern.verdict === 'too few' ? 'too-few' : pattern.verdict;
  const doubt = isConfusable(a, b)
    ? `${a} and ${b} are easily taken for each other: this may be one fault seen twice.`
    : pattern.doubtful
      ? 'The reverse order is found as well: this may be one fault seen twice, or two of one cause.'
      : null;
  const whole = {
    cause: a as FaultCode,
    effect: b as FaultCode,
    verdict,
    doubtful: pattern.doubtful,
    doubt,
    inCatalogue: LEADS_TO.get(a)?.has(b) === true,
    exposedEvents: pattern.exposedEvents,
    shops: pattern.shops,
    discovery: ratioOf(pattern.discovery),
    replication: ratioOf(pattern.replication),
    both: ratioOf(pattern.both),
    shrunk: pattern.shrunk?.ebgm ?? null,
    eb05: pattern.shrunk?.eb05 ?? null,
    qValue: pattern.q,
    reverse: pattern.reverse ? ratioOf(pattern.reverse) : null,
    foundTogether: pattern.together,
    lags: lagProfile(pattern.lags),
    casesBehind: casesBehind({ proved: b as FaultCode, follows: a as FaultCode, state: 'counting' }),
    medianLagDays: median(pattern.lags),
    platforms: pattern.platforms
      .flatMap(({ platform, half, selected }) => {
        const known = platforms.get(platform);
        if (!known || half.observed === 0) return [];
        return [{ platformId: platform, platformCode: known.code, platformName: known.name, selected, ratio: ratioOf(half) }];
      })
      .sort((x, y) => Number(y.selected) - Number(x.selected) || (y.ratio.low ?? 0) - (x.ratio.low ?? 0)),
  } as const satisfies Omit<RecurringPattern, 'message'>;
  return { ...whole, message: messageOf(whole) };
}

function ratioOf({ ratio, observed, expected, p }: PatternHalf): PatternRatio {
  return { observed, expected, ratio: ratio.ratio, low: ratio.lower, high: ratio.upper, pValue: p };
}

/** Days from A to B in bins of a month; bins after the last event are left out. */
function lagProfile(lags: readonly number[]): RecurringPattern['lags'] {
  const last = Math.floor((lags.at(-1) ?? -1) / LAG_BIN_DAYS);
  return Array.from({ length: last + 1 }, (_, bin) => ({
    fromDay: bin * LAG_BIN_DAYS,
    toDay: (bin + 1) * LAG_BIN_DAYS,
    count: lags.filter((lag) => Math.floor(lag / LAG_BIN_DAYS) === bin).length,
  }));
}

function median(sorted: readonly number[]): number | null {
  if (sorted.length === 0) return null;
  const middle = (sorted.length - 1) / 2;
  return (sorted[Math.floor(middle)]! + sorted[Math.ceil(middle)]!) / 2;
}

function messageOf(pattern: Omit<RecurringPattern, 'message'>): string {
  const { cause, effect, verdict, replication, both, exposedEvents, shops } = pattern;
  const times = (ratio: number | null) => (ratio === null ? 'more' : `${ratio.toFixed(1)} times as`);
  if (verdict === 'too-few') return `${effect} after ${cause}: ${exposedEvents} times at ${shops} shops; too few to tell.`;
  if (verdict === 'not-shown')
    return `${effect} after ${cause}: ${exposedEvents} times, ${both.expected.toFixed(1)} expected anyway; nothing beyond chance is shown.`;
  if (verdict === 'discovered')
    return `${effect} came after ${cause} more often than expected on one half of the vehicles, but the other half does not confirm it.`;
  return `After ${cause}, ${effect} comes ${times(replication.ratio)} often within ${WINDOW_DAYS} days as on like vehicles (other half of the vehicles: ${replication.low?.toFixed(1) ?? '?'} to ${replication.high?.toFixed(1) ?? '?'}; ${exposedEvents} times at ${shops} shops, ${both.expected.toFixed(1)} expected).`;
}
