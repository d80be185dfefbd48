import { BadSample } from '#libs/numeric/index.js';
import { columnsOf, type Sample } from './sample.js';

/**
 * Risk sets: at every distinct time, how many were at risk just before it and how many ended in each way.
 *
 * Y(t) = #{i: time_i >= t},  d_k(t) = #{i: time_i = t, end_i = k}
 *
 * Shapes: one entry per distinct time, ascending; events[k - 1] is the column of end k. Sums only, so that the risk sets of
 * two disjoint samples on the same times add up, and a tally kept in tables can stand in for the episodes.
 * Ties: an ending at t comes before a censoring at t, so those censored at t are at risk at t.
 * Empty sample: columns of length 0. Source: Klein and Moeschberger (2003), Survival Analysis, section 4.2.
 */
export interface RiskSets {
  readonly n: number;
  readonly times: Float64Array;
  readonly atRisk: Float64Array;
  readonly events: readonly Float64Array[];
  readonly censored: Float64Array;
}

/** `ends` fixes the number of competing ends; by default the largest seen (at least 1). */
export function riskSets(sample: Sample, ends = 1): RiskSets {
  const { time, end } = columnsOf(sample);
  let most = ends;
  for (let i = 0; i < end.length; i++) if (end[i]! > most) most = end[i]!;
  // Each end's times are sorted alone and then merged: nothing is looked up, and no sort compares by a function.
  const counts = new Int32Array(most + 1);
  for (let i = 0; i < end.length; i++) counts[end[i]!]! += 1;
  const sorted = Array.from(counts, (count) => new Float64Array(count));
  counts.fill(0);
  for (let i = 0; i < time.length; i++) sorted[end[i]!]![counts[end[i]!]!++] = time[i]!;
  for (const column of sorted) column.sort();
  const times = new Float64Array(time.length);
  const atRisk = new Float64Array(time.length);
  // Ends that nobody met share one column of zeros: eight of fifty thousand numbers are more to fetch than to count.
  const zeros = new Float64Array(time.length);
  const columns = sorted.map(({ length }) => (length > 0 ? new Float64Array(time.length) : zeros));
  const place = counts.fill(0);
  const seen = [...sorted.keys()].filter((k) => sorted[k]!.length > 0);
  let size = 0;
  for (let running = time.length; running > 0; size++) {
    let next = Number.POSITIVE_INFINITY;
    for (const k of seen) if (place[k]! < sorted[k]!.length && sorted[k]![place[k]!]! < next) next = sorted[k]![place[k]!]!;
    times[size] = next;
    atRisk[size] = running;
    for (const k of seen) {
      const own = sorted[k]!;
      const from = place[k]!;
      let at = from;
      while (at < own.length && own[at] === next) at++;
      columns[k]![size] = at - from;
      place[k] = at;
      running -= at - from;
    }
  }
  const [censored, ...events] = columns.map((column) => column.subarray(0, size));
  return Object.freeze({
    n: time.length,
    times: times.subarray(0, size),
    atRisk: atRisk.subarray(0, size),
    events: Object.freeze(events),
    censored: censored!,
  });
}

/**
 * Risk sets of the same episodes with their ends numbered anew: `ends[k]` is the new number of end k (0: censored), null leaves those episodes out. Times at which
 * nobody is left stay, with zeros.
 */
export function regrouped(sets: RiskSets, ends: readonly (number | null)[]): RiskSets {
  const most = Math.max(1, ...ends.map((end) => end ?? 0));
  const length = sets.times.length;
  const columns = Array.from({ length: most + 1 }, () => new Float64Array(length));
  const kept = [sets.censored, ...sets.events];
  if (kept.length > ends.length) throw new BadSample(`${kept.length - 1} ends, ${ends.length - 1} numbers for them`);
  for (const [k, column] of kept.entries()) {
    const into = ends[k] === null ? null : columns[ends[k]!]!;
    if (into) for (let j = 0; j < length; j++) into[j]! += column[j]!;
  }
  const atRisk = new Float64Array(length);
  let running = 0;
  for (let j = length - 1; j >= 0; j--) {
    for (const column of columns) running += column[j]!;
    atRisk[j] = running;
  }
  const [censored, ...events] = columns;
  return Object.freeze({ n: running, times: sets.times, atRisk, events: Object.freeze(events), censored: censored! });
}

/** Number still watched just before a clock reading, from risk sets already counted. */
export function atRiskAt({ times, atRisk }: RiskSets, t: number): number {
  const next = firstAtLeast(times, t);
  return next < times.length ? atRisk[next]! : 0;
}

/** Number still watched just before each clock reading: #{i: time_i >= t}. */
export function numbersAtRisk(sample: Sample, at: readonly number[]): readonly number[] {
  const sorted = Float64Array.from(columnsOf(sample).time).sort();
  return Object.freeze(at.map((t) => sorted.length - firstAtLeast(sorted, t)));
}

/** Index of the last step at or before t, or -1: how a right-continuous step function is read. */
export function stepAt(times: ArrayLike<number>, t: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle]! <= t) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

function firstAtLeast(ascending: Float64Array, value: number): number {
  let low = 0;
  let high = ascending.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
