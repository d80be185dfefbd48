import { BadSample } from '#libs/numeric/index.js';

/**
 * Negative-binomial CUSUM of weekly counts against their expectation.
 *
 * C_t = max(0, C_{t-1} + W_t), alarm when C_t >= h, then C restarts at 0
 * W_t = y ln R - (y + s) ln((s + R m)/(s + m)), the log likelihood ratio of mean R m against m; s = infinity: y ln R - (R - 1) m (Poisson)
 * m = expected count x share of that week's reports that have arrived
 *
 * y weekly count; m expected count, from the exposure (degree-days x open episodes x base rate), so that a hot week is no alarm;
 * s size, variance m + m^2/s; R > 1 the ratio to be caught soon; h from `cusumThreshold`, for a stated false-alarm rate.
 * Overdispersion matters: at m = 2, s = 2 a Poisson CUSUM set to 238 weeks between false alarms gives one every 41.
 * A week of which less than `leastArrived` has been reported (default 0.5) is left out, state unchanged: its step is null.
 * Sources: Page (1954), Biometrika 41:100; Hohle and Paul (2008), Comput. Stat. Data Anal. 52:4357.
 */
export interface CusumDesign {
  /** Ratio of rates the chart is tuned for, > 1. */
  readonly ratio: number;
  /** Negative-binomial size; Infinity for Poisson counts. */
  readonly size: number;
  readonly threshold: number;
  readonly leastArrived?: number;
}

export interface CusumWeek {
  readonly count: number;
  readonly expected: number;
  /** Share of the week's reports that have arrived, 0..1; 1 when left out. */
  readonly arrived?: number;
  /** Negative-binomial size of this week's count, where it is not that of the design. */
  readonly size?: number;
}

export interface CusumStep {
  readonly statistic: number;
  readonly alarm: boolean;
  /** Index of the first week of the present rise: where the change most likely began. null while the statistic is 0. */
  readonly since: number | null;
}

// A sum of logarithms may miss by its last bits a threshold it reaches exactly.
const ROUNDING = 1e-12;

export function countCusum(weeks: readonly CusumWeek[], design: CusumDesign): readonly (CusumStep | null)[] {
  checkDesign(design);
  const { ratio, threshold, leastArrived = 0.5 } = design;
  let statistic = 0;
  let since: number | null = null;
  return Object.freeze(
    weeks.map(({ count, expected, arrived = 1, size = design.size }, week) => {
      if (!(Number.isInteger(count) && count >= 0)) throw new BadSample(`week ${week}: count ${count} is not a whole number >= 0`);
      if (!(expected >= 0 && Number.isFinite(expected))) throw new BadSample(`week ${week}: expected ${expected} is not a number >= 0`);
      if (!(size > 0)) throw new BadSample(`week ${week}: size ${size} is not > 0`);
      if (!(arrived >= 0 && arrived <= 1)) throw new BadSample(`week ${week}: arrived ${arrived} is not in 0..1`);
      if (arrived < leastArrived) return null;
      const next = statistic + cusumScore(count, expected * arrived, ratio, size);
      if (statistic === 0) since = week;
      statistic = Math.max(0, next);
      if (statistic === 0) since = null;
      const step = Object.freeze({ statistic, alarm: statistic >= threshold * (1 - ROUNDING), since });
      if (step.alarm) {
        statistic = 0;
        since = null;
      }
      return step;
    }),
  );
}

/** W of one week. An expectation of 0 says nothing when nothing came, and the most when something did: infinite. */
export function cusumScore(count: number, mean: number, ratio: number, size: number): number {
  if (mean === 0) return count === 0 ? 0 : Number.POSITIVE_INFINITY;
  if (size === Number.POSITIVE_INFINITY) return count * Math.log(ratio) - (ratio - 1) * mean;
  return count * Math.log(ratio) - (count + size) * Math.log1p(((ratio - 1) * mean) / (size + mean));
}

function checkDesign({ ratio, size, threshold }: CusumDesign): void {
  if (!(ratio > 1 && ratio < Number.POSITIVE_INFINITY)) throw new BadSample(`ratio ${ratio} is not > 1`);
  if (!(size > 0)) throw new BadSample(`size ${size} is not > 0`);
  if (!(threshold > 0)) throw new BadSample(`threshold ${threshold} is not > 0`);
}

/** The reference value k for which C + y - k is the same Poisson chart: k = m (R - 1)/ln R. */
export function poissonReference(mean: number, ratio: number): number {
  return (mean * (ratio - 1)) / Math.log(ratio);
}
