import { createHash } from 'node:crypto';
import { cellFigures, standingCells } from '#libs/casebook/outcomes/board.js';
import { clocksOf, dayNumber } from '#libs/casebook/outcomes/clocks.js';
import { fittedClock } from '#libs/casebook/outcomes/heat-clock.js';
import { derivedEpisodes } from '#libs/casebook/outcomes/linking.service.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import type { BoardPlatform, ShopClimate } from '#libs/casebook/outcomes/outcomes.queries.js';
import { weighedPatterns } from '#libs/casebook/outcomes/patterns.js';
import type { ProvedVisit, WatchedVehicle } from '#libs/casebook/outcomes/patterns.queries.js';
import { DEFAULT_HORIZONS } from '#libs/casebook/outcomes/return-rates.js';
import { shopReview } from '#libs/casebook/outcomes/shop-funnel.js';
import type { RecordedCases, ReviewedSpan } from '#libs/casebook/outcomes/shops-review.queries.js';
import { watchBoard } from '#libs/casebook/outcomes/watches.js';
import type { Onset } from '#libs/casebook/outcomes/watches.queries.js';
import type { FaultCode, WatchStream } from '#libs/contracts/index.js';
import { DEBRIS_PLATFORMS, DEMO_PLATFORMS, DEMO_SHOPS, EMERGING, planRegion, WEAK_SHOP } from '#libs/demo/index.js';
import { type PlannedVehicle, REGION_DAYS } from '#libs/demo/plan.js';
import { cellsOf } from '../support/episodes.js';
import { seeded } from './outcomes-random.js';

/** Lines of a question's answer that a reader sees without turning the page. */
const FIRST_PAGE = 10;
/** The planned region counts its seasons from the first of January. */
const END = new Date('2027-01-01T00:00:00Z');
const FIRST_DAY = dayNumber('2027-01-01') - REGION_DAYS;

/** A region of the planned kind as the questions read it: what the tables would give, without the tables. */
interface Region {
  readonly spans: readonly ReviewedSpan[];
  readonly onsets: readonly Onset[];
  readonly vehicles: readonly WatchedVehicle[];
  readonly visits: readonly ProvedVisit[];
  readonly recorded: ReadonlyMap<string, RecordedCases>;
}

const PLATFORMS: readonly BoardPlatform[] = DEMO_PLATFORMS.map(({ code, name, family }) => ({ id: code, code, name, family }));
const CLIMATES: readonly ShopClimate[] = DEMO_SHOPS.map(({ code, normals }) => ({ id: code, normals: [...normals], observed: [] }));
const dayText = (day: number) => new Date((FIRST_DAY + day) * 86_400_000).toISOString().slice(0, 10);

