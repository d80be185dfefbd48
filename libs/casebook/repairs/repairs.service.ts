import { v7 as uuidv7 } from 'uuid';
import {
  type Case,
  type FaultCode,
  instantText,
  type NewProof,
  type NewRepair,
  type Proof,
  type Repair,
  type RepairPatch,
  type Warning,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { lockCase } from '../cases/case-lock.js';
import { CaseVoided } from '../cases/cases.errors.js';
import { type CaseRow, updateCase } from '../cases/cases.queries.js';
import type { CasesService } from '../cases/cases.service.js';
import type { CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { MachineNotFound } from '../ledger/ledger.errors.js';
import { findMachine } from '../ledger/ledger.queries.js';
import type { LinkingService, RelinkedEpisode } from '../outcomes/linking.service.js';
import { brokenPolicies } from '../policies/broken-policies.js';
import { policiesOn } from '../policies/policies.queries.js';
import { requireVersion } from '../versions.errors.js';
import { CarDeleted, RepairNotFound } from './repairs.errors.js';
import { deleteRepair, insertProofs, insertRepairs, proofsOfCases, repairsOfCases, updateRepair } from './repairs.queries.js';

const RETURNS: ReadonlySet<string> = new Set(['same-fault', 'consequent-fault', 'same-complaint', 'repair-caused']);

export class RepairsService {
  constructor(
    private readonly context: CasebookContext,
    private readonly linking: LinkingService,
    private readonly cases: CasesService,
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
      await machineOfShop(tx, actor, row, machineId);
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
      await updateCase(
        tx,
        actor.orgId,
        { ...row, warnings: [...row.warnings, ...(await policyWarnings(tx, actor, row, repair))].slice(-50) },
        at,
      );
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

  /**
   * Corrects a repair that was entered wrongly, under the version of its case: its episode and whatever it was the return of are derived again. The trail
   * keeps what stood before.
   * @throws RepairNotFound, StaleVersion, CaseVoided, CarDeleted, MachineNotFound
   */
  async correctRepair(
    actor: Actor,
    caseId: string,
    repairId: string,
    patch: RepairPatch,
    expectedVersion: number | undefined,
  ): Promise<Case> {
    return this.changeRepair(actor, caseId, repairId, expectedVersion, async (tx, row, stored, at) => {
      if (row.vehicleId === null) throw new CarDeleted();
      const changed: Repair = { ...stored, ...patch };
      if (changed.machineId !== stored.machineId) await machineOfShop(tx, actor, row, changed.machineId);
      await updateRepair(tx, actor.orgId, changed);
      const fields = (Object.keys(patch) as (keyof RepairPatch)[]).filter(
        (name) => JSON.stringify(stored[name]) !== JSON.stringify(changed[name]),
      );
      await appendAudit(
        tx,
        actor,
        at,
        'case.repair-corrected',
        { type: 'case', id: caseId },
        { repairId, fields, before: countedOf(stored), after: countedOf(changed) },
      );
      return policyWarnings(tx, actor, row, changed);
    });
  }

  /** Deletes a repair that was never done, under the version of its case; its episode goes with it. The trail keeps what it was. */
  async removeRepair(actor: Actor, caseId: string, repairId: string, expectedVersion: number | undefined): Promise<Case> {
    return this.changeRepair(actor, caseId, repairId, expectedVersion, async (tx, _row, stored, at) => {
      await this.linking.repairRemoved(tx, actor.orgId, repairId);
      await deleteRepair(tx, actor.orgId, repairId);
      await appendAudit(tx, actor, at, 'case.repair-removed', { type: 'case', id: caseId }, { repairId, ...countedOf(stored) });
      return [];
    });
  }

  /** One change of one stored repair, and the warnings of its case with it: those the repair gave before are taken back. */
  private async changeRepair(
    actor: Actor,
    caseId: string,
    repairId: string,
    expectedVersion: number | undefined,
    change: (tx: Tx, row: CaseRow, stored: Repair, at: Date) => Promise<readonly Warning[]>,
  ): Promise<Case> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await this.caseToChange(tx, actor, caseId);
      const stored = (await repairsOfCases(tx, actor.orgId, [caseId])).find(({ id }) => id === repairId);
      if (!stored) throw new RepairNotFound(repairId);
      requireVersion(expectedVersion, row.version);
      const at = this.context.clock();
      const kept = without(row.warnings, await policyWarnings(tx, actor, row, stored));
      const warned = await change(tx, row, stored, at);
      await updateCase(tx, actor.orgId, { ...row, warnings: [...kept, ...warned].slice(-50) }, at);
      await this.relink(tx, actor, row, at);
      return this.cases.wholeCase(tx, actor, caseId);
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

/** A machine is named where it stands. @throws MachineNotFound */
async function machineOfShop(tx: Tx, actor: Actor, row: CaseRow, machineId: string | null): Promise<void> {
  if (machineId !== null && (await findMachine(tx, actor.orgId, [row.shopId], machineId)) === null) {
    throw new MachineNotFound(machineId, '/machineId');
  }
}

/** What the policies of its platform say against a repair on its day. */
async function policyWarnings(tx: Tx, { orgId }: Actor, { platformId }: CaseRow, repair: Repair): Promise<Warning[]> {
  return platformId === null ? [] : brokenPolicies(repair, await policiesOn(tx, orgId, platformId, repair.fault, repair.day));
}

/** The warnings without these, each taken off once: another repair may have given the same. */
function without(warnings: readonly Warning[], gone: readonly Warning[]): Warning[] {
  const left = [...warnings];
  for (const one of gone) {
    const at = left.findIndex(({ code, detail }) => code === one.code && detail === one.detail);
    if (at >= 0) left.splice(at, 1);
  }
  return left;
}

/** What of a repair figures are made from. */
const countedOf = ({ fault, action, intent, day, recoveredG, chargedG, labourHours, cost }: Repair) => ({
  fault,
  action,
  intent,
  day,
  recoveredG,
  chargedG,
  labourHours,
  cost,
});

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
