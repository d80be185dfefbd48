import type { FaultCode } from '#libs/contracts/index.js';
import type { Clocks } from './clocks.js';
import { isReturn, lastWatched } from './return-rates.js';
import type { ReviewedSpan } from './shops-review.queries.js';
import { calendarShare, type Exposed, FEWEST_FOR_CLOCK, heatByShop, type Stream, streamsOf, type WeekGrid } from './watch-exposure.js';

/**
 * Days since the repair at which another band begins. Repairs that were wrong from the start come back first and are then gone, so that the same degree-day brings
 * more returns of young repairs than of old ones: without the bands the late summer, which is full of young repairs, would look like a rise.
 */
const AGE_BANDS = [0, 28, 91, 182, 365];
/** Events' worth of the pattern of all repairs in that of one group. */
const PATTERN_EVENTS = 10;

interface AgedCell {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly counts: Float64Array;
  /** By band of age. */
  readonly exposed: readonly Exposed[];
}

interface Group {
  readonly cells: Map<string, AgedCell>;
  /** Returns of the baseline by band of age. */
  readonly events: Float64Array;
}

/** Returns: weather that repairs still open lived through, by age, platform, fault and intent. */
export function returnStreams(
  spans: readonly ReviewedSpan[],
  grid: WeekGrid,
  clocks: Clocks,
  today: number,
  delayDays: number,
  arrived: Float64Array,
): Stream[] {
  const heat = heatByShop(new Set(spans.map(({ homeShopId }) => homeShopId)), grid, clocks, delayDays);
  const groups = new Map<string, Group>();
  for (const span of spans) {
    if (span.platformId === null) continue;
    const group = groupOf(groups, `${span.fault}|${span.intent}`);
    const cell = cellOf(group, span.platformId, span.fault, grid);
    const until = lastWatched(span, today, clocks.rules);
    const weekly = heat.get(span.homeShopId)!;
    const from = Math.max(span.started, grid.first);
    for (let week = Math.floor((from - grid.first) / 7); week < grid.weeks; week++) {
      const begin = grid.first + 7 * week;
      if (begin >= until) break;
      // Heat before the repair brings no return of it.
      const a = Math.max(span.started, Math.max(from, begin) - delayDays);
      const b = Math.min(until, begin + 7) - delayDays;
      if (b <= a) continue;
      const exposed = cell.exposed[bandOf(Math.max(from, begin) - span.started)]!;
      exposed.heat[week]! += b - a === 7 ? weekly[week]! : clocks.degreeDays(span.homeShopId, a, b);
      exposed.days[week]! += b - a;
    }
    const back = Math.floor((span.ended - grid.first) / 7);
    if (!isReturn(span.end) || back < 0 || back >= grid.weeks) continue;
    const band = bandOf(span.ended - span.started);
    cell.counts[back]! += 1;
    if (back < grid.baseline) group.events[band]! += 1;
    // A return sooner than any is expected had some time to happen in.
    const exposed = cell.exposed[band]!;
    if (exposed.days[back] === 0) {
      exposed.days[back] = 0.5;
      exposed.heat[back] = 0.1;
    }
  }
  return streamsOf('returns', weighedCells(groups, grid), grid, arrived);
}

/** One exposure a week of each cell: that of all bands, each by how often its repairs come back, and the calendar's share; both by group, drawn towards those of all. */
function weighedCells(groups: ReadonlyMap<string, Group>, grid: WeekGrid) {
  const all = fitted([...groups.values()], grid, null);
  return new Map(
    [...groups].map(([key, group]) => {
      const { share, relative } = fitted([group], grid, all);
      return [
        key,
        [...group.cells.values()].map(({ platformId, fault, counts, exposed }) => {
          const exposure = new Float64Array(grid.weeks);
          exposed.forEach(({ heat, days }, band) => {
            for (let week = 0; week < grid.weeks; week++) exposure[week]! += relative[band]! * (heat[week]! + share * days[week]!);
          });
          return { platformId, fault, counts, exposure };
        }),
      ] as const;
    }),
  );
}

interface AgedRates {
  /** Degree-days a day. */
  readonly share: number;
  /** Rate of each band over that of them all. */
  readonly relative: readonly number[];
}

function fitted(groups: readonly Group[], grid: WeekGrid, all: AgedRates | null): AgedRates {
  const counts = new Float64Array(grid.weeks);
  const parts = AGE_BANDS.map((): Exposed => ({ heat: new Float64Array(grid.weeks), days: new Float64Array(grid.weeks) }));
  const events = new Float64Array(AGE_BANDS.length);
  for (const group of groups) {
    for (let band = 0; band < events.length; band++) events[band]! += group.events[band]!;
    for (const cell of group.cells.values()) {
      for (let week = 0; week < grid.weeks; week++) {
        counts[week]! += cell.counts[week]!;
        parts.forEach(({ heat, days }, band) => {
          heat[week]! += cell.exposed[band]!.heat[week]!;
          days[week]! += cell.exposed[band]!.days[week]!;
        });
      }
    }
  }
  const known = events.reduce((sum, one) => sum + one, 0);
  const relative = (share: number): number[] => {
    const pattern = all?.relative ?? AGE_BANDS.map(() => 1);
    const expected = parts.map(({ heat, days }, band) => {
      let x = 0;
      for (let week = 0; week < grid.baseline; week++) x += heat[week]! + share * days[week]!;
      return pattern[band]! * x;
    });
    const scale =
      known /
      Math.max(
        expected.reduce((sum, one) => sum + one, 0),
        1e-9,
      );
    return pattern.map((one, band) => (one * (events[band]! + PATTERN_EVENTS)) / (expected[band]! * scale + PATTERN_EVENTS));
  };
  const share = all !== null && known < FEWEST_FOR_CLOCK ? all.share : calendarShare(counts, parts, grid.baseline, relative).share;
  return { share, relative: relative(share) };
}

function groupOf(groups: Map<string, Group>, key: string): Group {
  const known = groups.get(key);
  if (known) return known;
  const made = { cells: new Map<string, AgedCell>(), events: new Float64Array(AGE_BANDS.length) };
  groups.set(key, made);
  return made;
}

function cellOf({ cells }: Group, platformId: string, fault: FaultCode, grid: WeekGrid): AgedCell {
  const known = cells.get(platformId);
  if (known) return known;
  const exposed = AGE_BANDS.map(() => ({ heat: new Float64Array(grid.weeks), days: new Float64Array(grid.weeks) }));
  const made = { platformId, fault, counts: new Float64Array(grid.weeks), exposed };
  cells.set(platformId, made);
  return made;
}

const bandOf = (age: number): number => AGE_BANDS.findLastIndex((from) => age >= from);
