import { BadSample } from '#libs/numeric/index.js';

/**
 * One followed episode: how long it was watched on a clock, and how that ended.
 *
 * time: clock reading at the end, in the clock's unit (days, degree-days, metres), finite and >= 0.
 * end: 0 when still running when last seen (censored), else the number 1, 2, .. of the way it ended.
 */
export interface Spell {
  readonly time: number;
  readonly end: number;
}

/** The same as two columns of equal length, for large samples. */
export interface Columns {
  readonly time: Float64Array;
  readonly end: Uint8Array | Int32Array;
}

/** What every estimator of followed episodes takes. */
export type Sample = Columns | readonly Spell[];

/** Columns of a sample, checked: BadSample when lengths differ, a time is negative or not finite, or an end is no whole number >= 0. */
export function columnsOf(sample: Sample): Columns {
  const columns = 'time' in sample ? sample : { time: Float64Array.from(sample, (s) => s.time), end: wholeEnds(sample) };
  const { time, end } = columns;
  if (time.length !== end.length) throw new BadSample(`${time.length} times but ${end.length} ends`);
  for (let i = 0; i < time.length; i++) {
    if (!(time[i]! >= 0 && time[i]! < Number.POSITIVE_INFINITY)) throw new BadSample(`time ${i} is ${time[i]}, not a finite number >= 0`);
    if (end[i]! < 0) throw new BadSample(`end ${i} is ${end[i]}, not >= 0`);
  }
  return columns;
}

function wholeEnds(spells: readonly Spell[]): Int32Array {
  return Int32Array.from(spells, ({ end }, i) => {
    if (!(Number.isInteger(end) && end >= 0)) throw new BadSample(`end ${i} is ${end}, not a whole number >= 0`);
    return end;
  });
}

/** Throws BadSample unless 0 < level < 1. */
export function checkLevel(level: number): void {
  if (!(level > 0 && level < 1)) throw new BadSample(`confidence level ${level} is not between 0 and 1`);
}

/**
 * The same episodes with the given ends as the one event (1) and every other end counted as censored.
 *
 * Right for the cause-specific hazard and its log-rank test. Wrong for a probability: use `aalenJohansen`, where other ends compete.
 */
export function causeOnly(sample: Sample, causes: number | readonly number[]): Columns {
  const { time, end } = columnsOf(sample);
  const wanted = new Set(typeof causes === 'number' ? [causes] : causes);
  const only = new Uint8Array(end.length);
  for (let i = 0; i < end.length; i++) only[i] = end[i] !== 0 && wanted.has(end[i]!) ? 1 : 0;
  return Object.freeze({ time, end: only });
}
