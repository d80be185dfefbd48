import { BadSample } from '#libs/numeric/index.js';
import { exactBinomial } from '../intervals/binomial.js';
import { type IncidenceCurve, incidenceCurve } from './aalen-johansen.js';
import { atRiskAt, type RiskSets, riskSets, stepAt } from './risk-sets.js';
import type { Sample } from './sample.js';

/**
 * Probability that an episode has ended in the asked way (one end, or several counted as one) by a horizon, competing ends accounted for.
 *
 * F(h) by Aalen-Johansen; effective counts n* = F(1 - F)/Var F and x* = n* F: the fully followed sample that would be as informative
 *
 * Limits: log(-log) of 1 - F; where F is 0 or 1 the standard error is 0 and says nothing, so there they are the exact binomial ones on
 * those still watched at the horizon (0..1 when nobody is) or on the sample.
 * `followed` is false when nobody was watched as far as the horizon and some were still running before: F is then a lower bound.
 * atRisk: watched just before the horizon. events: endings of this kind by the horizon. Empty sample: F 0, limits 0 to 1, not followed.
 * Source of the effective counts: Dorey and Korn (1987), Stat. Med. 6:679, for Kaplan-Meier; here with the cumulative incidence.
 */
export interface ReturnProbability {
  readonly horizon: number;
  readonly n: number;
  readonly events: number;
  readonly atRisk: number;
  readonly probability: number;
  readonly standardError: number;
  readonly lower: number;
  readonly upper: number;
  readonly effectiveN: number;
  readonly effectiveEvents: number;
  readonly followed: boolean;
}

export function returnProbability(sample: Sample, cause: number | readonly number[], horizon: number, level = 0.95): ReturnProbability {
  const sets = riskSets(sample);
  return probabilityBy(sets, incidenceCurve(sets, cause, level), horizon);
}

/** The same by any horizon of a curve already drawn from risk sets. */
export function probabilityBy(sets: RiskSets, curve: IncidenceCurve, horizon: number): ReturnProbability {
  if (!(horizon >= 0 && horizon < Number.POSITIVE_INFINITY)) throw new BadSample(`horizon ${horizon} is not a finite number >= 0`);
  const atRisk = atRiskAt(sets, horizon);
  const step = stepAt(curve.times, horizon);
  const probability = step < 0 ? 0 : curve.incidence[step]!;
  const standardError = step < 0 ? 0 : curve.standardError[step]!;
  const running = step < 0 ? 1 : curve.running[step]!;
  let events = 0;
  for (let i = 0; i <= step; i++) events += curve.events[i]!;
  const known = probability > 0 && probability < 1 && standardError > 0;
  const effectiveN = known ? (probability * (1 - probability)) / standardError ** 2 : events > 0 ? curve.n : atRisk;
  const effectiveEvents = effectiveN * probability;
  const [lower, upper] = known ? [curve.lower[step]!, curve.upper[step]!] : exactBinomial(effectiveEvents, effectiveN, curve.level);
  const followed = atRisk > 0 || (curve.n > 0 && running === 0);
  const result = { horizon, n: curve.n, events, atRisk, probability, standardError, lower, upper, effectiveN, effectiveEvents, followed };
  return Object.freeze(result);
}
