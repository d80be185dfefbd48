import { v7 as uuidv7 } from 'uuid';
import {
  type Cylinder,
  type CylinderPatch,
  type Deleted,
  type Entry,
  type EntryFilter,
  type EntryPatch,
  type HoldingsFilter,
  instantText,
  type LedgerQuestion,
  type Machine,
  type MachinePatch,
  type NewCylinder,
  type NewEntry,
  type NewMachine,
  type Page,
  type PageInput,
  type RefrigerantLedger,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { PeriodUpsideDown } from '../outcomes/outcomes.errors.js';
import { shownShops } from '../outcomes/shop-names.js';
import { reviewedShops } from '../outcomes/shops-review.queries.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { requireVersion } from '../versions.errors.js';
import { CylinderNotFound, EntryContradicts, EntryNotFound, MachineNotFound, StillInUse } from './ledger.errors.js';
import {
  deleteCylinder,
  deleteEntry,
  deleteMachine,
  findCylinder,
  findEntry,
  findMachine,
  handledDays,
  listCylinders,
  listEntries,
  listMachines,
  putCylinder,
  putEntry,
  putMachine,
} from './ledger.queries.js';
import { refrigerantLedger } from './refrigerant-ledger.js';

/** What a shop holds of refrigerant: the machines and cylinders, what came, went and was counted, and whether it adds up. */
export class LedgerService {
  constructor(private readonly context: CasebookContext) {}

  async listMachines(actor: Actor, filter: HoldingsFilter, page: PageInput): Promise<Page<Machine>> {
    return this.paged(actor, 'machines', filter, page, listMachines);
  }

  async listCylinders(actor: Actor, filter: HoldingsFilter, page: PageInput): Promise<Page<Cylinder>> {
    return this.paged(actor, 'cylinders', filter, page, listCylinders);
  }

  async listEntries(actor: Actor, filter: EntryFilter, page: PageInput): Promise<Page<Entry>> {
    requirePermission(actor, 'shops:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'refrigerant-entries', ...filter });
    const after = decodeCursor(page.after, hash, 2);
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.openShop(tx, actor, filter.shopId, 'shopId');
      const rows = await listEntries(tx, actor.orgId, actor.shopIds, filter, after, first + 1);
      return toPage(rows, first, hash, (entry) => [entry.day, entry.id]);
    });
  }

  async addMachine(actor: Actor, input: NewMachine): Promise<Machine> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.openShop(tx, actor, input.shopId, '/shopId');
      const at = this.context.clock();
      const machine: Machine = { id: uuidv7(), version: 1, checkedOn: null, retiredOn: null, ...input, createdAt: instantText(at) };
      await putMachine(tx, actor.orgId, machine);
      await appendAudit(tx, actor, at, 'machine.added', { type: 'machine', id: machine.id }, { shopId: machine.shopId });
      return machine;
    });
  }

  async changeMachine(actor: Actor, id: string, patch: MachinePatch, expectedVersion: number | undefined): Promise<Machine> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await findMachine(tx, actor.orgId, actor.shopIds, id);
      if (!stored) throw new MachineNotFound(id);
      requireVersion(expectedVersion, stored.version);
      const changed: Machine = { ...stored, ...patch, version: stored.version + 1 };
      await putMachine(tx, actor.orgId, changed);
      await this.audit(tx, actor, 'machine.changed', 'machine', id, { fields: Object.keys(patch) });
      return changed;
    });
  }

  async removeMachine(actor: Actor, id: string): Promise<Deleted> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findMachine(tx, actor.orgId, actor.shopIds, id))) throw new MachineNotFound(id);
      if (!(await deleteMachine(tx, actor.orgId, id))) throw new StillInUse('machine');
      await this.audit(tx, actor, 'machine.removed', 'machine', id);
      return { id };
    });
  }

  async addCylinder(actor: Actor, input: NewCylinder): Promise<Cylinder> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.openShop(tx, actor, input.shopId, '/shopId');
      const at = this.context.clock();
      const cylinder: Cylinder = { id: uuidv7(), version: 1, retiredOn: null, ...input, createdAt: instantText(at) };
      await putCylinder(tx, actor.orgId, cylinder);
      await appendAudit(tx, actor, at, 'cylinder.added', { type: 'cylinder', id: cylinder.id }, { shopId: cylinder.shopId });
      return cylinder;
    });
  }

  async changeCylinder(actor: Actor, id: string, patch: CylinderPatch, expectedVersion: number | undefined): Promise<Cylinder> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await findCylinder(tx, actor.orgId, actor.shopIds, id);
      if (!stored) throw new CylinderNotFound(id);
      requireVersion(expectedVersion, stored.version);
      const changed: Cylinder = { ...stored, ...patch, version: stored.version + 1 };
      await putCylinder(tx, actor.orgId, changed);
      await this.audit(tx, actor, 'cylinder.changed', 'cylinder', id, { fields: Object.keys(patch) });
      return changed;
    });
  }

  async removeCylinder(actor: Actor, id: string): Promise<Deleted> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findCylinder(tx, actor.orgId, actor.shopIds, id))) throw new CylinderNotFound(id);
      if (!(await deleteCylinder(tx, actor.orgId, id))) throw new StillInUse('cylinder');
      await this.audit(tx, actor, 'cylinder.removed', 'cylinder', id);
      return { id };
    });
  }

  /** Records what was bought, sent out or counted. */
  async addEntry(actor: Actor, input: NewEntry): Promise<Entry> {
    requirePermission(actor, 'refrigerant:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.openShop(tx, actor, input.shopId, '/shopId');
      await this.openShop(tx, actor, input.toShopId, '/toShopId');
      await this.judge(tx, actor, input);
      const at = this.context.clock();
      this.refuseFuture(input.day);
      const entry: Entry = {
        id: uuidv7(),
        version: 1,
        document: null,
        note: null,
        cylinderId: null,
        machineId: null,
        toShopId: null,
        ...input,
        createdAt: instantText(at),
      };
      await putEntry(tx, actor.orgId, entry);
      const { kind, shopId, massG, day } = entry;
      await appendAudit(tx, actor, at, 'refrigerant.entered', { type: 'refrigerant-entry', id: entry.id }, { kind, shopId, massG, day });
      return entry;
    });
  }

  async changeEntry(actor: Actor, id: string, patch: EntryPatch, expectedVersion: number | undefined): Promise<Entry> {
    requirePermission(actor, 'refrigerant:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await findEntry(tx, actor.orgId, actor.shopIds, id);
      if (!stored) throw new EntryNotFound(id);
      requireVersion(expectedVersion, stored.version);
      const changed: Entry = { ...stored, ...patch, version: stored.version + 1 };
      this.refuseFuture(changed.day);
      await putEntry(tx, actor.orgId, changed);
      const before = { massG: stored.massG, day: stored.day };
      await this.audit(tx, actor, 'refrigerant.corrected', 'refrigerant-entry', id, {
        before,
        after: { massG: changed.massG, day: changed.day },
      });
      return changed;
    });
  }

  async removeEntry(actor: Actor, id: string): Promise<Deleted> {
    requirePermission(actor, 'refrigerant:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await findEntry(tx, actor.orgId, actor.shopIds, id);
      if (!stored) throw new EntryNotFound(id);
      await deleteEntry(tx, actor.orgId, id);
      const { kind, shopId, massG, day, refrigerant } = stored;
      await this.audit(tx, actor, 'refrigerant.removed', 'refrigerant-entry', id, { kind, shopId, massG, day, refrigerant });
      return { id };
    });
  }

  /** Whether the refrigerant of each shop adds up, month by month. */
  async refrigerantLedger(actor: Actor, question: LedgerQuestion): Promise<RefrigerantLedger> {
    requirePermission(actor, 'outcomes:read');
    const { until, shopId, refrigerant, assessment = 'AR4' } = question;
    const today = this.context.clock();
    const since = question.since ?? new Date(today.getTime() - YEAR_MS).toISOString().slice(0, 10);
    if (until !== undefined && until <= since) throw new PeriodUpsideDown(since, until);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      await this.openShop(tx, actor, shopId, 'shopId');
      const shops = await reviewedShops(tx, orgId);
      return refrigerantLedger({
        since,
        until: until ?? null,
        today: today.toISOString().slice(0, 10),
        assessment,
        isAsked: (one) => (shopId === undefined || one.shopId === shopId) && (refrigerant === undefined || one.refrigerant === refrigerant),
        entries: await listEntries(tx, orgId, null, {}, null, null),
        handled: await handledDays(tx, orgId, null),
        machines: await listMachines(tx, orgId, null, {}, null, ALL),
        cylinders: await listCylinders(tx, orgId, null, {}, null, ALL),
        ...shownShops(actor, shops),
      });
    });
  }

  /** A cylinder or machine must lie at the entry's shop and hold its refrigerant. */
  private async judge(tx: Tx, actor: Actor, input: NewEntry): Promise<void> {
    if (input.toShopId !== undefined && (input.kind !== 'shipment' || input.toShopId === input.shopId)) {
      throw new EntryContradicts('/toShopId', 'Only a shipment goes to another shop.', 'Leave toShopId out, or name another shop.');
    }
    if (input.cylinderId !== undefined && input.machineId !== undefined) {
      throw new EntryContradicts('/machineId', 'An entry is about a cylinder or a machine, not both.', 'Send two entries.');
    }
    const cylinder = input.cylinderId === undefined ? null : await findCylinder(tx, actor.orgId, actor.shopIds, input.cylinderId);
    if (input.cylinderId !== undefined && !cylinder) throw new CylinderNotFound(input.cylinderId, '/cylinderId');
    const machine = input.machineId === undefined ? null : await findMachine(tx, actor.orgId, actor.shopIds, input.machineId);
    if (input.machineId !== undefined && !machine) throw new MachineNotFound(input.machineId, '/machineId');
    const named = cylinder ?? machine;
    if (!named) return;
    const pointer = cylinder ? '/cylinderId' : '/machineId';
    if (named.shopId !== input.shopId) {
      throw new EntryContradicts(pointer, 'It lies at another shop than the entry.', 'Name the shop at which it lies.');
    }
    if (named.refrigerant !== input.refrigerant) {
      throw new EntryContradicts(
        pointer,
        `It is for ${named.refrigerant}, the entry for ${input.refrigerant}.`,
        'Refrigerants must never be mixed: look which one it holds, and correct the entry.',
      );
    }
    if (cylinder && input.kind === 'stock-take' && input.massG > cylinder.capacityG) {
      throw new EntryContradicts(
        '/massG',
        `${input.massG} g is more than the ${cylinder.capacityG} g this cylinder may hold.`,
        'Take the mass of the cylinder itself off, or correct its capacity. An overfilled cylinder is dangerous: take it out of use.',
      );
    }
  }

  private refuseFuture(day: string): void {
    // A day ahead is tomorrow somewhere.
    const latest = new Date(this.context.clock().getTime() + DAY_MS).toISOString().slice(0, 10);
    if (day > latest) throw new EntryContradicts('/day', `${day} has not come yet.`, 'Enter what has happened, on the day it happened.');
  }

  private async openShop(tx: Tx, actor: Actor, shopId: string | undefined, pointer: string): Promise<void> {
    if (shopId === undefined) return;
    if (!(mayOpenShop(actor, shopId) && (await findShop(tx, actor.orgId, shopId)))) throw new ShopNotFound(shopId, pointer);
  }

  private async paged<T extends { readonly id: string }>(
    actor: Actor,
    list: string,
    filter: HoldingsFilter,
    page: PageInput,
    read: (
      tx: Tx,
      orgId: string,
      shopIds: readonly string[] | null,
      filter: HoldingsFilter,
      after: string | null,
      limit: number,
    ) => Promise<T[]>,
  ): Promise<Page<T>> {
    requirePermission(actor, 'shops:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list, ...filter });
    const after = decodeCursor(page.after, hash, 1);
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.openShop(tx, actor, filter.shopId, 'shopId');
      const rows = await read(tx, actor.orgId, actor.shopIds, filter, after?.[0] ?? null, first + 1);
      return toPage(rows, first, hash, ({ id }) => [id]);
    });
  }

  private audit(tx: Tx, actor: Actor, action: string, type: string, id: string, change: Record<string, unknown> = {}): Promise<void> {
    return appendAudit(tx, actor, this.context.clock(), action, { type, id }, change);
  }
}

const DAY_MS = 86_400_000;
const YEAR_MS = 365 * DAY_MS;
/** Machines and cylinders of an organisation read for its balance. */
const ALL = 100_000;
