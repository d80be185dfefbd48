import { BadSample } from '#libs/numeric/index.js';
import { chiSquareUpper } from '../special/normal.js';
import { chiSquareQuantile } from '../special/quantile.js';
import { checkLevel } from '../survival/sample.js';

/**
 * The heat clock: degree-days plus c times calendar days, c > 0, so that it never stops in winter or in a cool climate.
 *
 * tau(a, b) = table[b] - table[a] + c (b - a)
 *
 * table: cumulative degree-days by day (`degreeDayTable`); from, to: day numbers as the table's first; result in K d.
 * Days outside the table throw BadSample.
 */
export function heatTime(table: Float64Array, firstDay: number, c: number, from: number, to: number): number {
  const [a, b] = [table[from - firstDay], table[to - firstDay]];
  if (a === undefined || b === undefined)
    throw new BadSample(`days ${from} to ${to} leave the table of ${firstDay} to ${firstDay + table.length - 1}`);
  return b - a + c * (to - from);
}

/**
 * Which clock runs: c fitted from when episodes ended, given that they ran.
 *
 * ln PL(c) = sum over returns of ln(r_i + c) - ln sum over j in R(t_i) (r_j + c)
 *
 * r_j: degree-days of the calendar day on which episode j is as old as the returning one was (age t_i in whole days); R(t_i): episodes still
 * running at that age. A partial likelihood: how the hazard changes with age drops out, only who returned among those of one age counts,
 * so that heat must differ between episodes of one age: start months or climates must be mixed.
 * c small: heat alone wears. c large: calendar days do, heat is nothing to it.
 * Limits: profile likelihood, clipped to the range searched, 0.01 to 100 K (degree-days a day). c is never below 0.01.
 * verdict: heat - calendar days alone are refuted (likelihood ratio, 1 - level); calendar - heat with c at its least is refuted;
 * both - neither alone fits; cannot-tell - neither refuted, or under 10 returns: use c = 0.1 x the mean rate then (common practice).
 * O(returns x episodes). Source: Oakes (1995), Lifetime Data Anal. 1:7, and Duchesne and Lawless (2000), Lifetime Data Anal. 6:157, for combined
 * scales; the partial likelihood with a linear relative rate is Prentice and Self (1983), Ann. Stat. 11:804 (from memory).
 */
export interface DatedEpisodes {
  /** Day number on which each episode began. */
  readonly start: ArrayLike<number>;
  /** Whole days it was watched. */
  readonly days: ArrayLike<number>;
  /** 1 when it ended in a return on that day, else 0. */
  readonly returned: ArrayLike<number>;
  /** Index of its climate's table. */
  readonly climate: ArrayLike<number>;
}

export interface HeatClockFit {
  readonly c: number;
  readonly lower: number;
  readonly upper: number;
  readonly returns: number;
  /** Likelihood-ratio chi-square, 1 degree of freedom, and its p. */
  readonly againstCalendar: { readonly chiSquare: number; readonly pValue: number };
  readonly againstHeatAlone: { readonly chiSquare: number; readonly pValue: number };
  readonly verdict: 'heat' | 'calendar' | 'both' | 'cannot-tell';
}

const LEAST_C = 0.01;
const MOST_C = 100;
const FEWEST_RETURNS = 10;

export function fitHeatClock(episodes: DatedEpisodes, tables: readonly Float64Array[], firstDay: number, level = 0.95): HeatClockFit {
  checkLevel(level);
  const terms = likelihoodTerms(episodes, tables, firstDay);
  const logLikelihood = (logC: number) => {
    const c = Math.exp(logC);
    let sum = 0;
    for (const { own, mean } of terms) sum += Math.log((own + c) / (mean + c));
    return sum;
  };
  const [low, high] = [Math.log(LEAST_C), Math.log(MOST_C)];
  const best = highest(logLikelihood, low, high);
  const peak = logLikelihood(best);
  const drop = chiSquareQuantile(level, 1) / 2;
  const below = (at: number) => peak - logLikelihood(at) > drop;
  // As c grows every ratio tends to 1 and the sum to 0: the calendar clock.
  const calendar = ratioTest(peak, 0);
  const heatAlone = ratioTest(peak, logLikelihood(low));
  return Object.freeze({
    c: Math.exp(best),
    lower: Math.exp(crossing(below, best, low)),
    upper: Math.exp(crossing(below, best, high)),
    returns: terms.length,
    againstCalendar: calendar,
    againstHeatAlone: heatAlone,
    verdict: verdictOf(terms.length, calendar.pValue < 1 - level, heatAlone.pValue < 1 - level),
  });
}

