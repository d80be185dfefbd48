import { type Clocks } from './clocks.js';
import {
  bump,
  type Cell,
  calendarShare,
  type Exposed,
  FEWEST_FOR_CLOCK,
  heatByShop,
  type Stream,
  streamsOf,
  type WeekGrid,
  weekOf,
} from './watch-exposure.js';
import type { Onset } from './watches.queries.js';

/** Days from the heat that brings a fault out to the visit, of which the likeliest is taken. */
const NOTICE_DELAYS = [0, 2, 4, 7, 10, 14, 21];
/** Degree-days a day that every day has, until the calendar's share is known. */
const SOME_SHARE = 0.1;

/** How new faults of the whole region follow the weather. */
export interface NoticedWeather {
  /** Days from the heat to the visit. */
  readonly delayDays: number;
  /** Calendar share of all faults together, degree-days a day. */
  readonly share: number;
}

/** The delay and the calendar share under which the region's weekly counts of the baseline are likeliest. */
export function noticedWeather(onsets: readonly Onset[], grid: WeekGrid, clocks: Clocks): NoticedWeather {
  const own = onsets.filter(({ day }) => isBaseline(day, grid));
  const counts = weekly(own, grid);
  const fitted = NOTICE_DELAYS.map((delayDays) => {
    const heat = heatByShop(shopsOf(own), grid, clocks, delayDays);
    // Which shops the vehicles are at depends on the share, a little: found with some share first, then with the one found.
    const first = calendarShare(counts, [stockWeather(own, heat, SOME_SHARE, grid)], grid.baseline);
    const { share, logLikelihood } = calendarShare(counts, [stockWeather(own, heat, first.share, grid)], grid.baseline);
    return { delayDays, share, logLikelihood };
  });
  return fitted.reduce((a, b) => (b.logLikelihood > a.logLikelihood ? b : a));
}

/**
 * New faults: heat and calendar share of the shops a platform's vehicles are at. The vehicles at a shop are taken to be as many as its visits over the heat that brought
 * them: a shop in the heat sees more of as many vehicles. The calendar share is fitted for each fault on the whole region; the rate of a fault is that of the
 * baseline, drawn towards that of all platforms.
 */
export function onsetStreams(
  onsets: readonly Onset[],
  grid: WeekGrid,
  clocks: Clocks,
  { delayDays, share: ofAll }: NoticedWeather,
  arrived: Float64Array,
): Stream[] {
  const inBaseline = onsets.filter(({ day }) => isBaseline(day, grid));
  if (inBaseline.length === 0) return [];
  const heat = heatByShop(shopsOf(onsets), grid, clocks, delayDays);
  const region = stockWeather(inBaseline, heat, ofAll, grid);
  const platforms = new Map<string, Exposed>();
  for (const platformId of new Set(onsets.map((one) => one.platformId))) {
    const own = inBaseline.filter((one) => one.platformId === platformId);
    // A platform that had none has half a visit, where all others are.
    platforms.set(platformId, own.length === 0 ? scaled(region, 0.5 / inBaseline.length) : stockWeather(own, heat, ofAll, grid));
  }
  const counts = new Map<string, Float64Array>();
  for (const { platformId, fault, day } of onsets) bump(counts, `${platformId}|${fault}`, weekOf(day, grid), grid.weeks);
  const cells = new Map<string, Cell[]>();
  for (const fault of new Set(onsets.map((one) => one.fault))) {
    const mine = inBaseline.filter((one) => one.fault === fault);
    const share = mine.length >= FEWEST_FOR_CLOCK ? calendarShare(weekly(mine, grid), [region], grid.baseline).share : ofAll;
    cells.set(
      fault,
      [...platforms].map(([platformId, there]) => ({
        platformId,
        fault,
        counts: counts.get(`${platformId}|${fault}`) ?? new Float64Array(grid.weeks),
        exposure: there.heat.map((degreeDays, week) => degreeDays + share * there.days[week]!),
      })),
    );
  }
  return streamsOf('new-faults', cells, grid, arrived);
}

/** Weather of the vehicles that made these visits: each shop's by visits over its heat in the baseline. */
function stockWeather(visits: readonly Onset[], heat: ReadonlyMap<string, Float64Array>, share: number, grid: WeekGrid): Exposed {
  const seen = new Map<string, number>();
  for (const { shopId } of visits) seen.set(shopId, (seen.get(shopId) ?? 0) + 1);
  const out = { heat: new Float64Array(grid.weeks), days: new Float64Array(grid.weeks) };
  for (const [shopId, count] of seen) {
    const own = heat.get(shopId)!;
    let whole = 0;
    for (let week = 0; week < grid.baseline; week++) whole += own[week]! + 7 * share;
    // Degree-days a week of the baseline: exposures stay of the order of counts times weather, whatever the years.
    const stock = count / Math.max(whole / grid.baseline, 1e-6);
    for (let week = 0; week < grid.weeks; week++) {
      out.heat[week]! += own[week]! * stock;
      out.days[week]! += 7 * stock;
    }
  }
  return out;
}

const scaled = ({ heat, days }: Exposed, by: number): Exposed => ({ heat: heat.map((x) => x * by), days: days.map((x) => x * by) });
const shopsOf = (onsets: readonly Onset[]) => new Set(onsets.map(({ shopId }) => shopId));
const isBaseline = (day: number, grid: WeekGrid) => weekOf(day, grid) >= 0 && weekOf(day, grid) < grid.baseline;

function weekly(onsets: readonly Onset[], grid: WeekGrid): Float64Array {
  const counts = new Float64Array(grid.weeks);
  for (const { day } of onsets) counts[weekOf(day, grid)]! += 1;
  return counts;
}
