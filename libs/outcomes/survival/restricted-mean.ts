import { BadSample } from '#libs/numeric/index.js';
import { twoSidedZ } from '../special/normal.js';
import type { SurvivalCurve } from './kaplan-meier.js';

/**
 * Restricted mean holding time: the area under S up to a horizon.
 *
 * mu(tau) = integral from 0 to tau of S(t) dt
 * Var mu = sum over t_j <= tau of A_j^2 d_j/(Y_j (Y_j - d_j)), A_j = integral from t_j to tau of S
 *
 * tau > 0 in the clock's unit. Limits are normal, clipped to 0..tau. Beyond the last follow-up S is carried forward: keep tau within it.
 * Source: Klein and Moeschberger (2003), section 4.5.
 */
export interface RestrictedMean {
  readonly horizon: number;
  readonly mean: number;
  readonly standardError: number;
  readonly lower: number;
  readonly upper: number;
}

export function restrictedMean(curve: SurvivalCurve, horizon: number): RestrictedMean {
  if (!(horizon > 0 && horizon < Number.POSITIVE_INFINITY)) throw new BadSample(`horizon ${horizon} is not a finite number > 0`);
  let area = 0;
  let variance = 0;
  let right = horizon;
  for (let j = curve.times.length - 1; j >= 0; j--) {
    if (curve.times[j]! > horizon) continue;
    area += curve.survival[j]! * (right - curve.times[j]!);
    right = curve.times[j]!;
    const y = curve.atRisk[j]!;
    const d = curve.events[j]!;
    if (y > d) variance += (area * area * d) / (y * (y - d));
  }
  area += right;
  const standardError = Math.sqrt(variance);
  const half = twoSidedZ(curve.level) * standardError;
  return Object.freeze({ horizon, mean: area, standardError, lower: Math.max(0, area - half), upper: Math.min(horizon, area + half) });
}
