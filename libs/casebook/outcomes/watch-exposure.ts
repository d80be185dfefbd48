import type { FaultCode, WatchStream } from '#libs/contracts/index.js';
import { type RateOf, shrunkRates } from '#libs/outcomes/index.js';
import { type Clocks, dayNumber } from './clocks.js';

/** The last year is watched against the years before it. */
export const WATCHED_WEEKS = 52;
const FEWEST_BASELINE_WEEKS = 52;
const MOST_BASELINE_WEEKS = 208;
/** Recording grows and shrinks: what all other streams did in so many weeks is no alarm of one of them. */
const TREND_WEEKS = 13;
/** Events' worth of "as before" in the trend: it rarely moves by more than a fifth in a quarter of a year (an assumption), and a few events do not tell that it did. */
const STEADY_EVENTS = 25;
/** Below this the calendar share of a fault is that of all faults. */
export const FEWEST_FOR_CLOCK = 30;
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

export const weekOf = (day: number, { first }: WeekGrid): number => Math.floor((day - first) / 7);

/** Counts of one stream and what was to be expected, week by week. */
export interface Stream {
  readonly kind: WatchStream['kind'];
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly counts: Float64Array;
  readonly expected: Float64Array;
  readonly borrowed: number;
  /** Events' worth of what is known of the stream's own rate: 1 over the squared relative error of all it is expected to have. */
  readonly certainty: number;
}

export interface Cell {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly counts: Float64Array;
  readonly exposure: Float64Array;
}

/** Expected counts from shrunken baseline rates; cells of one platform and fault (several intents) become one stream. */
export function streamsOf(
  kind: Stream['kind'],
  groups: ReadonlyMap<string, readonly Cell[]>,
  grid: WeekGrid,
  arrived: Float64Array,
): Stream[] {
  const made = new Map<
    string,
    { platformId: string; fault: FaultCode; counts: Float64Array; expected: Float64Array; borrowed: number; variance: number }
  >();
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
        variance: 0,
      };
      made.set(key, stream);
      const before = sum(stream.expected, 0, grid.weeks);
      const more = rate * sum(cell.exposure, 0, grid.weeks);
      if (before + more > 0) stream.borrowed = (stream.borrowed * before + (drawn?.borrowed ?? 1) * more) / (before + more);
      // Without a rate of its own the stream's is as sure as that of a group of one event.
      stream.variance += (more * more) / (drawn?.certainty ?? 1);
      for (let week = 0; week < grid.weeks; week++) {
        stream.counts[week]! += cell.counts[week]!;
        stream.expected[week]! += rate * cell.exposure[week]!;
      }
    }
  }
  return followTrend(
    [...made.values()].map(({ variance, ...stream }) => {
      const whole = sum(stream.expected, 0, grid.weeks);
      return { kind, ...stream, certainty: variance > 0 ? (whole * whole) / variance : 1 };
    }),
    grid,
    arrived,
  );
}

/**
 * What all other streams of the kind did in the last weeks, over what was expected of them to be recorded by now, scales the expectation of each; drawn towards
 * 1 while few were expected, so that the ratio of a quiet winter is not taken for what the spring will bring.
 */
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
        return (value * (seen + STEADY_EVENTS)) / (others + STEADY_EVENTS);
      }),
    };
  });
}

/** Heat and days of each week, as counts meet them. */
export interface Exposed {
  readonly heat: Float64Array;
  readonly days: Float64Array;
}

/**
 * Calendar share c under which weekly counts of the baseline are likeliest, given their sum (degree-days + c a day). Exposures are told apart where rates differ by
 * more than the weather (`relative`, by age of the repair); of new faults there is one.
 */
export function calendarShare(
  counts: Float64Array,
  parts: readonly Exposed[],
  baseline: number,
  relative: (share: number) => readonly number[] = () => parts.map(() => 1),
): { readonly share: number; readonly logLikelihood: number } {
  const likelihood = (share: number) => {
    const weights = relative(share);
    let log = 0;
    let whole = 0;
    let events = 0;
    for (let week = 0; week < baseline; week++) {
      let x = 0;
      parts.forEach(({ heat, days }, i) => {
        x += weights[i]! * (heat[week]! + share * days[week]!);
      });
      whole += x;
      events += counts[week]!;
      // A week without any exposure in which something came is as unlikely as can be said without refusing all else.
      if (counts[week]! > 0) log += counts[week]! * Math.log(Math.max(x, 1e-9));
    }
    return whole > 0 ? log - events * Math.log(whole) : Number.NEGATIVE_INFINITY;
  };
  return CALENDAR_SHARES.map((share) => ({ share, logLikelihood: likelihood(share) })).reduce((a, b) =>
    b.logLikelihood > a.logLikelihood ? b : a,
  );
}

/** Degree-days of each week by shop, so many days earlier: what was felt then is brought now. */
export function heatByShop(shops: ReadonlySet<string>, grid: WeekGrid, clocks: Clocks, delayDays: number): Map<string, Float64Array> {
  return new Map(
    [...shops].map((shopId) => [
      shopId,
      Float64Array.from({ length: grid.weeks }, (_, week) => {
        const from = grid.first + 7 * week - delayDays;
        return clocks.degreeDays(shopId, from, from + 7);
      }),
    ]),
  );
}

export function bump(into: Map<string, Float64Array>, key: string, week: number, weeks: number): void {
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
