import type { FaultCode, WatchStream } from '#libs/contracts/index.js';
import { type RateOf, shrunkRates } from '#libs/outcomes/index.js';
import { type Clocks, dayNumber } from './clocks.js';
import { isReturn, lastWatched } from './return-rates.js';
import type { ReviewedSpan } from './shops-review.queries.js';
import type { Onset } from './watches.queries.js';

/** The last year is watched against the years before it. */
export const WATCHED_WEEKS = 52;
const FEWEST_BASELINE_WEEKS = 52;
const MOST_BASELINE_WEEKS = 208;
/** Recording grows and shrinks: what all other streams did in so many weeks is no alarm of one of them. */
const TREND_WEEKS = 13;
const FEWEST_FOR_TREND = 20;
/** Below this the calendar share of a fault is that of all faults. */
const FEWEST_FOR_CLOCK = 30;
const CALENDAR_SHARES = [0, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4, 12.8];

/** Weeks counted back from today; the last whole one is the last. Days are numbers since `DAY_ZERO`. */
export interface WeekGrid {
  readonly first: number;
  readonly weeks: number;
  readonly baseline: number;
}

export function weekGrid(firstDay: number, today: number): WeekGrid | null {
  const baseline = Math.min(MOST_BASELINE_WEEKS, Math.floor((today - firstDay) / 7) - WATCHED_WEEKS);
  if (!(baseline >= FEWEST_BASELINE_WEEKS)) return null;
  const weeks = baseline + WATCHED_WEEKS;
  return { first: today - 7 * weeks, weeks, baseline };
}

/** Counts of one stream and what was to be expected, week by week. */
export interface Stream {
  readonly kind: WatchStream['kind'];
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly counts: Float64Array;
  readonly expected: Float64Array;
  readonly borrowed: number;
}

interface Cell {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly counts: Float64Array;
  readonly exposure: Float64Array;
}

/**
 * New faults: heat of the shops a platform is seen at, plus a calendar share fitted for each fault on the whole region, times the platform's share of all visits;
 * the rate of a fault from the baseline, drawn towards that of all platforms.
 */
export function onsetStreams(onsets: readonly Onset[], grid: WeekGrid, clocks: Clocks, arrived: Float64Array): Stream[] {
  const weekOf = (day: number) => Math.floor((day - grid.first) / 7);
  const inBaseline = onsets.filter(({ day }) => weekOf(day) >= 0 && weekOf(day) < grid.baseline);
  const total = inBaseline.length;
  if (total === 0) return [];
  const heat = heatByShop(new Set(onsets.map(({ shopId }) => shopId)), grid, clocks);
  const region = mixed(
    tally(inBaseline, ({ shopId }) => shopId),
    heat,
    grid.weeks,
  );
  const shares = calendarShares(inBaseline, region, grid, weekOf);
  const platforms = new Map<string, Float64Array>();
  const popularity = new Map<string, number>();
  for (const platformId of new Set(onsets.map((one) => one.platformId))) {
    const own = inBaseline.filter((one) => one.platformId === platformId);
    platforms.set(
      platformId,
      own.length === 0
        ? region
        : mixed(
            tally(own, ({ shopId }) => shopId),
            heat,
            grid.weeks,
          ),
    );
    popularity.set(platformId, Math.max(own.length, 0.5) / total);
  }
  const counts = new Map<string, Float64Array>();
  for (const { platformId, fault, day } of onsets) bump(counts, `${platformId}|${fault}`, weekOf(day), grid.weeks);
  const cells = new Map<string, Cell[]>();
  for (const fault of new Set(onsets.map((one) => one.fault))) {
    const share = shares(fault);
    cells.set(
      fault,
      [...platforms].map(([platformId, heatThere]) => ({
        platformId,
        fault,
        counts: counts.get(`${platformId}|${fault}`) ?? new Float64Array(grid.weeks),
        exposure: heatThere.map((degreeDays) => popularity.get(platformId)! * (degreeDays + 7 * share)),
      })),
    );
  }
  return streamsOf('new-faults', cells, grid, arrived);
}

