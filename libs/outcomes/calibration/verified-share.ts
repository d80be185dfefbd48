import { BadSample } from '#libs/numeric/index.js';
import { twoSidedZ } from '../special/normal.js';

/** Cases that were answered alike: how many were proved, how many of these were right, how many were not proved. */
export interface CalledStratum {
  readonly right: number;
  readonly proved: number;
  readonly unproved: number;
}

export interface VerifiedShare {
  readonly naive: number | null;
  readonly corrected: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly bounds: readonly [number, number];
}

/**
 * Share of right answers when only some cases were proved, and which are proved depends on the answer.
 *
 * corrected = sum_s (N_s/N) r_s/n_s over the strata of equal answers;  var = sum_s (N_s/N)^2 q_s(1 - q_s)/n_s + (sum_s (N_s/N) q_s^2 - corrected^2)/N
 *
 * N_s cases, n_s of them proved, r_s of these right, q_s = r_s/n_s; limits on the logit scale. Begg and Greenes' idea for more than two answers: right when,
 * within one answer, proof does not depend on whether it was right. corrected is null while a stratum with cases has no proof; limits also at 0 and 1.
 * bounds: every unproved case wrong, then right; no assumption at all. Source: Begg and Greenes (1983), Biometrics 39:207; variance by the delta method over
 * multinomial strata, ours.
 */
export function verifiedShare(strata: readonly CalledStratum[], level = 0.95): VerifiedShare {
  let total = 0;
  let right = 0;
  let proved = 0;
  for (const one of strata) {
    if (![one.right, one.proved, one.unproved].every((v) => v >= 0 && Number.isFinite(v)) || one.right > one.proved) {
      throw new BadSample('counts must be >= 0, and no more right than proved');
    }
    total += one.proved + one.unproved;
    right += one.right;
    proved += one.proved;
  }
  if (total === 0) throw new BadSample('no case to judge');
  const naive = proved > 0 ? right / proved : null;
  const bounds = Object.freeze([right / total, (right + total - proved) / total] as const);
  const filled = strata.filter((one) => one.proved + one.unproved > 0);
  if (filled.some((one) => one.proved === 0)) return Object.freeze({ naive, corrected: null, lower: null, upper: null, bounds });
  let corrected = 0;
  let squares = 0;
  let within = 0;
  for (const one of filled) {
    const share = (one.proved + one.unproved) / total;
    const q = one.right / one.proved;
    corrected += share * q;
    squares += share * q * q;
    within += (share * share * q * (1 - q)) / one.proved;
  }
  const variance = within + Math.max(squares - corrected * corrected, 0) / total;
  const spread = corrected * (1 - corrected);
  if (!(spread > 0)) return Object.freeze({ naive, corrected, lower: null, upper: null, bounds });
  const logit = Math.log(corrected / (1 - corrected));
  const half = (twoSidedZ(level) * Math.sqrt(variance)) / spread;
  return Object.freeze({
    naive,
    corrected,
    lower: 1 / (1 + Math.exp(half - logit)),
    upper: 1 / (1 + Math.exp(-half - logit)),
    bounds,
  });
}
