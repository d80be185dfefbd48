import {
  type Case,
  type CaseClosure,
  type CaseFilter,
  type CasePatch,
  type CaseSummary,
  instantText,
  type NewCase,
  type NewFinding,
  type NewReading,
  type Page,
  type PageInput,
  type Platform,
  type ProposedReading,
  type Shop,
  type Warning,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { JudgingContext } from '#libs/engine/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import type { DiagnosisService } from '../diagnosis/diagnosis.service.js';
import type { LinkingService } from '../outcomes/linking.service.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import type { PlatformsService } from '../platforms/platforms.service.js';
import { policiesOn } from '../policies/policies.queries.js';
import { proofsOfCases, repairsOfCases } from '../repairs/repairs.queries.js';
import { findShop } from '../shops/shops.queries.js';
import type { ShopsService } from '../shops/shops.service.js';
import { VehicleMoved } from '../vehicles/vehicle-moved.js';
import { setVehiclePlatform } from '../vehicles/vehicles.queries.js';
import type { VehiclesService } from '../vehicles/vehicles.service.js';
import { requireVersion } from '../versions.errors.js';
import { lockCase } from './case-lock.js';
import { CaseNotFound, CaseNotOpen, CaseVoided, SourceElsewhere, SourceRevisionNotNewer } from './cases.errors.js';
import {
  type CaseRow,
  casesBySource,
  findCase,
  findEvidence,
  insertEvidence,
  listCases,
  lockSources,
  toCase,
  updateCase,
} from './cases.queries.js';
import { type Accepted, addFindings, addReadings, amendEvidence, EMPTY_EVIDENCE } from './evidence-rules.js';
import { caseHash } from './fingerprint.js';
import { acceptEvidence, judgingOf, type NewOrder, notesWith, type Opening, openOrders } from './open-orders.js';
import { odometerKm } from './quantities.js';
import { readingsInText } from './text-readings.js';

/** One text for the name an order has in its own system. */
export const sourceKey = ({ system, reference }: { readonly system: string; readonly reference: string }): string =>
  JSON.stringify([system, reference]);

/** What became of a case that was sent. */
export interface OpenedCase {
  readonly outcome: 'opened' | 'revised' | 'unchanged';
  readonly case: Case;
}

export interface CasesServiceParts {
  readonly shops: ShopsService;
  readonly platforms: PlatformsService;
  readonly vehicles: VehiclesService;
  readonly linking: LinkingService;
  readonly diagnosis: DiagnosisService;
}

export class CasesService {
  constructor(
    private readonly context: CasebookContext,
    private readonly parts: CasesServiceParts,
  ) {}

  /**
   * Opens a case, or takes a newer revision of an order that was sent before. The same reference with the same body changes nothing.
   * @throws SourceRevisionNotNewer, ShopNotFound, PlatformNotFound, ImplausibleEvidence
   */
  async openCase(actor: Actor, input: NewCase): Promise<OpenedCase> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { outcome, id } = await this.storeOrder(tx, actor, input, await this.orderStored(tx, actor, input));
      return { outcome, case: await this.wholeCase(tx, actor, id) };
    });
  }

  /** The case an order was stored as, and the order locked: whoever stores it next waits. Null for a new one. */
  async orderStored(tx: Tx, actor: Actor, { source }: NewCase): Promise<CaseRow | null> {
    if (!source) return null;
    await lockSources(tx, actor.orgId, [source]);
    return (await casesBySource(tx, actor.orgId, [source]))[0] ?? null;
  }

  /** The cases that orders were stored as, by `sourceKey`, and the orders locked. */
  async ordersStored(tx: Tx, actor: Actor, inputs: readonly NewCase[]): Promise<Map<string, CaseRow>> {
    const sources = inputs.flatMap(({ source }) => (source ? [source] : []));
    if (sources.length === 0) return new Map();
    // Sent together: the look-up begins when the orders are locked, and sees what whoever held them has stored.
    const [, rows] = await Promise.all([lockSources(tx.ahead, actor.orgId, sources), casesBySource(tx.ahead, actor.orgId, sources)]);
    return new Map(rows.map((row) => [sourceKey({ system: row.sourceSystem!, reference: row.sourceReference! }), row]));
  }

  /** Opens several orders that are not stored yet (`ordersStored`), in an open transaction. */
  openOrders(tx: Tx, actor: Actor, orders: readonly NewOrder[]): Promise<Opening[]> {
    return openOrders(tx, actor, orders, { ...this.parts, at: this.context.clock() });
  }

  /** Opens or revises, in an open transaction, when it is known what the order was stored as (`orderStored`). */
  async storeOrder(tx: Tx, actor: Actor, input: NewCase, stored: CaseRow | null): Promise<{ outcome: OpenedCase['outcome']; id: string }> {
    const hash = caseHash(input);
    if (stored) return { outcome: await this.reviseFromSource(tx, actor, input, stored, hash), id: stored.id };
    return { outcome: 'opened', id: await this.openOrder(tx, actor, { input, hash }) };
  }

  /** Opens one order that is not stored yet and, where it asks for that, diagnoses it at once. @returns the case's id @throws what refuses it */
  async openOrder(tx: Tx, actor: Actor, order: NewOrder): Promise<string> {
    const opening = (await this.openOrders(tx, actor, [order]))[0]!;
    if (!opening.ok) throw opening.error;
    const { id, shop, platform, evidence } = opening;
    if (order.input.diagnose) {
      const row = (await findCase(tx, actor.orgId, null, id))!;
      await this.parts.diagnosis.diagnoseIn(tx, actor, row, shop, platform, evidence);
    }
    return id;
  }

  /** Amends an open case: parts of the evidence that are given replace the stored part whole. */
  async amendCase(actor: Actor, id: string, patch: CasePatch, expectedVersion: number | undefined): Promise<Case> {
    return this.change(actor, id, expectedVersion, 'case.amended', async (tx, row, shop, platform) => {
      if (row.status !== 'open') throw new CaseNotOpen(row.status);
      let current = platform;
      if (patch.platformId !== undefined) {
        current = await this.parts.platforms.resolvePlatform(tx, actor, { platformId: patch.platformId }, '');
        if (row.vehicleId !== null) await setVehiclePlatform(tx, actor.orgId, row.vehicleId, patch.platformId);
      }
      const changed: CaseRow = {
        ...row,
        complaint: patch.complaint ?? row.complaint,
        complaintText: patch.complaintText === undefined ? row.complaintText : patch.complaintText,
        notes: patch.notes === undefined ? row.notes : patch.notes,
        platformId: current?.id ?? null,
        odometerKm: patch.odometer ? odometerKm(patch.odometer, '/odometer') : row.odometerKm,
      };
      if (!patch.evidence) return { row: changed };
      const stored = await this.evidenceOf(tx, actor, row);
      const context = judgingOf(current, shop, patch.evidence.conditions ?? stored.conditions);
      return { row: changed, accepted: amendEvidence(stored, patch.evidence, context, '/evidence') };
    });
  }

  async addReadings(actor: Actor, id: string, readings: readonly NewReading[], expectedVersion?: number): Promise<Case> {
    return this.addEvidence(actor, id, expectedVersion, 'case.readings-added', (stored, context) =>
      addReadings(stored, readings, context, '/readings'),
    );
  }

  async addFindings(actor: Actor, id: string, findings: readonly NewFinding[], expectedVersion?: number): Promise<Case> {
    return this.addEvidence(actor, id, expectedVersion, 'case.findings-added', (stored) => ({
      evidence: addFindings(stored, findings),
      warnings: [],
    }));
  }

  async closeCase(actor: Actor, id: string, closure: CaseClosure, expectedVersion: number | undefined): Promise<Case> {
    return this.change(actor, id, expectedVersion, 'case.closed', async (_tx, row) => {
      if (row.status !== 'open') throw new CaseNotOpen(row.status);
      return {
        row: { ...row, status: 'closed', closedAt: instantText(this.context.clock()), notes: notesWith(row.notes, closure) },
        audit: { outcome: closure.outcome },
      };
    });
  }

  /** Takes a case out of every count: opened by mistake, or cancelled at its source. */
  async voidCase(actor: Actor, id: string, reason: string, expectedVersion: number | undefined): Promise<Case> {
    return this.change(actor, id, expectedVersion, 'case.voided', async (tx, row) => {
      await this.parts.linking.caseVoided(tx, actor.orgId, id);
      return { row: { ...row, status: 'void', closedAt: instantText(this.context.clock()) }, audit: { reason } };
    });
  }

  async getCase(actor: Actor, id: string): Promise<Case> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, (tx) => this.wholeCase(tx, actor, id));
  }

  /** Readings that stand in what people wrote into the case and not among its readings: proposals, stored nowhere. */
  async proposeReadings(actor: Actor, id: string): Promise<ProposedReading[]> {
    const { complaintText, notes, repairs, evidence } = await this.getCase(actor, id);
    const known = new Set(evidence.readings.map(({ place, value, unit }) => JSON.stringify([place, value, unit])));
    return [
      ...(complaintText === null ? [] : readingsInText(complaintText).map((one) => ({ from: 'complaint' as const, ...one }))),
      ...(notes === null ? [] : readingsInText(notes).map((one) => ({ from: 'notes' as const, ...one }))),
      ...repairs.flatMap(({ note }) => (note === null ? [] : readingsInText(note).map((one) => ({ from: 'repair' as const, ...one })))),
    ].filter(({ reading: { place, value, unit } }) => !known.has(JSON.stringify([place, value, unit])));
  }

  async listCases(actor: Actor, filter: CaseFilter, page: PageInput): Promise<Page<CaseSummary>> {
    requirePermission(actor, 'cases:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'cases', ...filter });
    const after = decodeCursor(page.after, hash, 2);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listCases(tx, actor.orgId, actor.shopIds, filter, after, first + 1));
    return toPage(rows, first, hash, (row) => [row.openedAt, row.id]);
  }

  /** The case whole. @throws CaseNotFound also when it belongs to a shop this credential may not open. */
  async wholeCase(tx: Tx, actor: Actor, id: string): Promise<Case> {
    const row = await findCase(tx, actor.orgId, actor.shopIds, id);
    if (!row) throw new CaseNotFound(id);
    const evidence = await this.evidenceOf(tx, actor, row);
    const proofs = await proofsOfCases(tx, actor.orgId, [id]);
    const repairs = await repairsOfCases(tx, actor.orgId, [id]);
    const day = (row.status === 'open' ? instantText(this.context.clock()) : instantText(new Date(row.openedAt))).slice(0, 10);
    const policies = row.platformId === null ? [] : await policiesOn(tx, actor.orgId, row.platformId, null, day);
    return toCase(row, evidence, proofs, repairs, policies);
  }

  private async reviseFromSource(tx: Tx, actor: Actor, input: NewCase, before: CaseRow, hash: Buffer): Promise<OpenedCase['outcome']> {
    const source = input.source!;
    if (!mayOpenShop(actor, before.shopId)) throw new SourceElsewhere(source.system, source.reference);
    if (before.sourceHash && hash.equals(before.sourceHash)) return 'unchanged';
    if (source.revision <= (before.sourceRevision ?? 0)) {
      throw new SourceRevisionNotNewer(source.system, source.reference, source.revision, before.sourceRevision ?? 0);
    }
    if (before.status === 'void') throw new CaseVoided();
    const at = this.context.clock();
    const shop = (await findShop(tx, actor.orgId, before.shopId))!;
    const { vehicle, platform, warnings } = await this.parts.vehicles.identify(tx, actor, input.vehicle, '/vehicle', before.vehicleId);
    // Read again now that its vehicle is held: a proof may have come in between, or a merge.
    const stored = await findCase(tx, actor.orgId, null, before.id, { lockUnder: before.vehicleId });
    if (!stored) throw new VehicleMoved(`case ${before.id}`);
    if (stored.status === 'void') throw new CaseVoided();
    const accepted = acceptEvidence(input, shop, platform);
    const revision = stored.evidenceRevision + 1;
    await insertEvidence(tx, actor.orgId, stored.id, revision, accepted.evidence, at);
    await updateCase(
      tx,
      actor.orgId,
      {
        ...stored,
        evidenceRevision: revision,
        vehicleId: vehicle.id,
        platformId: platform?.id ?? null,
        complaint: input.complaint,
        complaintText: input.complaintText ?? null,
        notes: input.notes ?? null,
        openedAt: input.openedAt ?? stored.openedAt,
        odometerKm: input.odometer ? odometerKm(input.odometer, '/odometer') : null,
        sourceRevision: source.revision,
        sourceHash: hash,
        sourceLink: source.link ?? null,
        warnings: [...warnings, ...accepted.warnings],
      },
      at,
    );
    await this.parts.linking.caseMoved(tx, actor.orgId, stored.id, stored.vehicleId, vehicle.id);
    await appendAudit(tx, actor, at, 'case.revised', { type: 'case', id: stored.id }, { revision: source.revision });
    if (input.diagnose) {
      const row = await lockCase(tx, actor, stored.id);
      await this.parts.diagnosis.diagnoseIn(tx, actor, row, shop, platform, accepted.evidence);
    }
    return 'revised';
  }

  private addEvidence(
    actor: Actor,
    id: string,
    expectedVersion: number | undefined,
    action: string,
    add: (stored: Case['evidence'], context: JudgingContext) => Accepted,
  ): Promise<Case> {
    return this.change(actor, id, expectedVersion ?? 'any', action, async (tx, row, shop, platform) => {
      if (row.status !== 'open') throw new CaseNotOpen(row.status);
      const stored = await this.evidenceOf(tx, actor, row);
      return { row, accepted: add(stored, judgingOf(platform, shop, stored.conditions)) };
    });
  }

  /** One change of one case: locked, version checked, evidence revised, episodes derived again, audited. */
  private async change(
    actor: Actor,
    id: string,
    expectedVersion: number | undefined | 'any',
    action: string,
    decide: (
      tx: Tx,
      row: CaseRow,
      shop: Shop,
      platform: Platform | null,
    ) => Promise<{ row: CaseRow; accepted?: Accepted; audit?: Record<string, unknown> }>,
  ): Promise<Case> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await lockCase(tx, actor, id);
      if (expectedVersion !== 'any') requireVersion(expectedVersion, stored.version);
      if (stored.status === 'void') throw new CaseVoided();
      const shop = (await findShop(tx, actor.orgId, stored.shopId))!;
      const platform = stored.platformId === null ? null : await findPlatform(tx, actor.orgId, stored.platformId);
      const { row, accepted, audit } = await decide(tx, stored, shop, platform);
      const at = this.context.clock();
      const revised = accepted && accepted.evidence !== EMPTY_EVIDENCE;
      const next: CaseRow = revised
        ? { ...row, evidenceRevision: stored.evidenceRevision + 1, warnings: mergeWarnings(row.warnings, accepted.warnings) }
        : row;
      if (revised) await insertEvidence(tx, actor.orgId, id, next.evidenceRevision, accepted.evidence, at);
      await updateCase(tx, actor.orgId, next, at);
      if (next.vehicleId !== null) await this.parts.linking.relinkVehicle(tx, actor.orgId, next.vehicleId);
      await appendAudit(tx, actor, at, action, { type: 'case', id }, audit);
      return this.wholeCase(tx, actor, id);
    });
  }

  private async evidenceOf(tx: Tx, actor: Actor, row: CaseRow): Promise<Case['evidence']> {
    const evidence = await findEvidence(tx, actor.orgId, row.id, row.evidenceRevision);
    if (!evidence) throw new Error(`case ${row.id} has no evidence of revision ${row.evidenceRevision}`);
    return evidence;
  }
}

function mergeWarnings(before: readonly Warning[], added: readonly Warning[]): Warning[] {
  return [...before, ...added].slice(-50);
}
