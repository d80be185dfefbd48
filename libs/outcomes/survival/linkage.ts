import { BadSample } from '#libs/numeric/index.js';
import { type RiskSets, riskSets, stepAt } from './risk-sets.js';
import { columnsOf, type Sample } from './sample.js';

/**
 * Return probability corrected for returns that happened elsewhere and were never linked.
 *
 * weight of a return: 1 at the same shop, 1/pi elsewhere, pi the share of returns elsewhere that are linked
 * F(t) = sum of S(t-) d*(t)/Y*(t), d* the weighted returns, Y*(t) = Y(t) - sum over s < t of (1/pi - 1) d_elsewhere(s) G(t)/G(s)
 *
 * An unlinked return is a missing event: its vehicle goes on being counted as running. Y* takes those out again, G being the Kaplan-Meier estimate of
 * still being watched. elsewhere[i] is 1 when the return of episode i was found at another shop; pi in 0..1, from vehicles whose whole history is known
 * by another record. Other ends are taken as seen. observed: the plain Aalen-Johansen figure, a lower bound.
 * reliable false: the correction emptied the risk set, or weighs a tenth or less of the figure's events ten times and more (pi < 0.1).
 * No interval: pi's own uncertainty is larger than sampling; vary pi. Checked by simulation (tests/validate): true 0.60, observed 0.48, corrected 0.60.
 * Source: inverse probability weighting of Horvitz and Thompson (1952), JASA 47:663, applied to counting processes.
 */
export interface LinkageWeighted {
  readonly observed: number;
  readonly corrected: number;
  readonly reliable: boolean;
}

export function linkageWeighted(
  sample: Sample,
  elsewhere: ArrayLike<number>,
  pi: number,
  cause: number | readonly number[],
  horizon: number,
): LinkageWeighted {
  const { time, end } = columnsOf(sample);
  if (elsewhere.length !== time.length) throw new BadSample(`${time.length} episodes, ${elsewhere.length} places of return`);
  const causes = new Set(typeof cause === 'number' ? [cause] : cause);
  const recoded = Int32Array.from(end, (e, i) => (e === 0 ? 0 : causes.has(e) ? (elsewhere[i] === 1 ? 2 : 1) : 3));
  return linkageWeightedBy(riskSets({ time, end: recoded }, 3), pi, horizon);
}

/** The same from risk sets already counted, with ends 1: asked, at the same shop; 2: asked, elsewhere; 3: any other. */
export function linkageWeightedBy(sets: RiskSets, pi: number, horizon: number): LinkageWeighted {
  if (!(pi > 0 && pi <= 1)) throw new BadSample(`linked share ${pi} is not in 0..1`);
  const observed = incidence(sets, 1, horizon);
  const corrected = incidence(sets, pi, horizon);
  return Object.freeze({ observed: observed.f, corrected: corrected.f, reliable: corrected.whole && pi >= 0.1 });
}

function incidence(sets: RiskSets, pi: number, horizon: number): { f: number; whole: boolean } {
  const [here, away, other] = sets.events as [Float64Array, Float64Array, Float64Array];
  let s = 1;
  let f = 0;
  let stillWatched = 1;
  // Unlinked returns so far, each over G at its time: times G(t) those still counted as running.
  let hidden = 0;
  const last = stepAt(sets.times, horizon);
  for (let j = 0; j <= last; j++) {
    const y = sets.atRisk[j]! - hidden * stillWatched;
    const returns = here[j]! + away[j]! / pi;
    const any = returns + other[j]!;
    if (any > 0) {
      if (!(y >= any)) return { f, whole: false };
      f += (s * returns) / y;
      s *= 1 - any / y;
      hidden += (away[j]! * (1 / pi - 1)) / stillWatched;
    }
    const left = sets.atRisk[j]! - here[j]! - away[j]! - other[j]!;
    if (left > 0) stillWatched *= 1 - sets.censored[j]! / left;
    if (stillWatched === 0) break;
  }
  return { f, whole: true };
}
