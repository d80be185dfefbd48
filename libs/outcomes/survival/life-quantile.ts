import { BadSample } from '#libs/numeric/index.js';
import type { SurvivalCurve } from './kaplan-meier.js';

/**
 * Median (or another quantile) of the holding time with its interval.
 *
 * estimate = smallest t with S(t) <= 1 - share; limits: smallest t at which the lower (upper) limit of S is <= 1 - share
 *
 * Where S equals 1 - share exactly over a whole step, the middle of that step is taken, as textbooks do for the median.
 * null: not reached within the follow-up; that is a result, not an error.
 * Source: Brookmeyer and Crowley (1982), Biometrics 38:29.
 */
export interface LifeQuantile {
  readonly share: number;
  readonly estimate: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
}

export function lifeQuantile(curve: SurvivalCurve, share = 0.5): LifeQuantile {
  if (!(share > 0 && share < 1)) throw new BadSample(`share ${share} is not between 0 and 1`);
  const at = 1 - share;
  return Object.freeze({
    share,
    estimate: crossing(curve.times, curve.survival, at),
    lower: crossing(curve.times, curve.lower, at),
    upper: crossing(curve.times, curve.upper, at),
  });
}

// S is a product of ratios: equality with the target is judged up to the rounding of some hundred factors.
const ROUNDING = 1e-12;

function crossing(times: readonly number[], values: readonly number[], at: number): number | null {
  for (let i = 0; i < times.length; i++) {
    if (values[i]! > at + ROUNDING) continue;
    const flat = values[i]! >= at - ROUNDING && i + 1 < times.length;
    return flat ? (times[i]! + times[i + 1]!) / 2 : times[i]!;
  }
  return null;
}
