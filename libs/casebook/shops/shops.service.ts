import { v7 as uuidv7 } from 'uuid';
import { instantText, type NewShop, type Page, type PageInput, type Shop, type ShopPatch } from '#libs/contracts/index.js';
import { constraintOf, type Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { REBUILD_TASK } from '../outcomes/rebuild-task.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { TasksService } from '../tasks/tasks.service.js';
import { requireVersion } from '../versions.errors.js';
import { ShopCodeTaken, ShopNotFound, ShopUnnamed } from './shops.errors.js';
import { findShop, insertShop, listShops, shopsNamed, updateShop } from './shops.queries.js';

export class ShopsService {
  constructor(private readonly context: CasebookContext) {}

  async addShop(actor: Actor, input: NewShop): Promise<Shop> {
    requirePermission(actor, 'shops:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const id = uuidv7();
      const at = this.context.clock();
      try {
        await insertShop(tx, actor.orgId, id, input, at);
      } catch (error) {
        if (constraintOf(error) === 'shop_org_id_code_key') throw new ShopCodeTaken(input.code);
        throw error;
      }
      await appendAudit(tx, actor, at, 'shop.added', { type: 'shop', id }, { code: input.code });
      return { id, version: 1, createdAt: instantText(at), ...input };
    });
  }

  async changeShop(actor: Actor, id: string, patch: ShopPatch, expectedVersion: number | undefined): Promise<Shop> {
    requirePermission(actor, 'shops:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const shop = await findShop(tx, actor.orgId, id, { lock: true });
      if (!shop || !mayOpenShop(actor, id)) throw new ShopNotFound(id, 'id');
      requireVersion(expectedVersion, shop.version);
      const changed: Shop = { ...shop, ...patch };
      const at = this.context.clock();
      try {
        await updateShop(tx, actor.orgId, changed, at);
      } catch (error) {
        if (constraintOf(error) === 'shop_org_id_code_key') throw new ShopCodeTaken(changed.code);
        throw error;
      }
      await appendAudit(tx, actor, at, 'shop.changed', { type: 'shop', id }, { fields: Object.keys(patch) });
      if (changed.timeZone !== shop.timeZone) {
        // The days of its visits are others now, and with them how repairs ended.
        await new TasksService(boundTo(this.context, tx, actor.orgId)).startTask(actor.orgId, REBUILD_TASK, 0);
      }
      return { ...changed, version: shop.version + 1 };
    });
  }

  async getShop(actor: Actor, id: string): Promise<Shop> {
    requirePermission(actor, 'shops:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const shop = mayOpenShop(actor, id) ? await findShop(tx, actor.orgId, id) : null;
      if (!shop) throw new ShopNotFound(id, 'id');
      return shop;
    });
  }

  /** Several at once, for lists that show their shops; those this credential may not open are left out. */
  async shopsByIds(actor: Actor, ids: readonly string[]): Promise<Shop[]> {
    requirePermission(actor, 'shops:read');
    const open = ids.filter((id) => mayOpenShop(actor, id));
    return this.context.inTenant(actor.orgId, (tx) => listShops(tx, actor.orgId, open, null, open.length));
  }

  async listShops(actor: Actor, page: PageInput): Promise<Page<Shop>> {
    requirePermission(actor, 'shops:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'shops' });
    const after = decodeCursor(page.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listShops(tx, actor.orgId, actor.shopIds, after?.[0] ?? null, first + 1));
    return toPage(rows, first, hash, (shop) => [shop.code]);
  }

  /** The shop a request names, as `shopFinder` finds it. */
  async resolveShop(tx: Tx, actor: Actor, named: NamedShop): Promise<Shop> {
    return (await this.shopFinder(tx, actor, [named]))(named);
  }

  /**
   * Finds the shops that several requests name by identifier or code, or the credential's only shop where they name none. What it gives throws
   * ShopUnnamed, or ShopNotFound when a shop is not there or not open to this credential (the two are not told apart).
   */
  async shopFinder(tx: Tx, actor: Actor, named: readonly NamedShop[]): Promise<(one: NamedShop) => Shop> {
    const ids = new Set<string>();
    const codes = new Set<string>();
    let unnamed = false;
    for (const { shopId, shopCode } of named) {
      if (shopId !== undefined) ids.add(shopId);
      else if (shopCode !== undefined) codes.add(shopCode);
      else unnamed = true;
    }
    const found = ids.size + codes.size > 0 ? await shopsNamed(tx, actor.orgId, [...ids], [...codes]) : [];
    const own = unnamed ? await listShops(tx, actor.orgId, actor.shopIds, null, 2) : [];
    const open = found.filter((shop) => mayOpenShop(actor, shop.id));
    const byId = new Map(open.map((shop) => [shop.id, shop]));
    const byCode = new Map(open.map((shop) => [shop.code, shop]));
    return ({ shopId, shopCode }) => {
      const shop = shopId !== undefined ? byId.get(shopId.toLowerCase()) : shopCode !== undefined ? byCode.get(shopCode) : own[0];
      if (shop && (shopId !== undefined || shopCode !== undefined || own.length === 1)) return shop;
      if (shopId !== undefined) throw new ShopNotFound(shopId, '/shopId');
      if (shopCode !== undefined) throw new ShopNotFound(shopCode, '/shopCode');
      throw new ShopUnnamed();
    };
  }
}

interface NamedShop {
  readonly shopId?: string | undefined;
  readonly shopCode?: string | undefined;
}
