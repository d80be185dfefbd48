import { BadSample } from '#libs/numeric/index.js';
import { normalTwoSided, twoSidedZ } from '../special/normal.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Effect of a policy: how returns per degree-day changed where it holds, against the change on comparable platforms without it.
 *
 * ratio = (a1/t1)/(a0/t0) / ((c1/u1)/(c0/u0));  Var ln ratio = 1/a1 + 1/a0 + 1/c1 + 1/c0
 *
 * a, t: returns and exposure (degree-days watched) with the policy, before (0) and after (1); c, u the same without. Under 1: fewer returns than the
 * comparison's change foretells. Assumes both would have changed alike without the policy, and counts that are Poisson: with
 * `dispersion` phi > 1 the variance is multiplied by it. null with no event in a cell: nothing can be said from ratios then.
 * Source: difference in differences of log rates, Ashenfelter and Card (1985), Rev. Econ. Stat. 67:648 (from memory).
 */
export interface PeriodCount {
  readonly events: number;
  readonly exposure: number;
}

export interface PolicyEffect {
  readonly ratio: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly pValue: number | null;
}

export interface PolicyCounts {
  readonly before: PeriodCount;
  readonly after: PeriodCount;
  readonly comparisonBefore: PeriodCount;
  readonly comparisonAfter: PeriodCount;
}

export function policyEffect(counts: PolicyCounts, level = 0.95, dispersion = 1): PolicyEffect {
  checkLevel(level);
  if (!(dispersion >= 1)) throw new BadSample(`dispersion ${dispersion} is not >= 1`);
  const cells = [counts.after, counts.before, counts.comparisonAfter, counts.comparisonBefore];
  for (const { events, exposure } of cells) {
    if (!(events >= 0 && exposure > 0 && Number.isFinite(events + exposure)))
      throw new BadSample(`${events} events in ${exposure} degree-days`);
  }
  if (cells.some((c) => c.events === 0)) return Object.freeze({ ratio: null, lower: null, upper: null, pValue: null });
  const [after, before, otherAfter, otherBefore] = cells.map((c) => Math.log(c.events / c.exposure)) as [number, number, number, number];
  const log = after - before - (otherAfter - otherBefore);
  const error = Math.sqrt(dispersion * cells.reduce((sum, c) => sum + 1 / c.events, 0));
  const half = twoSidedZ(level) * error;
  return Object.freeze({
    ratio: Math.exp(log),
    lower: Math.exp(log - half),
    upper: Math.exp(log + half),
    pValue: normalTwoSided(log / error),
  });
}
