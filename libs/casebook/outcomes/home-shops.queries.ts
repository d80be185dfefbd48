import type { Tx } from '#libs/database/index.js';

interface HomeRow {
  readonly vehicleId: string;
  readonly shopId: string;
}

/**
 * The shop that has seen each vehicle most often, for any job: it lives in that climate, wherever it was repaired. `vehicleIds` null: all of them.
 * A statement of its own, because planners that know nothing of fresh tables turn the join into a loop.
 */
export async function homeShops(tx: Tx, orgId: string, vehicleIds: readonly string[] | null): Promise<Map<string, string>> {
  const { rows } = vehicleIds === null ? await homesOfAll(tx, orgId) : await homesOf(tx, orgId, vehicleIds);
  return new Map(rows.map(({ vehicleId, shopId }) => [vehicleId, shopId]));
}

const homesOfAll = (tx: Tx, orgId: string) =>
  tx.query<HomeRow>({
    name: 'home-shops.all',
    text: `select vehicle_id as "vehicleId", mode() within group (order by shop_id) as "shopId"
             from (select vehicle_id, shop_id from sighting where org_id = $1
                   union all
                   select vehicle_id, shop_id from shop_case where org_id = $1 and vehicle_id is not null and status <> 'void') as seen
            group by vehicle_id`,
    values: [orgId],
  });

const homesOf = (tx: Tx, orgId: string, vehicleIds: readonly string[]) =>
  tx.query<HomeRow>({
    name: 'home-shops.of',
    text: `select vehicle_id as "vehicleId", mode() within group (order by shop_id) as "shopId"
             from (select vehicle_id, shop_id from sighting where org_id = $1 and vehicle_id = any($2::uuid[])
                   union all
                   select vehicle_id, shop_id from shop_case where org_id = $1 and vehicle_id = any($2::uuid[]) and status <> 'void') as seen
            group by vehicle_id`,
    values: [orgId, vehicleIds],
  });

/** Repairs with the shop their vehicle is most often seen at; that of the repair where the vehicle is not known. */
export function withHomes<T extends { readonly vehicleId: string | null; readonly shopId: string }>(
  spans: readonly T[],
  homes: ReadonlyMap<string, string>,
): (T & { readonly homeShopId: string })[] {
  return spans.map((span) => ({ ...span, homeShopId: (span.vehicleId === null ? undefined : homes.get(span.vehicleId)) ?? span.shopId }));
}

export function vehiclesOf(spans: readonly { readonly vehicleId: string | null }[]): string[] {
  return [...new Set(spans.flatMap(({ vehicleId }) => (vehicleId === null ? [] : [vehicleId])))];
}
