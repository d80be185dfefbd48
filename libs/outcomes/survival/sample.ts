import { BadSample } from '#libs/numeric/index.js';

/**
 * Followed episodes as two columns of equal length: how long each was watched on a clock, and how that ended.
 *
 * time: clock reading at the end, in the clock's unit (days, degree-days, kilometres), finite and >= 0.
 * end: 0 when still running when last seen (censored), else the number 1.. of the way it ended.
 */
export interface Sample {
  readonly time: Float64Array;
  readonly end: Uint8Array | Int32Array;
}

/** Throws BadSample when the columns differ in length, a time is negative or not finite, or an end is negative. */
export function checkSample({ time, end }: Sample): void {
  if (time.length !== end.length) throw new BadSample(`${time.length} times but ${end.length} ends`);
  for (let i = 0; i < time.length; i++) {
    if (!(time[i]! >= 0 && time[i]! < Number.POSITIVE_INFINITY)) throw new BadSample(`time ${i} is ${time[i]}, not a finite number >= 0`);
    if (end[i]! < 0) throw new BadSample(`end ${i} is ${end[i]}, not >= 0`);
  }
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
export function causeOnly({ time, end }: Sample, causes: number | readonly number[]): Sample {
  const wanted = new Set(typeof causes === 'number' ? [causes] : causes);
  const only = new Uint8Array(end.length);
  for (let i = 0; i < end.length; i++) only[i] = end[i] !== 0 && wanted.has(end[i]!) ? 1 : 0;
  return Object.freeze({ time, end: only });
}