function regionOf(plan: readonly PlannedVehicle[]): Region {
  const spans: ReviewedSpan[] = [];
  const onsets: Onset[] = [];
  const vehicles: WatchedVehicle[] = [];
  const visits: ProvedVisit[] = [];
  const recorded = new Map<string, { shopId: string; cases: number; proved: number; repaired: number }>();
  for (const vehicle of plan) {
    const platform = DEMO_PLATFORMS[vehicle.platform]!;
    const id = `vehicle ${vehicle.index}`;
    const isLinked = vehicle.vin !== null;
    const cases = vehicle.visits.map((visit, v) => ({
      caseId: `${vehicle.index}-${v}`,
      shopId: DEMO_SHOPS[visit.shop]!.code,
      platformId: platform.code,
      day: dayText(visit.day),
      openedAt: visit.day,
      complaint: visit.complaint,
      provedFaults: visit.fault === null || visit.proof === null || visit.proof === 'judgement' ? [] : [visit.fault],
      odometerKm: visit.odometerKm,
    }));
    const repairs = vehicle.visits.flatMap((visit, v) =>
      visit.repairs.map((repair, r) => ({
        ...repair,
        repairId: `${vehicle.index}-${v}-${r}`,
        caseId: cases[v]!.caseId,
        shopId: cases[v]!.shopId,
        day: cases[v]!.day,
      })),
    );
    const sightings = vehicle.sightings.map(({ day, shop, odometerKm }) => ({
      day: dayText(day),
      shopId: DEMO_SHOPS[shop]!.code,
      odometerKm,
    }));
    // Every visit of a car that nobody can name is a car of its own.
    const pasts = isLinked
      ? [{ cases, repairs, sightings }]
      : cases.map((one) => ({ cases: [one], repairs: repairs.filter(({ caseId }) => caseId === one.caseId), sightings: [] }));
    const ended = new Set<string>();
    for (const past of pasts) {
      const derived = derivedEpisodes({
        vehicleId: id,
        platformId: platform.code,
        linkedBy: isLinked ? 'vin' : 'none',
        ...past,
        rules: COMMON_RULES,
      });
      for (const row of derived) {
        if (row.endCaseId !== null && row.endKind !== 'left') ended.add(row.endCaseId);
        spans.push({
          started: dayNumber(row.startedOn),
          ended: dayNumber(row.endedOn),
          end: row.endKind,
          shopId: row.shopId,
          homeShopId: row.homeShopId,
          vehicleId: row.vehicleId,
          linkedBy: row.linkedBy,
          distanceKm: row.distanceKm,
          platformId: row.platformId,
          family: platform.family,
          fault: row.fault as FaultCode,
          intent: repairs.find(({ repairId }) => repairId === row.repairId)!.intent,
          endShopId: row.endShopId,
        });
      }
    }
    for (const [v, one] of cases.entries()) {
      const day = FIRST_DAY + vehicle.visits[v]!.day;
      const own = recorded.get(one.shopId) ?? { shopId: one.shopId, cases: 0, proved: 0, repaired: 0 };
      recorded.set(one.shopId, own);
      own.cases += 1;
      own.proved += one.provedFaults.length > 0 ? 1 : 0;
      own.repaired += repairs.some(({ caseId }) => caseId === one.caseId) ? 1 : 0;
      const faults = new Set([...one.provedFaults, ...repairs.filter(({ caseId }) => caseId === one.caseId).map(({ fault }) => fault)]);
      if (!ended.has(one.caseId)) {
        for (const fault of faults)
          onsets.push({
            platformId: platform.code,
            fault,
            day,
            shopId: one.shopId,
            modelYear: vehicle.modelYear,
            plant: null,
            sequenceBucket: null,
          });
      }
      for (const fault of one.provedFaults) visits.push({ vehicleId: id, isLinked, fault, day, shopId: one.shopId });
    }
    if (!isLinked || cases.length === 0) continue;
    const days = vehicle.visits.map(({ day }) => FIRST_DAY + day);
    vehicles.push({
      id,
      half: (createHash('sha256').update(vehicle.vin!).digest()[0]! & 1) as 0 | 1,
      platformId: platform.code,
      modelYear: vehicle.modelYear,
      firstYear: platform.firstYear,
      firstShopId: cases[0]!.shopId,
      firstDay: Math.min(...days),
      lastDay: Math.max(...days, ...vehicle.sightings.map(({ day }) => FIRST_DAY + day)),
    });
  }
  return { spans, onsets, vehicles, visits, recorded };
}

/** Planted truths by the name of their question. */
export const PLANTED = ['debris', 'cartridges', 'weakShop', 'batch'] as const;

/** Which of the planted truths stand on the first page of their question, and what else is called there. */
export interface Shown {
  readonly debris: boolean;
  readonly cartridges: boolean;
  readonly weakShop: boolean;
  readonly batch: boolean;
  /** Patterns called replicated without doubt, shops called above, streams with an alarm, that nobody planted. */
  readonly otherPatterns: number;
  readonly otherShops: number;
  readonly otherAlarms: number;
}

export function shownIn(seed: number, cases: number, plain: boolean): Shown {
  const { spans, onsets, vehicles, visits, recorded } = regionOf(planRegion(seed, cases, undefined, { plain }));
  const clocks = clocksOf(CLIMATES, END, COMMON_RULES);
  const { patterns } = weighedPatterns({ vehicles, visits, platforms: PLATFORMS, climates: CLIMATES, rules: COMMON_RULES, now: END });
  const found = patterns.filter(({ verdict }) => verdict === 'replicated' || verdict === 'discovered');
  const isDebris = ({ cause, effect }: (typeof found)[number]) => cause === 'compressor-wear' && effect === 'condenser-passages';
  const view = { clock: 'degree-days', horizons: [DEFAULT_HORIZONS['degree-days'][1]!], clocks, asOf: END } as const;
  const placed = spans.flatMap((span) => (span.platformId === null ? [] : [{ ...span, platformId: span.platformId }]));
  const lines = standingCells(cellFigures(cellsOf(placed), view), PLATFORMS)
    .filter(({ episodes }) => episodes >= 5)
    .sort((a, b) => b.low - a.low)
    .slice(0, FIRST_PAGE);
  const review = shopReview({
    group: {},
    spans,
    recorded,
    shown: new Map(DEMO_SHOPS.map(({ code, name }) => [code, { shopId: code, shopCode: code, shopName: name }])),
    withheld: 0,
    view: { ...view, horizons: [DEFAULT_HORIZONS['degree-days'].at(-1)!], ...fittedClock(spans, clocks, END) },
  });
  const above = review.shops.filter(({ verdict }) => verdict === 'above');
  const { watches } = watchBoard({ onsets, spans, platforms: PLATFORMS, clocks, delays: [], now: END });
  const alarms = watches.filter((watch) => watch.alarms.length > 0);
  const isBatch = ({ kind, platformId, fault }: (typeof alarms)[number]) =>
    kind === 'new-faults' && platformId === EMERGING.platform && fault === EMERGING.fault;
  return {
    debris: found.slice(0, FIRST_PAGE).some((pattern) => isDebris(pattern) && pattern.verdict === 'replicated' && !pattern.doubtful),
    cartridges: lines.some(
      ({ platformId, fault, intent }) => DEBRIS_PLATFORMS.has(platformId) && fault === 'filter-cartridge' && intent === 'temporary',
    ),
    weakShop: above.slice(0, FIRST_PAGE).some(({ shopCode }) => shopCode === WEAK_SHOP),
    batch: alarms.slice(0, FIRST_PAGE).some(isBatch),
    otherPatterns: found.filter((pattern) => pattern.verdict === 'replicated' && !pattern.doubtful && !isDebris(pattern)).length,
    otherShops: above.filter(({ shopCode }) => shopCode !== WEAK_SHOP).length,
    otherAlarms: alarms.filter((one) => !isBatch(one)).length,
  };
}