function verdictOf(returns: number, calendarRefuted: boolean, heatAloneRefuted: boolean): HeatClockFit['verdict'] {
  if (returns < FEWEST_RETURNS || (!calendarRefuted && !heatAloneRefuted)) return 'cannot-tell';
  if (calendarRefuted && heatAloneRefuted) return 'both';
  return calendarRefuted ? 'heat' : 'calendar';
}

function ratioTest(peak: number, other: number) {
  const chiSquare = Math.max(0, 2 * (peak - other));
  return Object.freeze({ chiSquare, pValue: chiSquareUpper(chiSquare, 1) });
}

interface Term {
  /** Degree-days of the day of the return. */
  readonly own: number;
  /** Mean over the risk set of the degree-days of the day at that age. */
  readonly mean: number;
}

function likelihoodTerms(
  { start, days, returned, climate }: DatedEpisodes,
  tables: readonly Float64Array[],
  firstDay: number,
): readonly Term[] {
  const n = start.length;
  if (days.length !== n || returned.length !== n || climate.length !== n) throw new BadSample('columns of episodes differ in length');
  const rate = (i: number, age: number): number => {
    const table = tables[climate[i]!];
    const at = start[i]! + age - firstDay;
    const value = table === undefined ? Number.NaN : table[at + 1]! - table[at]!;
    if (!(value >= 0)) throw new BadSample(`episode ${i}: no degree-days on day ${start[i]! + age}`);
    return value;
  };
  const ages = new Map<number, number[]>();
  for (let i = 0; i < n; i++) {
    if (!(Number.isInteger(days[i]!) && days[i]! >= 0)) throw new BadSample(`episode ${i}: ${days[i]} days`);
    if (returned[i] === 1) {
      const list = ages.get(days[i]!);
      if (list) list.push(i);
      else ages.set(days[i]!, [i]);
    }
  }
  const terms: Term[] = [];
  for (const [age, who] of ages) {
    let sum = 0;
    let y = 0;
    for (let j = 0; j < n; j++) {
      if (days[j]! < age) continue;
      sum += rate(j, age);
      y++;
    }
    for (const i of who) terms.push({ own: rate(i, age), mean: sum / y });
  }
  return terms;
}

/** Highest point of a function on a range: a grid first, since nothing says there is one hill only, then golden sections. */
function highest(f: (x: number) => number, low: number, high: number): number {
  const points = 60;
  const step = (high - low) / points;
  let best = 0;
  for (let i = 1; i <= points; i++) if (f(low + i * step) > f(low + best * step)) best = i;
  let a = Math.max(low, low + (best - 1) * step);
  let b = Math.min(high, low + (best + 1) * step);
  const golden = (Math.sqrt(5) - 1) / 2;
  for (let i = 0; i < 60 && b - a > 1e-9; i++) {
    const left = b - golden * (b - a);
    const right = a + golden * (b - a);
    if (f(left) >= f(right)) b = right;
    else a = left;
  }
  return (a + b) / 2;
}

/** Farthest point from `inside` towards `end` at which the condition still fails, to 1e-9; `end` when it never holds there. */
function crossing(outside: (x: number) => boolean, inside: number, end: number): number {
  if (!outside(end)) return end;
  let near = inside;
  let far = end;
  for (let i = 0; i < 60; i++) {
    const middle = (near + far) / 2;
    if (outside(middle)) far = middle;
    else near = middle;
  }
  return (near + far) / 2;
}
