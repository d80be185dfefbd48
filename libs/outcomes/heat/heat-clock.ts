import { BadSample, sfc32 } from '#libs/numeric/index.js';
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
 * ln PL(c, v) = sum over returns of ln w_i - ln sum over j in R(t_i) w_j
 * w_j = u(d) sum over days k from the start of j to d of (r_k + c) exp(-sum over m from k to d - 1 of (v r_m + v0)), u(d) = 1 - exp(-v r_d - v0)
 *
 * r: degree-days of a calendar day; d: the day on which episode j is as old as the returning one was (age t_i in whole days); R(t_i): episodes
 * still running at that age. A partial likelihood: how the hazard changes with age drops out, only who returned among those of one age
 * counts, so that heat must differ between episodes of one age: start months or climates must be mixed.
 * v: how soon a fault that is there is noticed, per degree-day. Where nobody cools, nobody notices: a leak that went on by the calendar all
 * winter is brought in spring, and a clock that knows nothing of noticing takes it for a fault of heat. v infinite: noticed at once, w = r + c. A
 * finite v (of 0.03, 0.1, 0.3, 1) is used only where it fits better by more than chance (likelihood ratio, 1 - level); all comparisons are then
 * made over all v. v0 = 0.005 a day: noticed anyway, at a service. Faults are taken to be rare: one that waits to be noticed does not
 * thin out those that can still fail.
 * c small: heat alone wears. c large: calendar days do, heat is nothing to it.
 * Limits: profile likelihood, clipped to the range searched, 0.01 to 100 K (degree-days a day). c is never below 0.01.
 * verdict: heat - calendar days alone are refuted (likelihood ratio, 1 - level); calendar - heat with c at its least is refuted;
 * both - neither alone fits; cannot-tell - neither refuted, or under 10 returns: use c = 0.1 x the mean rate then (common practice).
 * O(returns x episodes x 5). Source: Oakes (1995), Lifetime Data Anal. 1:7, and Duchesne and Lawless (2000), Lifetime Data Anal. 6:157, for combined
 * scales; the partial likelihood with a linear relative rate is Prentice and Self (1983), Ann. Stat. 11:804 (from memory). Noticing is our own.
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
  /** How soon a fault is noticed, per degree-day; null: at once. */
  readonly noticedPerDegreeDay: number | null;
}

const LEAST_C = 0.01;
const MOST_C = 100;
const FEWEST_RETURNS = 10;
const NOTICED = [0.03, 0.1, 0.3, 1];
const NOTICED_ANYWAY = 0.005;

export interface HeatClockOptions {
  /** Of the intervals and the comparisons; 0.95 when left out. */
  readonly level?: number;
  /**
   * Each return is compared with so many drawn from those still running instead of all, and at most `returns` of them are taken: nested case-control
   * sampling, whose likelihood is a partial one too (Goldstein and Langholz 1992, Ann. Stat. 20:1903; from memory). Costs about 1/controls of
   * the information. The draw is fixed: the same episodes in the same order give the same fit.
   */
  readonly sample?: { readonly controls: number; readonly returns: number };
}

export function fitHeatClock(
  episodes: DatedEpisodes,
  tables: readonly Float64Array[],
  firstDay: number,
  { level = 0.95, sample }: HeatClockOptions = {},
): HeatClockFit {
  checkLevel(level);
  const sets = dated(episodes, tables, firstDay, sample ?? null);
  const drop = chiSquareQuantile(level, 1) / 2;
  const [atOnce, ...ofRates] = likelihoodsOf(sets, tables, sets.returns >= FEWEST_RETURNS) as [LogLikelihood, ...LogLikelihood[]];
  const best = highest(atOnce);
  const late = ofRates.map((f, i) => ({ v: NOTICED[i]!, f }));
  const latest = late.map(({ v, f }) => ({ v, at: highest(f), f })).sort((a, b) => b.f(b.at) - a.f(a.at))[0];
  const isLate = latest !== undefined && latest.f(latest.at) - atOnce(best) > drop;
  const of = isLate ? [atOnce, ...late.map(({ f }) => f)] : [atOnce];
  const logLikelihood = (logC: number) => of.reduce((most, f) => Math.max(most, f(logC)), Number.NEGATIVE_INFINITY);
  const top = isLate ? latest.at : best;
  const peak = logLikelihood(top);
  const below = (at: number) => peak - logLikelihood(at) > drop;
  // As c grows r is nothing to it: the calendar clock. Noticed at once, every ratio then tends to 1 and the sum to 0.
  const calendar = ratioTest(peak, isLate ? Math.max(0, logLikelihood(FAR)) : 0);
  const heatAlone = ratioTest(peak, logLikelihood(LOW));
  return Object.freeze({
    c: Math.exp(top),
    lower: Math.exp(crossing(below, top, LOW)),
    upper: Math.exp(crossing(below, top, HIGH)),
    returns: sets.returns,
    againstCalendar: calendar,
    againstHeatAlone: heatAlone,
    verdict: verdictOf(sets.returns, calendar.pValue < 1 - level, heatAlone.pValue < 1 - level),
    noticedPerDegreeDay: isLate ? latest.v : null,
  });
}