/** Doublings planted in streams of new faults of a region without plants, as the watches see them. */
export interface Doublings {
  readonly streams: number;
  /** With an alarm within the weeks that are stated for the stream. */
  readonly within: number;
  /** Weeks to the alarm over all streams, of those never seen the weeks that were left; and those stated. */
  readonly weeks: number;
  readonly stated: number;
  /** Streams with an alarm before anything was planted. */
  readonly before: number;
}

const DOUBLED_AT_ONCE = 8;
/** A doubling is looked for where its stated delay fits the watched year. */
const MOST_STATED_WEEKS = 40;

/**
 * From a week drawn at random on, as many new faults again as were expected come to some streams (Poisson), at the shops and of the model years of those that were there.
 */
export function doublingsIn(seed: number, cases: number): Doublings {
  const { spans, onsets } = regionOf(planRegion(seed, cases, undefined, { plain: true }));
  const clocks = clocksOf(CLIMATES, END, COMMON_RULES);
  const looked = (seen: readonly Onset[]) =>
    watchBoard({ onsets: seen, spans, platforms: PLATFORMS, clocks, delays: [], now: END }).watches;
  const random = seeded(seed);
  const plain = looked(onsets);
  const able = plain.filter((one) => one.kind === 'new-faults' && one.alarms.length === 0 && one.weeksToDoubling <= MOST_STATED_WEEKS);
  const chosen = [...able]
    .map((stream) => ({ stream, at: random.uniform() }))
    .sort((a, b) => a.at - b.at)
    .slice(0, DOUBLED_AT_ONCE)
    .map(({ stream }) => ({ stream, begin: Math.floor(random.uniform() * (stream.weeks.length - stream.weeksToDoubling)) }));
  const more = chosen.flatMap(({ stream: { platformId, fault, weeks }, begin }) => {
    const like = onsets.filter((one) => one.platformId === platformId && one.fault === fault);
    return weeks.slice(begin).flatMap(({ week, expected }) =>
      Array.from({ length: random.poisson(expected) }, () => ({
        ...like[Math.floor(random.uniform() * like.length)]!,
        day: dayNumber(week) + Math.floor(7 * random.uniform()),
      })),
    );
  });
  const key = ({ kind, platformId, fault }: WatchStream) => `${kind} ${platformId} ${fault}`;
  const found = new Map(looked([...onsets, ...more]).map((one) => [key(one), one]));
  const seen = chosen.map(({ stream, begin }) => {
    const { weeks, alarms } = found.get(key(stream))!;
    const alarm = alarms.find(({ week }) => week >= weeks[begin]!.week);
    return alarm ? weeks.findIndex(({ week }) => week === alarm.week) - begin + 1 : Number.POSITIVE_INFINITY;
  });
  const left = chosen.map(({ stream, begin }) => stream.weeks.length - begin);
  return {
    streams: chosen.length,
    within: chosen.filter(({ stream }, i) => seen[i]! <= stream.weeksToDoubling).length,
    weeks: seen.reduce((sum, weeks, i) => sum + Math.min(weeks, left[i]!), 0),
    stated: chosen.reduce((sum, { stream }) => sum + stream.weeksToDoubling, 0),
    before: plain.filter(({ alarms }) => alarms.length > 0).length,
  };
}
