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
  const times = distinct(time);
  const events = Array.from({ length: most }, () => new Float64Array(times.length));
  const censored = new Float64Array(times.length);
  for (let i = 0; i < time.length; i++) {
    const column = end[i] === 0 ? censored : events[end[i]! - 1]!;
    column[firstAtLeast(times, time[i]!)]! += 1;
  }
  const atRisk = new Float64Array(times.length);
  let running = time.length;
  for (let j = 0; j < times.length; j++) {
    atRisk[j] = running;
    running -= censored[j]!;
    for (const column of events) running -= column[j]!;
  }
  return Object.freeze({ n: time.length, times, atRisk, events: Object.freeze(events), censored });
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

function distinct(time: Float64Array): Float64Array {
  const sorted = Float64Array.from(time).sort();
  let size = 0;
  for (let i = 0; i < sorted.length; i++) if (i === 0 || sorted[i] !== sorted[size - 1]) sorted[size++] = sorted[i]!;
  return sorted.slice(0, size);
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