const [LOW, HIGH, FAR] = [Math.log(LEAST_C), Math.log(MOST_C), Math.log(1e6)];

function verdictOf(returns: number, calendarRefuted: boolean, heatAloneRefuted: boolean): HeatClockFit['verdict'] {
  if (returns < FEWEST_RETURNS || (!calendarRefuted && !heatAloneRefuted)) return 'cannot-tell';
  if (calendarRefuted && heatAloneRefuted) return 'both';
  return calendarRefuted ? 'heat' : 'calendar';
}

function ratioTest(peak: number, other: number) {
  const chiSquare = Math.max(0, 2 * (peak - other));
  return Object.freeze({ chiSquare, pValue: chiSquareUpper(chiSquare, 1) });
}

/** Who returned at each age, and with whom they are compared; days as places in the tables. */
interface Dated {
  readonly from: Int32Array;
  readonly climate: Int32Array;
  readonly sets: readonly { readonly age: number; readonly who: readonly number[]; readonly among: Int32Array }[];
  readonly returns: number;
}

function dated(
  { start, days, returned, climate }: DatedEpisodes,
  tables: readonly Float64Array[],
  firstDay: number,
  sample: HeatClockOptions['sample'] | null,
): Dated {
  const n = start.length;
  if (days.length !== n || returned.length !== n || climate.length !== n) throw new BadSample('columns of episodes differ in length');
  const back: number[] = [];
  const from = new Int32Array(n);
  for (let i = 0; i < n; i++) {
    if (!(Number.isInteger(days[i]!) && days[i]! >= 0)) throw new BadSample(`episode ${i}: ${days[i]} days`);
    from[i] = start[i]! - firstDay;
    if (returned[i] === 1) back.push(i);
  }
  const oldest = back.reduce((most, i) => Math.max(most, days[i]!), -1);
  for (let i = 0; i < n; i++) {
    const last = Math.min(days[i]!, oldest);
    const table = tables[climate[i]!];
    if (oldest >= 0 && !(table !== undefined && from[i]! >= 0 && table[from[i]! + last + 1]! >= table[from[i]! + last]!)) {
      throw new BadSample(`episode ${i}: no degree-days on day ${start[i]! + last}`);
    }
  }
  const sets = sample ? drawnSets(days, back, sample) : wholeSets(days, back);
  return { from, climate: Int32Array.from(climate), sets, returns: sets.reduce((sum, { who }) => sum + who.length, 0) };
}

function wholeSets(days: ArrayLike<number>, back: readonly number[]): Dated['sets'] {
  const ages = new Map<number, number[]>();
  for (const i of back) {
    const list = ages.get(days[i]!);
    if (list) list.push(i);
    else ages.set(days[i]!, [i]);
  }
  const all = Int32Array.from({ length: days.length }, (_, i) => i);
  return [...ages].map(([age, who]) => ({ age, who, among: all.filter((j) => days[j]! >= age) }));
}

