import type { DiagnosisResult, HypothesisCode } from '#libs/contracts/index.js';

/** Hypotheses of an answer, most probable first; a fault and the same fault brought about by another are one. */
export interface Ranked {
  readonly codes: HypothesisCode[];
  readonly probabilities: number[];
}

export function rankingOf({ faults }: Pick<DiagnosisResult, 'faults'>): Ranked {
  const sums = new Map<HypothesisCode, number>();
  for (const { code, probability } of faults) sums.set(code, (sums.get(code) ?? 0) + probability);
  const ranked = [...sums].sort(([a, p], [b, q]) => q - p || (a < b ? -1 : 1));
  return { codes: ranked.map(([code]) => code), probabilities: ranked.map(([, p]) => Number(p.toPrecision(6))) };
}

/** The first answer as the engine itself ranks it, cascades with their fault; null where it could not tell. */
export function leaderOf(
  result: Pick<DiagnosisResult, 'status' | 'faults'>,
  ranked: Ranked = rankingOf(result),
): { code: HypothesisCode; probability: number } | null {
  if (result.status !== 'answered') return null;
  const { codes, probabilities } = ranked;
  return codes.length === 0 ? null : { code: codes[0]!, probability: probabilities[0]! };
}

const BLIND_ONE_IN = 10;
export const BLIND_SHARE = 1 / BLIND_ONE_IN;

/**
 * Whether a case is judged without what was proved before. Its identity's random digits decide, so that neither time nor shop nor car has a part in it and
 * the same case always falls the same way.
 */
export function isBlind(caseId: string): boolean {
  return Number.parseInt(caseId.slice(-8), 16) % BLIND_ONE_IN === 0;
}
