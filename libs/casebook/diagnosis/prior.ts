import type { EnginePrior } from '#libs/engine/index.js';
import type { ProvedCount, ProvedVisit } from './labels.queries.js';

const DAY_MS = 86_400_000;

/** Of what was proved on a case's vehicle, the part that came before it, with its age. */
export function vehicleProved(
  visits: readonly ProvedVisit[],
  asked: { readonly id: string; readonly vehicleId: string | null; readonly openedAt: string },
): NonNullable<EnginePrior['vehicleProved']> {
  const at = Date.parse(asked.openedAt);
  return visits
    .filter((visit) => visit.vehicleId === asked.vehicleId && visit.caseId !== asked.id && Date.parse(visit.openedAt) < at)
    .map(({ code, openedAt }) => ({ code, ageDays: (at - Date.parse(openedAt)) / DAY_MS }));
}

/** What was proved on a platform without one case's own proof. */
export function withoutOwn(counts: readonly ProvedCount[], own: ProvedCount['code'] | null): ProvedCount[] {
  return counts.map((one) => (one.code === own ? { ...one, count: one.count - 1 } : one)).filter(({ count }) => count > 0);
}