function drawnSets(days: ArrayLike<number>, back: readonly number[], sample: { controls: number; returns: number }): Dated['sets'] {
  const random = sfc32(1);
  const longest = longestFirst(days);
  // How many are watched at least so long: those stand first.
  const watched = (age: number) => {
    let [low, high] = [0, longest.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (days[longest[middle]!]! >= age) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  const chosen = [...back];
  for (let k = 0; k < Math.min(sample.returns, chosen.length); k++) {
    const other = k + Math.floor(random.uniform() * (chosen.length - k));
    [chosen[k], chosen[other]] = [chosen[other]!, chosen[k]!];
  }
  return chosen.slice(0, sample.returns).map((i) => {
    const age = days[i]!;
    const running = watched(age);
    if (running <= sample.controls + 1) return { age, who: [i], among: longest.slice(0, running) };
    const among = Int32Array.from({ length: sample.controls + 1 }, () => longest[Math.floor(random.uniform() * running)]!);
    among[0] = i;
    return { age, who: [i], among };
  });
}

/** Places of the episodes, the longest watched first, those of equal length in their order: counted, since twenty thousand are sorted in every question. */
function longestFirst(days: ArrayLike<number>): Int32Array {
  let most = 0;
  for (let i = 0; i < days.length; i++) most = Math.max(most, days[i]!);
  const next = new Int32Array(most + 2);
  for (let i = 0; i < days.length; i++) next[most - days[i]! + 1]! += 1;
  for (let d = 1; d < next.length; d++) next[d]! += next[d - 1]!;
  const order = new Int32Array(days.length);
  for (let i = 0; i < days.length; i++) order[next[most - days[i]!]!++] = i;
  return order;
}

type LogLikelihood = (logC: number) => number;

/**
 * ln PL as a function of ln c: noticed at once, and as soon as each of `NOTICED` says. w = heat + c calendar, so that both parts are summed over each risk set
 * once; what all have in common is looked up once for all of them, since it is asked for by the hundred thousand.
 */
function likelihoodsOf({ from, climate, sets, returns }: Dated, tables: readonly Float64Array[], isLate: boolean): LogLikelihood[] {
  const waiting = isLate ? waitingTables(from, climate, sets, tables) : [];
  const rates = isLate ? NOTICED.length : 0;
  // Four numbers a return: its own heat and calendar, and the means of those still running.
  const terms = Array.from({ length: rates + 1 }, () => new Float64Array(4 * returns));
  const weight = new Float64Array(2 * (rates + 1));
  const weigh = (j: number, age: number): void => {
    const place = climate[j]!;
    const table = tables[place]!;
    const begun = from[j]!;
    const at = begun + age;
    weight[0] = table[at + 1]! - table[at]!;
    weight[1] = 1;
    if (rates === 0) return;
    const { first, of } = waiting[place]!;
    const ran = table[at]! - table[begun]!;
    const own = table[begun + 1]! - table[begun]!;
    for (let v = 0; v < rates; v++) {
      const { heat, calendar, share } = of[v]!;
      const waited = NOTICED[v]! * ran + NOTICED_ANYWAY * age;
      const kept = waited > FORGOTTEN ? 0 : Math.exp(-waited);
      weight[2 * v + 2] = share[at - first]! * (heat[at - first]! - kept * (heat[begun - first]! - own));
      weight[2 * v + 3] = share[at - first]! * (calendar[at - first]! - kept * (calendar[begun - first]! - 1));
    }
  };
  const sums = new Float64Array(weight.length);
  let k = 0;
  for (const { age, who, among } of sets) {
    sums.fill(0);
    for (const j of among) {
      weigh(j, age);
      for (let w = 0; w < weight.length; w++) sums[w]! += weight[w]!;
    }
    for (const i of who) {
      weigh(i, age);
      for (const [v, into] of terms.entries()) {
        into[k] = weight[2 * v]!;
        into[k + 1] = weight[2 * v + 1]!;
        into[k + 2] = sums[2 * v]! / among.length;
        into[k + 3] = sums[2 * v + 1]! / among.length;
      }
      k += 4;
    }
  }
  return terms.map(logLikelihoodOf);
}

function logLikelihoodOf(terms: Float64Array): LogLikelihood {
  return (logC) => {
    const c = Math.exp(logC);
    // A product a few at a time: the logarithm is what costs.
    let sum = 0;
    let product = 1;
    for (let i = 0; i < terms.length; i += 4) {
      product *= (terms[i]! + c * terms[i + 1]!) / (terms[i + 2]! + c * terms[i + 3]!);
      if (product < 1e-100 || product > 1e100) {
        sum += Math.log(product);
        product = 1;
      }
    }
    return sum + Math.log(product);
  };
}

/** Beyond this many mean times of noticing nothing of the time before waits any more. */
const FORGOTTEN = 30;
/** Degree-days a day that differ by less are those of one month. */
const SAME_DAY = 1e-9;

/** What waits to be noticed by day from `first` on, for each of `NOTICED`, and the share of it that is noticed on the day. */
interface Waiting {
  readonly first: number;
  readonly days: number;
  readonly of: readonly { readonly heat: Float64Array; readonly calendar: Float64Array; readonly share: Float64Array }[];
}

/**
 * Kept as long as their table of degree-days is. They begin at a day that hangs on no question's episodes, so that the same question gives the same answer to the
 * last digit, whatever was asked before.
 */
const WAITING = new WeakMap<Float64Array, Map<number, Waiting>>();
const BEGINS_DAYS = 2_048;
const ENDS_DAYS = 512;

/** Tables of the climates that are asked about, from the first day on which an episode begins to the last that is looked at. */
function waitingTables(from: Int32Array, climate: Int32Array, sets: Dated['sets'], tables: readonly Float64Array[]): (Waiting | null)[] {
  const first = new Int32Array(tables.length).fill(0x7fffffff);
  const last = new Int32Array(tables.length).fill(-1);
  const look = (j: number, age: number): void => {
    const place = climate[j]!;
    if (from[j]! < first[place]!) first[place] = from[j]!;
    if (from[j]! + age > last[place]!) last[place] = from[j]! + age;
  };
  for (const { age, who, among } of sets) {
    for (const j of among) look(j, age);
    for (const i of who) look(i, age);
  }
  return tables.map((table, place) => (last[place]! < 0 ? null : waitingTable(table, first[place]!, last[place]!)));
}

function waitingTable(table: Float64Array, earliest: number, last: number): Waiting {
  const first = earliest - (earliest % BEGINS_DAYS);
  const kept = WAITING.get(table) ?? new Map<number, Waiting>();
  const known = kept.get(first);
  if (known && first + known.days > last) return known;
  const days = Math.min(table.length - 1 - first, Math.ceil((last + 1 - first) / ENDS_DAYS) * ENDS_DAYS);
  const made = { first, days, of: NOTICED.map((noticed) => waitingDays(table, noticed, first, days)) };
  kept.set(first, made);
  WAITING.set(table, kept);
  return made;
}

/**
 * By the recursion W_d = own_d + W_(d-1) exp(-v r_(d-1) - v0) over the days; what began before an episode did is taken off again where it is read.
 */
function waitingDays(table: Float64Array, noticed: number, first: number, days: number): Waiting['of'][number] {
  const heat = new Float64Array(days);
  const calendar = new Float64Array(days);
  const share = new Float64Array(days);
  let before = Number.NaN;
  for (let k = 0; k < days; k++) {
    const own = table[first + k + 1]! - table[first + k]!;
    const kept = k === 0 ? 0 : 1 - share[k - 1]!;
    // Days of a month have the same expectation but for the rounding of its sum.
    share[k] = Math.abs(own - before) < SAME_DAY ? share[k - 1]! : -Math.expm1(-noticed * own - NOTICED_ANYWAY);
    before = own;
    heat[k] = own + (k === 0 ? 0 : kept * heat[k - 1]!);
    calendar[k] = 1 + (k === 0 ? 0 : kept * calendar[k - 1]!);
  }
  return { heat, calendar, share };
}

/** Highest point of a function on a range: a grid first, since nothing says there is one hill only, then golden sections. */
function highest(f: (x: number) => number): number {
  const [low, high] = [LOW, HIGH];
  const points = 60;
  const step = (high - low) / points;
  let best = 0;
  for (let i = 1; i <= points; i++) if (f(low + i * step) > f(low + best * step)) best = i;
  let a = Math.max(low, low + (best - 1) * step);
  let b = Math.min(high, low + (best + 1) * step);
  const golden = (Math.sqrt(5) - 1) / 2;
  for (let i = 0; i < 60 && b - a > 1e-8; i++) {
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
