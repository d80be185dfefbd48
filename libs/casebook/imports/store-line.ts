import type { Case, ImportLine, ImportProof, ImportRepair, NewCase, NewProof, NewRepair, RowOutcome } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop } from '../access/actor.js';
import type { CaseRow } from '../cases/cases.queries.js';
import type { CasesService } from '../cases/cases.service.js';
import { dayInZone } from '../cases/day-in-zone.js';
import { caseHash, fingerprint } from '../cases/fingerprint.js';
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
  options: { readonly replaceChanged: boolean; readonly zones: ReadonlyMap<string, string> },
): Promise<{ outcome: Exclude<RowOutcome, 'rejected'>; caseId: string }> {
  const { cases, repairs } = operations;
  const { repairs: repairsGiven = [], proofs: proofsGiven = [], closure, voided, ...written } = given;
  const before = await cases.orderStored(tx, actor, written);
  const counted = asRevision(actor, written, before, hasOwnRevision, options.replaceChanged);
  if (counted === 'superseded') return { outcome: 'unchanged', caseId: before!.id };
  const { outcome, id } = await cases.storeOrder(tx, actor, counted, before);
  const stored = outcome === 'opened' ? NEW : await cases.wholeCase(tx, actor, id);
  let changed = false;
  if (stored.status !== 'void') {
    const knownProofs = countsOf(stored.proofs.map(proofSays));
    for (const proof of proofsGiven.map(wholeProof)) {
      if (take(knownProofs, proofSays(proof))) continue;
      await repairs.recordProof(actor, id, proof);
      changed = true;
    }
    let day: string | undefined;
    const zone = outcome === 'opened' ? options.zones.get(written.shopCode ?? '') : undefined;
    const knownRepairs = countsOf(stored.repairs.map(repairSays));
    for (const given of repairsGiven) {
      if (given.day === undefined) day ??= await dayOfVisit(tx, operations, actor, id, written.openedAt, zone);
      const repair = wholeRepair(given, given.day ?? day!);
      if (take(knownRepairs, repairSays(repair))) continue;
      await repairs.recordRepair(actor, id, repair);
      changed = true;
    }
    if (voided !== undefined) {
      await cases.voidCase(actor, id, voided, (await cases.getCase(actor, id)).version);
      changed = true;
    } else if (closure && stored.status === 'open') {
      await cases.closeCase(actor, id, closure, (await cases.getCase(actor, id)).version);
      changed = true;
    }
  }
  return { outcome: outcome === 'unchanged' && changed ? 'revised' : outcome, caseId: id };
}

/** What there is on a case that was opened a moment ago. */
const NEW: Pick<Case, 'status' | 'proofs' | 'repairs'> = { status: 'open', proofs: [], repairs: [] };

/**
 * The revision a line counts as. A revision lower than the stored one was replaced already. A row without revisions of its own counts as the
 * stored revision, and as the next one when it says something else and the mapping lets changed rows replace the stored order.
 */
function asRevision(
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

/** The day the car came in, at the shop. */
async function dayOfVisit(
  tx: Tx,
  { cases }: LineOperations,
  actor: Actor,
  caseId: string,
  openedAt: string | undefined,
  zone: string | undefined,
) {
  if (openedAt !== undefined && zone !== undefined) return dayInZone(openedAt, zone);
  const stored = await cases.wholeCase(tx, actor, caseId);
  return dayInZone(stored.openedAt, (await findShop(tx, actor.orgId, stored.shopId))!.timeZone);
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