/** Returns: heat that repairs still open lived through, by platform, fault and intent. */
export function returnStreams(
  spans: readonly ReviewedSpan[],
  grid: WeekGrid,
  clocks: Clocks,
  today: number,
  arrived: Float64Array,
): Stream[] {
  const heat = heatByShop(new Set(spans.map(({ homeShopId }) => homeShopId)), grid, clocks);
  const cells = new Map<string, Map<string, Cell>>();
  for (const span of spans) {
    if (span.platformId === null) continue;
    const group = `${span.fault}|${span.intent}`;
    const own = cells.get(group) ?? new Map<string, Cell>();
    cells.set(group, own);
    const cell = own.get(span.platformId) ?? {
      platformId: span.platformId,
      fault: span.fault,
      counts: new Float64Array(grid.weeks),
      exposure: new Float64Array(grid.weeks),
    };
    own.set(span.platformId, cell);
    const until = lastWatched(span, today, clocks.rules);
    const weekly = heat.get(span.homeShopId)!;
    const from = Math.max(span.started, grid.first);
    for (let week = Math.floor((from - grid.first) / 7); week < grid.weeks; week++) {
      const begin = grid.first + 7 * week;
      if (begin >= until) break;
      const [a, b] = [Math.max(from, begin), Math.min(until, begin + 7)];
      cell.exposure[week]! += b - a === 7 ? weekly[week]! : clocks.degreeDays(span.homeShopId, a, b);
    }
    const back = Math.floor((span.ended - grid.first) / 7);
    if (isReturn(span.end) && back >= 0 && back < grid.weeks) {
      cell.counts[back]! += 1;
      // A return on the day of the repair had some time to happen in.
      if (cell.exposure[back] === 0) cell.exposure[back] = 0.1;
    }
  }
  const byGroup = new Map([...cells].map(([group, own]) => [group, [...own.values()]]));
  return streamsOf('returns', byGroup, grid, arrived);
}

/** Expected counts from shrunken baseline rates; cells of one platform and fault (several intents) become one stream. */
function streamsOf(kind: Stream['kind'], groups: ReadonlyMap<string, readonly Cell[]>, grid: WeekGrid, arrived: Float64Array): Stream[] {
  const made = new Map<string, { platformId: string; fault: FaultCode; counts: Float64Array; expected: Float64Array; borrowed: number }>();
  for (const cells of groups.values()) {
    const known = cells.map((cell): RateOf & { cell: Cell } => ({
      cell,
      events: sum(cell.counts, 0, grid.baseline),
      exposure: sum(cell.exposure, 0, grid.baseline),
    }));
    const usable = known.filter(({ exposure }) => exposure > 0);
    const events = usable.reduce((total, one) => total + one.events, 0);
    const exposure = usable.reduce((total, one) => total + one.exposure, 0);
    const rates = usable.length >= 2 && events > 0 ? shrunkRates(usable) : null;
    for (const { cell } of known) {
      const at = usable.findIndex((one) => one.cell === cell);
      // A cell without a baseline of its own, or a group too small to shrink, has the rate of the group.
      const drawn = at < 0 ? null : (rates?.[at] ?? null);
      const rate = drawn?.rate ?? (events + 0.5) / Math.max(exposure, 1);
      const key = `${cell.platformId}|${cell.fault}`;
      const stream = made.get(key) ?? {
        platformId: cell.platformId,
        fault: cell.fault,
        counts: new Float64Array(grid.weeks),
        expected: new Float64Array(grid.weeks),
        borrowed: 0,
      };
      made.set(key, stream);
      const before = sum(stream.expected, 0, grid.weeks);
      const more = rate * sum(cell.exposure, 0, grid.weeks);
      if (before + more > 0) stream.borrowed = (stream.borrowed * before + (drawn?.borrowed ?? 1) * more) / (before + more);
      for (let week = 0; week < grid.weeks; week++) {
        stream.counts[week]! += cell.counts[week]!;
        stream.expected[week]! += rate * cell.exposure[week]!;
      }
    }
  }
  return followTrend(
    [...made.values()].map((stream) => ({ kind, ...stream })),
    grid,
    arrived,
  );
}

