import type { Case, ImportLine, ImportProof, ImportRepair, NewCase, NewProof, NewRepair, RowOutcome } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop } from '../access/actor.js';
import type { CaseRow } from '../cases/cases.queries.js';
import type { CasesService } from '../cases/cases.service.js';
import { dayInZone } from '../cases/day-in-zone.js';
import { caseHash, fingerprint } from '../cases/fingerprint.js';
import type { NewOrder } from '../cases/open-orders.js';
import type { RepairsService } from '../repairs/repairs.service.js';
import { findShop } from '../shops/shops.queries.js';

/** Operations that join the transaction of the batch. */
export interface LineOperations {
  readonly cases: CasesService;
  readonly repairs: RepairsService;
}

/**
 * Stores one line: the case, then what is not yet on it. Proofs and repairs are compared with those that are there by what they say, so the
 * same line again adds nothing, and a line with one more repair adds that one.
 */
export async function storeLine(
  tx: Tx,
  operations: LineOperations,
  actor: Actor,
  given: ImportLine,
  hasOwnRevision: boolean,
  options: { readonly replaceChanged: boolean },
): Promise<{ outcome: Exclude<RowOutcome, 'rejected'>; caseId: string }> {
  const { cases, repairs } = operations;
  const { written, order } = readLine(given);
  const before = await cases.orderStored(tx, actor, written);
  if (!before) return { outcome: 'opened', caseId: await cases.openOrder(tx, actor, order) };
  const counted = asRevision(actor, written, before, hasOwnRevision, options.replaceChanged);
  if (counted === 'superseded') return { outcome: 'unchanged', caseId: before.id };
  const { outcome, id } = await cases.storeOrder(tx, actor, counted, before);
  const stored = await cases.wholeCase(tx, actor, id);
  if (stored.status === 'void') return { outcome, caseId: id };
  const visitDay = dayInZone(stored.openedAt, (await findShop(tx, actor.orgId, stored.shopId))!.timeZone);
  const { proofs, repairs: repairsGiven } = notYetOn(stored, order, visitDay);
  for (const proof of proofs) await repairs.recordProof(actor, id, proof);
  for (const repair of repairsGiven) await repairs.recordRepair(actor, id, repair);
  const ends = endingOf(stored, order);
  if (ends === 'voided') await cases.voidCase(actor, id, order.voided!, (await cases.getCase(actor, id)).version);
  if (ends === 'closed') await cases.closeCase(actor, id, order.closure!, (await cases.getCase(actor, id)).version);
  const changed = proofs.length > 0 || repairsGiven.length > 0 || ends !== null;
  return { outcome: outcome === 'unchanged' && changed ? 'revised' : outcome, caseId: id };
}

/** A line as the order it tells of. */
export function readLine(given: ImportLine): { readonly written: NewCase; readonly order: NewOrder } {
  const { repairs = [], proofs = [], closure, voided, ...written } = given;
  return {
    written,
    order: {
      input: written,
      hash: caseHash(written),
      proofs: proofs.map(wholeProof),
      repairs: (visitDay) => repairs.map((repair) => wholeRepair(repair, repair.day ?? visitDay)),
      closure,
      voided,
    },
  };
}

/** What a line adds to a case: each proof and repair that is not there yet as often as the line says it. */
export function notYetOn(stored: Pick<Case, 'proofs' | 'repairs'>, order: NewOrder, visitDay: string) {
  const knownProofs = countsOf(stored.proofs.map(proofSays));
  const knownRepairs = countsOf(stored.repairs.map(repairSays));
  return {
    proofs: (order.proofs ?? []).filter((proof) => !take(knownProofs, proofSays(proof))),
    repairs: (order.repairs?.(visitDay) ?? []).filter((repair) => !take(knownRepairs, repairSays(repair))),
  };
}

/** Whether the line ends a case that has not ended. */
export function endingOf({ status }: Pick<Case, 'status'>, { closure, voided }: NewOrder): 'voided' | 'closed' | null {
  if (voided !== undefined && status !== 'void') return 'voided';
  return closure && status === 'open' ? 'closed' : null;
}

/**
 * The revision a line counts as. A revision lower than the stored one was replaced already. A row without revisions of its own counts as the
 * stored revision, and as the next one when it says something else and the mapping lets changed rows replace the stored order.
 */
export function asRevision(
  actor: Actor,
  written: NewCase,
  stored: CaseRow | null,
  hasOwnRevision: boolean,
  replaceChanged: boolean,
): NewCase | 'superseded' {
  const { source } = written;
  if (!source || !stored || !mayOpenShop(actor, stored.shopId)) return written;
  const current = stored.sourceRevision ?? 0;
  if (hasOwnRevision) return source.revision < current ? 'superseded' : written;
  const same = { ...written, source: { ...source, revision: current } };
  const isSame = stored.sourceHash !== null && caseHash(same).equals(stored.sourceHash);
  return isSame || !replaceChanged ? same : { ...written, source: { ...source, revision: current + 1 } };
}

const wholeProof = (given: ImportProof): NewProof => ({ ...given, note: given.note ?? null });
const wholeRepair = (given: ImportRepair, day: string): NewRepair => ({
  fault: given.fault,
  action: given.action,
  intent: given.intent ?? 'unknown',
  day,
  parts: given.parts ?? [],
  recoveredG: given.recoveredG ?? null,
  chargedG: given.chargedG ?? null,
  labourHours: given.labourHours ?? null,
  cost: given.cost ?? null,
  note: given.note ?? null,
});

const proofSays = ({ faults, method, note }: NewProof): string =>
  fingerprint({ faults: [...new Set(faults)].sort(), method, note }).toString('base64');
const repairSays = ({ fault, action, intent, day, parts, recoveredG, chargedG, labourHours, cost, note }: NewRepair): string =>
  fingerprint({ fault, action, intent, day, parts, recoveredG, chargedG, labourHours, cost, note }).toString('base64');

function countsOf(said: readonly string[]): Map<string, number> {
  const counts = new Map<string, number>();
  for (const one of said) counts.set(one, (counts.get(one) ?? 0) + 1);
  return counts;
}

function take(counts: Map<string, number>, one: string): boolean {
  const left = counts.get(one) ?? 0;
  if (left > 0) counts.set(one, left - 1);
  return left > 0;
}
