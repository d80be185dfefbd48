import { clocksOf, dayNumber } from '#libs/casebook/outcomes/clocks.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { DELAY_DAYS } from '#libs/casebook/outcomes/watch-arrived.js';
import { watchBoard } from '#libs/casebook/outcomes/watches.js';
import type { Onset } from '#libs/casebook/outcomes/watches.queries.js';
import type { WatchStream } from '#libs/contracts/index.js';
import { DEMO_SHOPS, planRegion } from '#libs/demo/index.js';
import { type PlannedVehicle, REGION_DAYS } from '#libs/demo/plan.js';
import type { RecordedDelay } from '#libs/outcomes/index.js';
import { climatesOf, END, PLATFORMS, regionOf } from './outcomes-planned.js';
import { type Random, seeded } from './outcomes-random.js';

/**
 * What happens in a region without any rise: `uneven`, the counts of each stream vary from week to week beyond Poisson (size 3); `weather`, those of all streams together
 * do (size 9); `joining`, four of eleven shops begin to record on a day between the first half year and the last quarter; `growing`, half of the vehicles come to the
 * region over the three years; `late`, half of the visits are recorded within a week, the latest after three months.
 */
export const TROUBLES = ['uneven', 'weather', 'joining', 'growing', 'late'] as const;
export type Trouble = (typeof TROUBLES)[number];

const JOINING_SHOPS = 4;
const JOINING_FROM = 182;
const JOINING_UNTIL = REGION_DAYS - 91;

/** A region as the watches see it, and how late its visits were recorded. */
interface TroubledRegion {
  readonly plan: readonly PlannedVehicle[];
  readonly delays: readonly RecordedDelay[];
}

/** A region without plants. Visits are left out of a larger one by chances that do not rise with time, but for the fleet, so that no stream rises by itself. */
function troubledRegion(seed: number, cases: number, troubles: ReadonlySet<Trouble>): TroubledRegion {
  const random = seeded(seed);
  // A beta (a, a) has mean 1/2 and a squared coefficient of variation of 1/(2 a + 1).
  const unevenness = new Map<string, number>();
  const keeps = (key: string, a: number) => {
    const chance = unevenness.get(key) ?? random.beta(a, a);
    unevenness.set(key, chance);
    return random.uniform() < chance;
  };
  const opened = openings(random, troubles);
  const delays: RecordedDelay[] = [];
  const isRecorded = (day: number) => {
    const delay = Math.floor(random.uniform() < 0.9 ? 9 * random.exponential() : 90 * random.uniform());
    const longest = REGION_DAYS - day;
    if (delay > longest) return false;
    if (longest <= DELAY_DAYS) delays.push({ delay, longest });
    return true;
  };
  const larger = cases * (troubles.has('uneven') ? 2 : 1) * (troubles.has('weather') ? 2 : 1);
  const plan = planRegion(seed, larger, undefined, { plain: true }).map((vehicle) => {
    const from = troubles.has('growing') && random.uniform() < 0.5 ? random.uniform() * REGION_DAYS : 0;
    const isThere = ({ day, shop }: { readonly day: number; readonly shop: number }) => day >= from && day >= opened[shop]!;
    const visits = vehicle.visits.filter(
      (visit) =>
        isThere(visit) &&
        (!troubles.has('uneven') || keeps(`${vehicle.platform} ${visit.fault} ${weekOf(visit.day)}`, 1)) &&
        (!troubles.has('weather') || keeps(`${weekOf(visit.day)}`, 4)) &&
        (!troubles.has('late') || isRecorded(visit.day)),
    );
    return { ...vehicle, visits, sightings: vehicle.sightings.filter(isThere) };
  });
  return { plan, delays };
}

/** Weeks as the watches count them: back from the end. */
const weekOf = (day: number) => Math.floor((REGION_DAYS - 1 - day) / 7);

/** The day from which each shop records. */
function openings(random: Random, troubles: ReadonlySet<Trouble>): readonly number[] {
  const order = DEMO_SHOPS.map((_, shop) => ({ shop, at: random.uniform() })).sort((a, b) => a.at - b.at);
  const days = DEMO_SHOPS.map(() => 0);
  if (troubles.has('joining')) {
    for (const { shop } of order.slice(0, JOINING_SHOPS)) days[shop] = JOINING_FROM + random.uniform() * (JOINING_UNTIL - JOINING_FROM);
  }
  return days;
}

/** How the watches of one region without any rise keep their word, and what they see of doublings planted there. */
export interface WatchedRegion {
  readonly streams: number;
  /** Alarms of the watched year before anything was planted, and streams that had one; the watches state one alarm. */
  readonly alarms: number;
  readonly alarmed: number;
  /** Size of the counts as estimated from the baseline. */
  readonly size: number | null;
  readonly doubled: number;
  /** Doublings with an alarm within the weeks that are stated for the stream. */
  readonly within: number;
  /** Weeks to the alarm over all doublings, of those never seen the weeks that were left; and those stated. */
  readonly weeks: number;
  readonly stated: number;
}

/** A doubling is looked for where its stated delay fits the watched year. */
const MOST_STATED_WEEKS = 40;

/**
 * From a week drawn at random on, as many new faults again as were expected come to some streams (Poisson), at the shops and of the model years of those that were there.
 */
export function watchedRegion(seed: number, cases: number, troubles: readonly Trouble[] = [], doublings = 8): WatchedRegion {
  const { plan, delays } = troubledRegion(seed, cases, new Set(troubles));
  const { spans, onsets } = regionOf(plan);
  const clocks = clocksOf(climatesOf(), END, COMMON_RULES);
  const looked = (seen: readonly Onset[]) => watchBoard({ onsets: seen, spans, platforms: PLATFORMS, clocks, delays, now: END });
  const random = seeded(seed);
  const plain = looked(onsets);
  const alarms = plain.watches.reduce((sum, one) => sum + one.alarms.length, 0);
  const alarmed = plain.watches.filter((one) => one.alarms.length > 0).length;
  const able = plain.watches.filter(
    (one) => one.kind === 'new-faults' && one.alarms.length === 0 && one.weeksToDoubling <= MOST_STATED_WEEKS,
  );
  const chosen = [...able]
    .map((stream) => ({ stream, at: random.uniform() }))
    .sort((a, b) => a.at - b.at)
    .slice(0, doublings)
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
  const found = new Map(more.length === 0 ? [] : looked([...onsets, ...more]).watches.map((one) => [key(one), one]));
  const seen = chosen.map(({ stream, begin }) => {
    const { weeks, alarms: raised } = found.get(key(stream)) ?? stream;
    const alarm = raised.find(({ week }) => week >= weeks[begin]!.week);
    return alarm ? weeks.findIndex(({ week }) => week === alarm.week) - begin + 1 : Number.POSITIVE_INFINITY;
  });
  const left = chosen.map(({ stream, begin }) => stream.weeks.length - begin);
  return {
    streams: plain.streams,
    alarms,
    alarmed,
    size: plain.size,
    doubled: chosen.length,
    within: chosen.filter(({ stream }, i) => seen[i]! <= stream.weeksToDoubling).length,
    weeks: seen.reduce((sum, weeks, i) => sum + Math.min(weeks, left[i]!), 0),
    stated: chosen.reduce((sum, { stream }) => sum + stream.weeksToDoubling, 0),
  };
}
