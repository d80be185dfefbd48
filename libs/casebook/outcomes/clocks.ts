import { degreeDayTable, observedDegreeDays } from '#libs/outcomes/index.js';
import type { StandingRules } from './outcome-rules.js';
import { DAY_ZERO, type ShopClimate } from './outcomes.queries.js';

/** Base temperature of the cooling degree-days, °C. */
export const DEGREE_DAY_BASE_C = 18;
/**
 * What a day without any heat still counts, in degree-days, where the repairs asked about do not tell: the heat clock must not stop in winter or in a cool
 * climate, or a fault that leaks on calendar time could never come back there (common practice: a tenth of a mild day).
 */
export const COLD_DAY_SHARE = 0.1;

const ZERO_MS = Date.parse(`${DAY_ZERO}T00:00:00Z`);
const DAY_MS = 86_400_000;
const FIRST_DAY = '2000-01-01';
const YEARS_AHEAD = 2;

/** Whole days since `DAY_ZERO` of a calendar day (YYYY-MM-DD). */
export function dayNumber(day: string): number {
  return Math.round((Date.parse(`${day}T00:00:00Z`) - ZERO_MS) / DAY_MS);
}

export function dayOf(number: number): string {
  return new Date(ZERO_MS + number * DAY_MS).toISOString().slice(0, 10);
}

const spanOfYear = ({ year, meansC }: ShopClimate['observed'][number]) => ({ first: dayNumber(`${year}-01-01`), meansC });

/** Both clocks at every shop. Degree-days are one subtraction in a table that is made once a shop and question. */
export interface Clocks {
  /** What a day without any heat counts, in degree-days. */
  readonly coldDayShare: number;
  /** How long a repair is followed, and a vehicle taken to be around. */
  readonly rules: StandingRules;
  /** The same clocks with another share of a day without heat. */
  withColdDay(share: number): Clocks;
  /** Cumulative degree-days of a shop, without the share of a cold day, by day from `firstDay` on. */
  tableOf(shopId: string): Float64Array;
  readonly firstDay: number;
  between(shopId: string, started: string, ended: string): { readonly days: number; readonly degreeDays: number };
  /** The heat clock of a shop: degree-days from day number to day number. */
  clockAt(shopId: string): (started: number, ended: number) => number;
  /** Degree-days from day number to day number at a shop. */
  degreeDays(shopId: string, started: number, ended: number): number;
}

/** What the clocks hang on, in a fixed order: figures that were stored name it, and are no longer true under another. */
export function climateParts(climates: readonly ShopClimate[]): unknown[] {
  return [...climates]
    .sort((a, b) => (a.id < b.id ? -1 : 1))
    .map(({ id, normals, observed }) => [
      id,
      normals.map(({ meanC, sdC }) => [meanC, sdC]),
      observed.map(({ year, meansC }) => [year, meansC]),
    ]);
}

/** Tables of normals, kept while the process runs: a question about a region asks for those of all its shops. */
const EXPECTED = new Map<string, Float64Array>();
/** Some eighty kilobytes each. */
const MOST_TABLES = 500;

function expectedTable(normals: ShopClimate['normals'], firstDay: number, lastDay: number): Float64Array {
  const key = `${lastDay} ${normals.map(({ meanC, sdC }) => `${meanC} ${sdC}`).join(' ')}`;
  let table = EXPECTED.get(key);
  if (!table) {
    table = degreeDayTable(normals, firstDay, lastDay, DEGREE_DAY_BASE_C);
    if (EXPECTED.size >= MOST_TABLES) EXPECTED.delete(EXPECTED.keys().next().value!);
    EXPECTED.set(key, table);
  }
  return table;
}

export function clocksOf(climates: readonly ShopClimate[], now: Date, rules: StandingRules): Clocks {
  const firstDay = dayNumber(FIRST_DAY);
  const lastDay = dayNumber(`${now.getUTCFullYear() + YEARS_AHEAD}-12-31`);
  const shops = new Map(climates.map((shop) => [shop.id, shop]));
  const tables = new Map<string, Float64Array>();
  const tableOf = (shopId: string): Float64Array => {
    let table = tables.get(shopId);
    if (!table) {
      const { normals, observed } = shops.get(shopId)!;
      table = expectedTable(normals, firstDay, lastDay);
      // Where the day's mean was observed it stands in place of what the month makes to be expected.
      if (observed.length > 0) table = observedDegreeDays(table, firstDay, observed.map(spanOfYear), DEGREE_DAY_BASE_C);
      tables.set(shopId, table);
    }
    return table;
  };
  const withColdDay = (coldDayShare: number): Clocks => {
    const clockAt = (shopId: string) => {
      const table = tableOf(shopId);
      const at = (day: number) => table[Math.max(0, Math.min(table.length - 1, day - firstDay))]!;
      return (started: number, ended: number): number => at(ended) - at(started) + coldDayShare * (ended - started);
    };
    const degreeDays = (shopId: string, started: number, ended: number): number => clockAt(shopId)(started, ended);
    return {
      coldDayShare,
      rules,
      withColdDay,
      tableOf,
      firstDay,
      clockAt,
      degreeDays,
      between: (shopId, started, ended) => {
        const from = dayNumber(started);
        const to = dayNumber(ended);
        return { days: to - from, degreeDays: Math.round(degreeDays(shopId, from, to) * 10) / 10 };
      },
    };
  };
  return withColdDay(COLD_DAY_SHARE);
}
