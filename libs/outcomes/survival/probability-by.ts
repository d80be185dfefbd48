import { BadSample } from '#libs/numeric/index.js';
import { exactBinomial } from '../intervals/binomial.js';
import type { IncidenceCurve } from './aalen-johansen.js';
import { numbersAtRisk, stepAt } from './risk-sets.js';
import type { Sample } from './sample.js';

/**
 * The probability that an episode has ended in the asked way by a horizon, with its interval.
 *
 * Reads the Aalen-Johansen curve at the horizon. Where the estimate is 0 (or 1) its standard error is 0 and says nothing: there the
 * interval is Clopper-Pearson's for 0 events among those still watched at the horizon (or n in n), 0..1 when nobody is.
 * effectiveN = F(1 - F)/Var F: the number of fully followed episodes that would be as informative; the number at risk where F is 0.
 * reached: someone was watched as long as the horizon, or everything had ended before; if not, the probability is a lower bound.
 */
export interface ProbabilityBy {
  readonly at: number;
  readonly probability: number;
  readonly low: number;
  readonly high: number;
  readonly standardError: number;
  readonly n: number;
  readonly events: number;
  readonly atRisk: number;
  readonly effectiveN: number;
  readonly reached: boolean;
}

export function probabilityBy(sample: Sample, curve: IncidenceCurve, horizon: number): ProbabilityBy {
  if (!(horizon >= 0 && horizon < Number.POSITIVE_INFINITY)) throw new BadSample(`horizon ${horizon} is not a finite number >= 0`);
  if (curve.n !== sample.time.length) throw new BadSample(`a curve of ${curve.n} episodes for a sample of ${sample.time.length}`);
  const atRisk = numbersAtRisk(sample, [horizon])[0]!;
  const step = stepAt(curve.times, horizon);
  const probability = step < 0 ? 0 : curve.incidence[step]!;
  const running = step < 0 ? 1 : curve.running[step]!;
  const standardError = step < 0 ? 0 : curve.standardError[step]!;
  let events = 0;
  for (let i = 0; i <= step; i++) events += curve.events[i]!;
  const inside = probability > 0 && probability < 1 && standardError > 0;
  const effectiveN = inside ? (probability * (1 - probability)) / standardError ** 2 : probability > 0 ? curve.n : atRisk;
  const [exactLow, exactHigh] = exactBinomial(probability > 0 ? effectiveN : 0, effectiveN, curve.level);
  return Object.freeze({
    at: horizon,
    probability,
    low: inside ? curve.lower[step]! : exactLow,
    high: inside ? curve.upper[step]! : exactHigh,
    standardError,
    n: curve.n,
    events,
    atRisk,
    effectiveN,
    reached: atRisk > 0 || (curve.n > 0 && running === 0),
  });
}
