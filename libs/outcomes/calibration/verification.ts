import { BadSample } from '#libs/numeric/index.js';
import { twoSidedZ } from '../special/normal.js';

/**
 * Sensitivity and specificity when only some cases were proved: Begg and Greenes' correction, and bounds that assume nothing.
 *
 * P(fault | called t) from the proved cases, P(t) from all; sensitivity = p1 T1/(p1 T1 + p0 T0), specificity = (1 - p0) T0/((1 - p1) T1 + (1 - p0) T0)
 * logit sensitivity has variance (1 - p1)/(p1 n1) + (1 - p0)/(p0 n0) + 1/T1 + 1/T0, logit specificity p1/((1 - p1) n1) + p0/((1 - p0) n0) + 1/T1 + 1/T0
 *
 * t = 1 called the fault, 0 did not; T_t all cases called so, n_t proved ones, p_t share of those that had it. Right when proof depends on the
 * call (and what is stratified on) only. Naive figures from the proved cases alone are biased: 0.895/0.628 where 0.836/0.738 is right.
 * bounds: every unproved case set to whichever makes the figure smallest, then largest; no assumption at all.
 * null where nothing of the kind was proved; limits null when a share is 0 or 1. Source: Begg and Greenes (1983), Biometrics 39:207.
 */
export interface Called {
  readonly provedPresent: number;
  readonly provedAbsent: number;
  readonly unproved: number;
}

export interface VerifiedRate {
  readonly naive: number | null;
  readonly corrected: number | null;
  readonly standardError: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly bounds: readonly [number, number] | null;
}

export interface Verification {
  readonly sensitivity: VerifiedRate;
  readonly specificity: VerifiedRate;
  readonly positivePredictive: number | null;
  readonly negativePredictive: number | null;
  readonly prevalence: number | null;
  /** Share of all cases that were proved. */
  readonly proved: number;
}

export function beggGreenes(positive: Called, negative: Called, level = 0.95): Verification {
  const [n1, n0] = [proofs(positive), proofs(negative)];
  const [t1, t0] = [n1 + positive.unproved, n0 + negative.unproved];
  if (t1 + t0 === 0) throw new BadSample('no case to judge');
  const p1 = n1 > 0 ? positive.provedPresent / n1 : null;
  const p0 = n0 > 0 ? negative.provedPresent / n0 : null;
  const present = (t1 === 0 ? 0 : p1 === null ? null : p1 * t1) as number | null;
  const missed = (t0 === 0 ? 0 : p0 === null ? null : p0 * t0) as number | null;
  const known = present !== null && missed !== null;
  const spread = (odds: (p: number) => number): number | null =>
    p1 === null || p0 === null ? null : odds(p1) / n1 + odds(p0) / n0 + 1 / t1 + 1 / t0;
  return Object.freeze({
    sensitivity: rate({
      naive: [positive.provedPresent, negative.provedPresent],
      corrected: known ? [present, missed] : null,
      logitVariance: spread((p) => (1 - p) / p),
      // Fewest: unproved positives absent, unproved negatives present. Most: the other way round.
      bounds: [
        [positive.provedPresent, negative.provedPresent + negative.unproved],
        [positive.provedPresent + positive.unproved, negative.provedPresent],
      ],
      level,
    }),
    specificity: rate({
      naive: [negative.provedAbsent, positive.provedAbsent],
      corrected: known ? [t0 - missed, t1 - present] : null,
      logitVariance: spread((p) => p / (1 - p)),
      bounds: [
        [negative.provedAbsent, positive.provedAbsent + positive.unproved],
        [negative.provedAbsent + negative.unproved, positive.provedAbsent],
      ],
      level,
    }),
    positivePredictive: p1,
    negativePredictive: p0 === null ? null : 1 - p0,
    prevalence: known ? (present + missed) / (t1 + t0) : null,
    proved: (n1 + n0) / (t1 + t0),
  });
}

function proofs({ provedPresent, provedAbsent, unproved }: Called): number {
  if (![provedPresent, provedAbsent, unproved].every((v) => v >= 0 && Number.isFinite(v))) throw new BadSample('counts must be >= 0');
  return provedPresent + provedAbsent;
}

interface RateParts {
  /** Numerator and what is added to it for the denominator. */
  readonly naive: readonly [number, number];
  readonly corrected: readonly [number, number] | null;
  readonly logitVariance: number | null;
  readonly bounds: readonly [readonly [number, number], readonly [number, number]];
  readonly level: number;
}

function rate({ naive, corrected, logitVariance, bounds, level }: RateParts): VerifiedRate {
  const share = ([right, wrong]: readonly [number, number]) => (right + wrong > 0 ? right / (right + wrong) : null);
  const value = corrected && share(corrected);
  const inside = value !== null && value > 0 && value < 1 && logitVariance !== null && Number.isFinite(logitVariance);
  const logit = inside ? Math.log(value / (1 - value)) : 0;
  const half = inside ? twoSidedZ(level) * Math.sqrt(logitVariance) : 0;
  const [least, most] = [share(bounds[0]), share(bounds[1])];
  return Object.freeze({
    naive: share(naive),
    corrected: value,
    standardError: inside ? value * (1 - value) * Math.sqrt(logitVariance) : null,
    lower: inside ? 1 / (1 + Math.exp(half - logit)) : null,
    upper: inside ? 1 / (1 + Math.exp(-half - logit)) : null,
    bounds: least === null || most === null ? null : Object.freeze([least, most] as const),
  });
}
