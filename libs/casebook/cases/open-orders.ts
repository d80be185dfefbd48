import { setImmediate as turn } from 'node:timers/promises';
import { standardAtmospherePressure } from '#libs/air/index.js';
import {
  type Case,
  type CaseClosure,
  DomainError,
  type Evidence,
  instantText,
  microseconds,
  type NewCase,
  type NewProof,
  type NewRepair,
  type Platform,
  type Proof,
  type Repair,
  type Shop,
  type Warning,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { JudgingContext } from '#libs/engine/index.js';
import type { Actor } from '../access/actor.js';
import { type AuditLine, appendAuditLines } from '../audit/audit.queries.js';
import { engineConditions } from '../diagnosis/engine-input.js';
import { appendEvents, type OutboxLine } from '../events/events.queries.js';
import { newId } from '../ids.js';
import { LinkBook } from '../outcomes/link-book.js';
import { insertProofs, insertRepairs } from '../repairs/repairs.queries.js';
import { labelOf, returnsAmong } from '../repairs/repairs.service.js';
import type { ShopsService } from '../shops/shops.service.js';
import type { KnownVehicle, VehicleBook } from '../vehicles/vehicle-book.js';
import { type SightingRow, upsertSightings } from '../vehicles/vehicles.queries.js';
import type { VehiclesService } from '../vehicles/vehicles.service.js';
import { insertCases, insertFirstEvidence, type NewCaseRow } from './cases.queries.js';
import { dayInZone } from './day-in-zone.js';
import { type Accepted, amendEvidence, EMPTY_EVIDENCE, judgingContext } from './evidence-rules.js';
import { odometerKm } from './quantities.js';

/** What an order that is not stored yet says: the case, and what else is known of it already. */
export interface NewOrder {
  readonly input: NewCase;
  /** Of the input, as `caseHash` makes it. */
  readonly hash: Buffer;
  readonly proofs?: readonly NewProof[];
  /** Given the day the car came in, in the shop's time zone. */
  readonly repairs?: (visitDay: string) => readonly NewRepair[];
  readonly closure?: CaseClosure | undefined;
  /** Why the order was cancelled. */
  readonly voided?: string | undefined;
}

/** The case an order was opened as, or why it was refused. */
export type Opening =
  | { readonly ok: true; readonly id: string; readonly shop: Shop; readonly platform: Platform | null; readonly evidence: Evidence }
  | { readonly ok: false; readonly error: DomainError };

/**
 * Opens orders that are not stored yet, each as if it had been sent by itself after the ones before it, with a number of statements that does not
 * depend on how many there are. An order that is refused leaves no trace and takes no other with it.
 */
export async function openOrders(
  tx: Tx,
  actor: Actor,
  orders: readonly NewOrder[],
  parts: { readonly shops: ShopsService; readonly vehicles: VehiclesService; readonly at: Date },
): Promise<Opening[]> {
  const { at } = parts;
  const [shopOf, vehicles] = await Promise.all([
    parts.shops.shopFinder(
      tx.ahead,
      actor,
      orders.map(({ input }) => input),
    ),
    parts.vehicles.bookOf(
      tx.ahead,
      actor,
      orders.map(({ input }) => input.vehicle),
      at,
    ),
  ]);
  // Read while the first orders are judged; whoever needs it hears of a failure.
  const opening = LinkBook.open(tx, actor.orgId, vehicles.storedIds());
  opening.catch(() => {});
  const sending = new Sending();
  const openings: Opening[] = [];
  for (let from = 0; from < orders.length; from += PAGE_ORDERS) {
    const judged = orders.slice(from, from + PAGE_ORDERS).map((order) => judge(order, shopOf, vehicles));
    const page = new OrderPage(await opening, at);
    for (const one of judged) {
      if (one instanceof DomainError) openings.push({ ok: false, error: one });
      else openings.push({ ok: true, id: page.write(one), shop: one.shop, platform: one.platform, evidence: one.evidence });
    }
    sending.add(vehicles.store(tx.ahead, actor.orgId, at));
    sending.add(page.store(tx.ahead, actor));
    await turn();
  }
  sending.add((await opening).store(tx.ahead, actor.orgId));
  await sending.done();
  return openings;
}

/** Orders that are written while the next ones are worked out: the database and this process work at the same time. */
const PAGE_ORDERS = 100;

/** Statements on their way in one transaction, which takes them one after the other. The first that failed is heard of when all have ended. */
class Sending {
  private readonly sent: Promise<void>[] = [];

  add(statements: Promise<void>): void {
    // Heard of in `done`; in between nobody may be listening.
    statements.catch(() => {});
    this.sent.push(statements);
  }

  async done(): Promise<void> {
    await Promise.allSettled(this.sent);
    await Promise.all(this.sent);
  }
}

function judge(order: NewOrder, shopOf: (named: NewCase) => Shop, vehicles: VehicleBook): Judged | DomainError {
  try {
    const { input } = order;
    const shop = shopOf(input);
    const { vehicle, platform, warnings, ...rest } = vehicles.identify(input.vehicle, '/vehicle');
    const accepted = acceptEvidence(input, shop, platform);
    const km = input.odometer ? odometerKm(input.odometer, '/odometer') : null;
    vehicles.accept({ vehicle, platform, warnings, ...rest });
    return { order, shop, vehicle, platform, evidence: accepted.evidence, warnings: [...warnings, ...accepted.warnings], km };
  } catch (error) {
    if (error instanceof DomainError) return error;
    throw error;
  }
}

interface Judged {
  readonly order: NewOrder;
  readonly shop: Shop;
  readonly vehicle: KnownVehicle;
  readonly platform: Platform | null;
  readonly evidence: Evidence;
  readonly warnings: readonly Warning[];
  readonly km: number | null;
}

/** The rows of some new orders, gathered in memory. */
class OrderPage {
  private readonly cases: NewCaseRow[] = [];
  private readonly evidence: { caseId: string; evidence: Evidence }[] = [];
  private readonly sightings = new Map<string, SightingRow>();
  private readonly proofs: Proof[] = [];
  private readonly repairs: Repair[] = [];
  private readonly audit: AuditLine[] = [];
  private readonly events: OutboxLine[] = [];

  constructor(
    private readonly links: LinkBook,
    private readonly at: Date,
  ) {}

  /** @returns the identifier of the new case. */
  write({ order, shop, vehicle, platform, evidence, warnings, km }: Judged): string {
    const { input, hash } = order;
    const id = newId();
    const openedAt = input.openedAt ?? instantText(this.at);
    const openedAtMicro = microseconds(openedAt);
    const day = dayInZone(openedAtMicro / 1000, shop.timeZone);
    const silent = input.backfill === true;
    this.audit.push({ action: 'case.opened', subject: { type: 'case', id }, change: { shopId: shop.id } });
    if (!silent) this.events.push({ kind: 'case.opened', subjectId: id, body: { caseId: id, shopId: shop.id } });
    this.evidence.push({ caseId: id, evidence });
    const sighting = { id: newId(), vehicleId: vehicle.id, shopId: shop.id, day, odometerKm: km };
    this.addSighting(sighting);
    const linkedBy = vehicle.vinHash ? 'vin' : vehicle.plateHash ? 'plate' : 'none';
    this.links.addVisit(
      { vehicleId: vehicle.id, platformId: vehicle.platformId, modelYear: vehicle.modelYear, linkedBy },
      {
        caseId: id,
        shopId: shop.id,
        platformId: platform?.id ?? null,
        day,
        openedAt: openedAtMicro,
        complaint: input.complaint,
        provedFaults: [],
        odometerKm: km,
      },
      sighting,
    );
    const proofs = this.writeProofs(id, vehicle.id, order.proofs ?? [], silent);
    const repaired = this.writeRepairs(id, vehicle.id, shop.id, order.repairs?.(day) ?? [], silent);
    const ending = this.writeEnding(id, vehicle.id, order);
    this.cases.push({
      id,
      version: 1 + proofs.length + repaired + (ending.status === 'open' ? 0 : 1),
      shopId: shop.id,
      vehicleId: vehicle.id,
      platformId: platform?.id ?? null,
      complaint: input.complaint,
      complaintText: input.complaintText ?? null,
      openedAt,
      odometerKm: km,
      provedFaults: labelOf(proofs),
      source: input.source
        ? {
            system: input.source.system,
            reference: input.source.reference,
            revision: input.source.revision,
            hash,
            link: input.source.link ?? null,
          }
        : null,
      backfill: input.backfill ?? false,
      warnings,
      ...ending,
    });
    return id;
  }

  /** Hands everything to the transaction at once, which takes it in this order. */
  async store(tx: Tx, actor: Actor): Promise<void> {
    if (this.cases.length === 0) return;
    const { orgId } = actor;
    await Promise.all([
      insertCases(tx, orgId, this.cases, this.at),
      insertFirstEvidence(tx, orgId, this.evidence, this.at),
      upsertSightings(tx, orgId, [...this.sightings.values()]),
      insertProofs(tx, orgId, this.proofs),
      insertRepairs(tx, orgId, this.repairs),
      appendAuditLines(tx, actor, this.at, this.audit),
      appendEvents(tx, orgId, this.at, this.events),
    ]);
  }

  private writeProofs(id: string, vehicleId: string, given: readonly NewProof[], silent: boolean): Proof[] {
    const proofs: Proof[] = [];
    for (const one of given) {
      const proof: Proof = { id: newId(), caseId: id, createdAt: instantText(this.at), ...one, faults: [...new Set(one.faults)] };
      proofs.push(proof);
      this.proofs.push(proof);
      this.audit.push({ action: 'case.proved', subject: { type: 'case', id }, change: { faults: proof.faults, method: proof.method } });
      this.links.setProved(vehicleId, id, labelOf(proofs));
      if (!silent) this.tellReturns(vehicleId);
    }
    return proofs;
  }

  /** @returns how many there are. */
  private writeRepairs(id: string, vehicleId: string, shopId: string, given: readonly NewRepair[], silent: boolean): number {
    for (const one of given) {
      const repair: Repair = {
        id: newId(),
        caseId: id,
        shopId,
        vehicleId,
        createdAt: instantText(this.at),
        ...one,
        machineId: one.machineId ?? null,
      };
      const { fault, action, intent, day } = repair;
      this.repairs.push(repair);
      this.audit.push({ action: 'case.repaired', subject: { type: 'case', id }, change: { fault, action, intent } });
      this.links.addRepair(vehicleId, { repairId: repair.id, caseId: id, shopId, fault, action, intent, day });
      if (silent) continue;
      this.events.push({ kind: 'case.repaired', subjectId: id, body: { caseId: id, repairId: repair.id, action, intent } });
      this.tellReturns(vehicleId);
    }
    return given.length;
  }

  private writeEnding(
    id: string,
    vehicleId: string,
    { input, closure, voided }: NewOrder,
  ): Pick<NewCaseRow, 'status' | 'closedAt' | 'notes'> {
    const notes = input.notes ?? null;
    const closedAt = instantText(this.at);
    if (voided !== undefined) {
      this.links.voidVisit(vehicleId, id);
      this.audit.push({ action: 'case.voided', subject: { type: 'case', id }, change: { reason: voided } });
      return { status: 'void', closedAt, notes };
    }
    if (!closure) return { status: 'open', closedAt: null, notes };
    this.audit.push({ action: 'case.closed', subject: { type: 'case', id }, change: { outcome: closure.outcome } });
    return { status: 'closed', closedAt, notes: notesWith(notes, closure) };
  }

  private tellReturns(vehicleId: string): void {
    for (const change of returnsAmong(this.links.derive(vehicleId))) {
      this.events.push({ kind: 'case.returned', subjectId: change.endCaseId, body: { ...change } });
    }
  }

  private addSighting(sighting: SightingRow): void {
    const key = `${sighting.vehicleId} ${sighting.shopId} ${sighting.day}`;
    const same = this.sightings.get(key);
    const km =
      same && same.odometerKm !== null && (sighting.odometerKm === null || same.odometerKm > sighting.odometerKm) ? same.odometerKm : null;
    this.sightings.set(key, same ? { ...same, odometerKm: km ?? sighting.odometerKm } : sighting);
  }
}

/** The notes of a case after what was said on closing it. */
export function notesWith(notes: string | null, closure: CaseClosure): string | null {
  return closure.note === undefined ? notes : [notes, closure.note].filter((part) => part !== null).join('\n');
}

/** The evidence of an order, judged by itself. @throws ImplausibleEvidence */
export function acceptEvidence(input: NewCase, shop: Shop, platform: Platform | null): Accepted {
  const given = input.evidence ?? {};
  return amendEvidence(EMPTY_EVIDENCE, given, judgingOf(platform, shop, given.conditions ?? {}), '/evidence');
}

/** What values are judged against at a shop, on a platform, in the conditions of a test. */
export function judgingOf(platform: Platform | null, shop: Shop, conditions: Case['evidence']['conditions']): JudgingContext {
  const si = engineConditions(conditions, '', []);
  const station = conditions.barometerKind === 'station' ? si.barometerPa : undefined;
  return judgingContext(platform, station ?? standardAtmospherePressure(shop.elevationM), si.outsideAirK);
}
