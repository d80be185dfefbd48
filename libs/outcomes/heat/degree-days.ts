import { BadSample, OutOfRange } from '#libs/numeric/index.js';
import { normalLower } from '../special/normal.js';

/**
 * Expected cooling degree-days of one day, from the normals of its month.
 *
 * E max(0, T - b) = s phi(z) + (m - b) Phi(z), z = (m - b)/s, for a daily mean temperature T normal with mean m and standard deviation s
 *
 * meanC m in degC; sdC s >= 0 in K, of DAILY means within the month; baseC b in degC. Result in K d (degree-days).
 * sdC = 0 gives max(0, m - b): a monthly mean alone loses the shoulder months, in which only the warmer days count.
 * Accuracy: exact for normal daily means; the base of 18 degC is common practice for cooling degree-days.
 * Source: Thom (1954), Monthly Weather Review 82:1 (from memory).
 */
export interface MonthNormal {
  readonly meanC: number;
  readonly sdC: number;
}

export const COOLING_BASE_C = 18;

export function coolingDegreeDays({ meanC, sdC }: MonthNormal, baseC = COOLING_BASE_C): number {
  if (!Number.isFinite(meanC) || !Number.isFinite(baseC)) throw new BadSample(`mean ${meanC} and base ${baseC} must be finite`);
  if (!(sdC >= 0 && sdC < 50)) throw new OutOfRange('standard deviation of daily means', sdC, 0, 50, 'K');
  const above = meanC - baseC;
  if (sdC === 0) return Math.max(0, above);
  const z = above / sdC;
  return Math.max(0, (sdC * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI) + above * normalLower(z));
}

const DAY_MS = 86_400_000;
/** Three hundred years: a table is one number a day. */
const LONGEST_DAYS = 110_000;

/**
 * Cumulative expected degree-days, so that those between two days are one subtraction:
 *
 * table[b - firstDay] - table[a - firstDay] = degree-days of the days a, a + 1, .., b - 1
 *
 * normals: 12 months, January first. firstDay, lastDay: days since 1970-01-01, whole numbers. Length lastDay - firstDay + 1; table[0] = 0.
 * Every day of a month counts alike; a year of 12 given months sums to the sum of days times their expectation.
 */
export function degreeDayTable(
  normals: readonly MonthNormal[],
  firstDay: number,
  lastDay: number,
  baseC: number = COOLING_BASE_C,
): Float64Array {
  if (normals.length !== 12) throw new BadSample(`${normals.length} monthly normals, not 12`);
  return cumulate(
    normals.map((month) => coolingDegreeDays(month, baseC)),
    firstDay,
    lastDay,
  );
}

/**
 * A table with observed days put in place of expected ones: max(0, T - b) for a daily mean temperature T.
 *
 * observed: spans of daily means from their first day on, degC; null or NaN where none is known, which keeps the expectation. Days outside the
 * table are ignored. An expectation counts the warm days of a cool month; an observed day is what it was.
 */
export function observedDegreeDays(
  table: Float64Array,
  firstDay: number,
  observed: readonly { readonly first: number; readonly meansC: ArrayLike<number | null> }[],
  baseC: number = COOLING_BASE_C,
): Float64Array {
  const days = Float64Array.from({ length: table.length - 1 }, (_, i) => table[i + 1]! - table[i]!);
  for (const { first, meansC } of observed) {
    for (let i = 0; i < meansC.length; i++) {
      const at = first + i - firstDay;
      const mean = meansC[i];
      if (at >= 0 && at < days.length && mean !== null && Number.isFinite(mean)) days[at] = Math.max(0, mean! - baseC);
    }
  }
  const out = new Float64Array(table.length);
  for (let i = 0; i < days.length; i++) out[i + 1] = out[i]! + days[i]!;
  return out;
}

/** The same from degree-days already known by month (K d per month, January first); February's share of a day uses 28.25 days. */
export function degreeDayTableFromMonths(monthly: readonly number[], firstDay: number, lastDay: number): Float64Array {
  if (monthly.length !== 12) throw new BadSample(`${monthly.length} monthly degree-days, not 12`);
  const perDay = monthly.map((sum, month) => {
    if (!(sum >= 0 && sum < Number.POSITIVE_INFINITY)) throw new BadSample(`degree-days ${sum} of month ${month + 1} are not >= 0`);
    return sum / MONTH_DAYS[month]!;
  });
  return cumulate(perDay, firstDay, lastDay);
}

const MONTH_DAYS = [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

function cumulate(perDay: readonly number[], firstDay: number, lastDay: number): Float64Array {
  if (!Number.isInteger(firstDay) || !Number.isInteger(lastDay))
    throw new BadSample(`days ${firstDay} to ${lastDay} are not whole numbers`);
  const length = lastDay - firstDay + 1;
  if (!(length >= 1 && length <= LONGEST_DAYS)) throw new OutOfRange('length of the table', length, 1, LONGEST_DAYS, 'd');
  const table = new Float64Array(length);
  for (let i = 1; i < length; ) {
    // A month at a time: a calendar date for each day of thirty years costs more than all the rest of a question.
    const date = new Date((firstDay + i - 1) * DAY_MS);
    const month = date.getUTCMonth();
    const next = Date.UTC(date.getUTCFullYear(), month + 1, 1) / DAY_MS;
    for (; i < length && firstDay + i - 1 < next; i++) table[i] = table[i - 1]! + perDay[month]!;
  }
  return table;
}
