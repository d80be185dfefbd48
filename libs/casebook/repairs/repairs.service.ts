import { v7 as uuidv7 } from 'uuid';
import { type FaultCode, instantText, type NewProof, type NewRepair, type Proof, type Repair } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { lockCase } from '../cases/case-lock.js';
import { CaseVoided } from '../cases/cases.errors.js';
import { type CaseRow, updateCase } from '../cases/cases.queries.js';
import type { CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { MachineNotFound } from '../ledger/ledger.errors.js';
import { findMachine } from '../ledger/ledger.queries.js';
import type { LinkingService, RelinkedEpisode } from '../outcomes/linking.service.js';
import { brokenPolicies } from '../policies/broken-policies.js';
import { policiesOn } from '../policies/policies.queries.js';
import { insertProofs, insertRepairs, proofsOfCases } from './repairs.queries.js';

const RETURNS: ReadonlySet<string> = new Set(['same-fault', 'consequent-fault', 'same-complaint', 'repair-caused']);

export class RepairsService {
  constructor(
    private readonly context: CasebookContext,
    private readonly linking: LinkingService,
  ) {}

  /** Records the cause as it was established. The same visit can be the return of an earlier repair: episodes are derived again. */
  async recordProof(actor: Actor, caseId: string, input: NewProof): Promise<Proof> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await this.caseToChange(tx, actor, caseId);
      const at = this.context.clock();
      const proof: Proof = { id: uuidv7(), caseId, createdAt: instantText(at), ...input, faults: [...new Set(input.faults)] };
      await insertProofs(tx, actor.orgId, [proof]);
      await updateCase(tx, actor.orgId, { ...row, provedFaults: labelOf(await proofsOfCases(tx, actor.orgId, [caseId])) }, at);
      await appendAudit(tx, actor, at, 'case.proved', { type: 'case', id: caseId }, { faults: proof.faults, method: proof.method });
      await this.relink(tx, actor, row, at);
      return proof;
    });
  }

  /** Records a repair and opens its episode. */
  async recordRepair(actor: Actor, caseId: string, input: NewRepair): Promise<Repair> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await this.caseToChange(tx, actor, caseId);
      const at = this.context.clock();
      const machineId = input.machineId ?? null;
      if (machineId !== null && (await findMachine(tx, actor.orgId, [row.shopId], machineId)) === null) {
        throw new MachineNotFound(machineId, '/machineId');
      }
      const repair: Repair = {
        id: uuidv7(),
        caseId,
        shopId: row.shopId,
        vehicleId: row.vehicleId,
        createdAt: instantText(at),
        ...input,
        machineId,
      };
      await insertRepairs(tx, actor.orgId, [repair]);
      const policies = row.platformId === null ? [] : await policiesOn(tx, actor.orgId, row.platformId, repair.fault, repair.day);
      const warned = brokenPolicies(repair, policies);
      await updateCase(tx, actor.orgId, { ...row, warnings: [...row.warnings, ...warned].slice(-50) }, at);
      await appendAudit(
        tx,
        actor,
        at,
        'case.repaired',
        { type: 'case', id: caseId },
        { fault: repair.fault, action: repair.action, intent: repair.intent },
      );
      if (!row.backfill) {
        await appendEvent(tx, actor.orgId, at, 'case.repaired', caseId, {
          caseId,
          repairId: repair.id,
          action: repair.action,
          intent: repair.intent,
        });
      }
      await this.relink(tx, actor, row, at);
      return repair;
    });
  }

  private async caseToChange(tx: Tx, actor: Actor, caseId: string): Promise<CaseRow> {
    const row = await lockCase(tx, actor, caseId);
    if (row.status === 'void') throw new CaseVoided();
    return row;
  }

  private async relink(tx: Tx, actor: Actor, row: CaseRow, at: Date): Promise<void> {
    if (row.vehicleId === null) return;
    const changes = await this.linking.relinkVehicle(tx, actor.orgId, row.vehicleId);
    if (row.backfill) return;
    for (const change of returnsAmong(changes)) await appendEvent(tx, actor.orgId, at, 'case.returned', change.endCaseId, { ...change });
  }
}

/** Repairs that turned out not to have held, each with the case the car came back as. */
export function returnsAmong(changes: readonly RelinkedEpisode[]): (RelinkedEpisode & { readonly endCaseId: string })[] {
  return changes.filter(
    (change): change is RelinkedEpisode & { readonly endCaseId: string } => RETURNS.has(change.to) && change.endCaseId !== null,
  );
}

/**
 * What the proofs of a case establish together: the latest that is more than a judgement decides, and a set of several causes stays a
 * set. Judgement alone labels nothing.
 */
export function labelOf(proofs: readonly Pick<Proof, 'method' | 'faults'>[]): FaultCode[] {
  const deciding = proofs.filter((proof) => proof.method !== 'judgement').at(-1);
  return deciding ? [...deciding.faults].sort() : [];
}
