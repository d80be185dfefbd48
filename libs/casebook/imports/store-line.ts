import type { Case, ImportLine, ImportProof, ImportRepair, NewCase, NewProof, NewRepair, RowOutcome } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop } from '../access/actor.js';
import { findCaseBySource, lockSource } from '../cases/cases.queries.js';
import type { CasesService } from '../cases/cases.service.js';
import { dayInZone } from '../cases/cases.service.js';
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
  { cases, repairs }: LineOperations,
  actor: Actor,
  given: ImportLine,
  hasOwnRevision: boolean,
  options: { readonly replaceChanged: boolean },
): Promise<{ outcome: Exclude<RowOutcome, 'rejected'>; caseId: string }> {
  const { repairs: repairsGiven = [], proofs: proofsGiven = [], closure, voided, ...written } = given;
  const { superseded, input } = await againstStored(tx, actor, written, hasOwnRevision, options.replaceChanged);
  if (superseded !== null) return { outcome: 'unchanged', caseId: superseded };
  const { outcome, case: stored } = await cases.openCase(actor, input);
  let changed = false;
  if (stored.status !== 'void') {
    const knownProofs = countsOf(stored.proofs.map(proofSays));
    for (const proof of proofsGiven.map(wholeProof)) {
      if (take(knownProofs, proofSays(proof))) continue;
      await repairs.recordProof(actor, stored.id, proof);
      changed = true;
    }
    const knownRepairs = countsOf(stored.repairs.map(repairSays));
    for (const given of repairsGiven) {
      const repair = wholeRepair(given, await defaultDay(tx, actor.orgId, stored, given));
      if (take(knownRepairs, repairSays(repair))) continue;
      await repairs.recordRepair(actor, stored.id, repair);
      changed = true;
    }
    if (voided !== undefined) {
      await cases.voidCase(actor, stored.id, voided, (await cases.getCase(actor, stored.id)).version);
      changed = true;
    } else if (closure && stored.status === 'open') {
      await cases.closeCase(actor, stored.id, closure, (await cases.getCase(actor, stored.id)).version);
      changed = true;
    }
  }
  return { outcome: outcome === 'unchanged' && changed ? 'revised' : outcome, caseId: stored.id };
}

/**
 * The revision a line counts as. A revision lower than the stored one was replaced already. A row without revisions of its own counts as the
 * stored revision, and as the next one when it says something else and the mapping lets changed rows replace the stored order.
 */
async function againstStored(
  tx: Tx,
  actor: Actor,
  written: NewCase,
  hasOwnRevision: boolean,
  replaceChanged: boolean,
): Promise<{ superseded: string | null; input: NewCase }> {
  const { source } = written;
  if (!source) return { superseded: null, input: written };
  await lockSource(tx, actor.orgId, source.system, source.reference);
  const stored = await findCaseBySource(tx, actor.orgId, source.system, source.reference);
  if (!stored || !mayOpenShop(actor, stored.shopId)) return { superseded: null, input: written };
  const current = stored.sourceRevision ?? 0;
  if (hasOwnRevision) return { superseded: source.revision < current ? stored.id : null, input: written };
  const same = { ...written, source: { ...source, revision: current } };
  const isSame = stored.sourceHash !== null && caseHash(same).equals(stored.sourceHash);
  return { superseded: null, input: isSame || !replaceChanged ? same : { ...written, source: { ...source, revision: current + 1 } } };
}

async function defaultDay(tx: Tx, orgId: string, stored: Case, given: ImportRepair): Promise<string> {
  if (given.day !== undefined) return given.day;
  const shop = await findShop(tx, orgId, stored.shopId);
  return dayInZone(stored.openedAt, shop!.timeZone);
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