/** What all other streams of the kind did in the last weeks, over what was expected of them to be recorded by now, scales the expectation of each. */
function followTrend(streams: readonly Stream[], grid: WeekGrid, arrived: Float64Array): Stream[] {
  const observed = totals(streams, ({ counts }) => counts, grid.weeks);
  const recorded = (stream: Stream) => stream.expected.map((value, week) => value * arrived[week]!);
  const expected = totals(streams, recorded, grid.weeks);
  return streams.map((stream) => {
    const own = recorded(stream);
    return {
      ...stream,
      expected: stream.expected.map((value, week) => {
        const from = Math.max(0, week - TREND_WEEKS + 1);
        const others = sum(expected, from, week + 1) - sum(own, from, week + 1);
        const seen = sum(observed, from, week + 1) - sum(stream.counts, from, week + 1);
        return others >= FEWEST_FOR_TREND ? (value * seen) / others : value;
      }),
    };
  });
}

/** Calendar share c of each fault: the one under which its weekly counts in the region are likeliest, given their sum (degree-days + 7c a week). */
function calendarShares(onsets: readonly Onset[], region: Float64Array, grid: WeekGrid, weekOf: (day: number) => number) {
  const best = (own: readonly Onset[]): number => {
    const counts = new Float64Array(grid.baseline);
    for (const { day } of own) counts[weekOf(day)]! += 1;
    const likelihood = (c: number) => {
      let log = 0;
      let whole = 0;
      for (let week = 0; week < grid.baseline; week++) {
        const x = region[week]! + 7 * c;
        whole += x;
        if (counts[week]! > 0) log += counts[week]! * Math.log(x);
      }
      return log - own.length * Math.log(whole);
    };
    return CALENDAR_SHARES.reduce((a, b) => (likelihood(b) > likelihood(a) ? b : a));
  };
  const all = best(onsets);
  const own = new Map<string, number>();
  return (fault: FaultCode): number => {
    let share = own.get(fault);
    if (share === undefined) {
      const mine = onsets.filter((one) => one.fault === fault);
      share = mine.length >= FEWEST_FOR_CLOCK ? best(mine) : all;
      own.set(fault, share);
    }
    return share;
  };
}

function heatByShop(shops: ReadonlySet<string>, grid: WeekGrid, clocks: Clocks): Map<string, Float64Array> {
  return new Map(
    [...shops].map((shopId) => [
      shopId,
      Float64Array.from({ length: grid.weeks }, (_, week) => clocks.degreeDays(shopId, grid.first + 7 * week, grid.first + 7 * (week + 1))),
    ]),
  );
}

function mixed(counts: ReadonlyMap<string, number>, heat: ReadonlyMap<string, Float64Array>, weeks: number): Float64Array {
  const whole = [...counts.values()].reduce((a, b) => a + b, 0);
  const out = new Float64Array(weeks);
  for (const [shopId, count] of counts) {
    const own = heat.get(shopId)!;
    for (let week = 0; week < weeks; week++) out[week]! += (own[week]! * count) / whole;
  }
  return out;
}

function tally<T>(items: readonly T[], key: (item: T) => string): Map<string, number> {
  const counts = new Map<string, number>();
  for (const item of items) counts.set(key(item), (counts.get(key(item)) ?? 0) + 1);
  return counts;
}

function bump(into: Map<string, Float64Array>, key: string, week: number, weeks: number): void {
  if (week < 0 || week >= weeks) return;
  const counts = into.get(key) ?? new Float64Array(weeks);
  counts[week]! += 1;
  into.set(key, counts);
}

function totals(streams: readonly Stream[], of: (stream: Stream) => Float64Array, weeks: number): Float64Array {
  const out = new Float64Array(weeks);
  for (const stream of streams) for (let week = 0; week < weeks; week++) out[week]! += of(stream)[week]!;
  return out;
}

export function sum(values: Float64Array, from: number, until: number): number {
  let total = 0;
  for (let i = from; i < until; i++) total += values[i]!;
  return total;
}

/** The day number of an instant in UTC. */
export const todayOf = (now: Date): number => dayNumber(now.toISOString().slice(0, 10));
