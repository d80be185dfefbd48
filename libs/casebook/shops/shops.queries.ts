import type { NewShop, Shop } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, version, code, name, elevation_m as "elevationM", time_zone as "timeZone", normals, currency,
  labour_rate as "labourRate", created_at as "createdAt"`;

export async function insertShop(tx: Tx, orgId: string, id: string, shop: NewShop, at: Date): Promise<void> {
  await tx.query({
    name: 'shops.insert',
    text: `insert into shop (org_id, id, version, code, name, elevation_m, time_zone, normals, currency, labour_rate, created_at, updated_at)
           values ($1, $2, 1, $3, $4, $5, $6, $7, $8, $9, $10, $10)`,
    values: [
      orgId,
      id,
      shop.code,
      shop.name,
      shop.elevationM,
      shop.timeZone,
      JSON.stringify(shop.normals),
      shop.currency,
      shop.labourRate,
      at.toISOString(),
    ],
  });
}

export async function updateShop(tx: Tx, orgId: string, shop: Shop, at: Date): Promise<void> {
  await tx.query({
    name: 'shops.update',
    text: `update shop set version = version + 1, code = $3, name = $4, elevation_m = $5, time_zone = $6, normals = $7, currency = $8,
                  labour_rate = $9, updated_at = $10
            where org_id = $1 and id = $2`,
    values: [
      orgId,
      shop.id,
      shop.code,
      shop.name,
      shop.elevationM,
      shop.timeZone,
      JSON.stringify(shop.normals),
      shop.currency,
      shop.labourRate,
      at.toISOString(),
    ],
  });
}

export async function findShop(tx: Tx, orgId: string, id: string, options: { lock?: boolean } = {}): Promise<Shop | null> {
  const { rows } = await tx.query<Shop>({
    name: options.lock ? 'shops.lock' : 'shops.find',
    text: `select ${COLUMNS} from shop where org_id = $1 and id = $2 ${options.lock ? 'for update' : ''}`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

/** Shops by identifier or code. */
export async function shopsNamed(tx: Tx, orgId: string, ids: readonly string[], codes: readonly string[]): Promise<Shop[]> {
  const { rows } = await tx.query<Shop>({
    name: 'shops.named',
    text: `select ${COLUMNS} from shop where org_id = $1 and (id = any($2) or code = any($3))`,
    values: [orgId, ids, codes],
  });
  return rows;
}

/** Shops in order of their code. `shopIds` null: all of them. */
export async function listShops(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  after: string | null,
  limit: number,
): Promise<Shop[]> {
  const { rows } = await tx.query<Shop>({
    name: 'shops.list',
    text: `select ${COLUMNS} from shop
            where org_id = $1 and ($2::uuid[] is null or id = any($2)) and ($3::text is null or code > $3)
            order by code limit $4`,
    values: [orgId, shopIds, after, limit],
  });
  return rows;
}
