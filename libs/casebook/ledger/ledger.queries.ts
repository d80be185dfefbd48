import type { Cylinder, Entry, EntryFilter, HoldingsFilter, Machine, RefrigerantName } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const MACHINE = `id, version, shop_id as "shopId", name, refrigerant, scale_error_g as "scaleErrorG", checked_on::text as "checkedOn",
  retired_on::text as "retiredOn", created_at as "createdAt"`;
const CYLINDER = `id, version, shop_id as "shopId", label, refrigerant, content, capacity_g as "capacityG", retired_on::text as "retiredOn",
  created_at as "createdAt"`;
const ENTRY = `id, version, shop_id as "shopId", kind, refrigerant, mass_g as "massG", day::text as day, document, note,
  cylinder_id as "cylinderId", machine_id as "machineId", to_shop_id as "toShopId", created_at as "createdAt"`;
const SHOPS = '($2::uuid[] is null or shop_id = any($2))';

type ShopIds = readonly string[] | null;

export async function putMachine(tx: Tx, orgId: string, one: Machine): Promise<void> {
  await tx.query({
    name: 'ledger.put-machine',
    text: `insert into charging_machine (org_id, id, version, shop_id, name, refrigerant, scale_error_g, checked_on, retired_on, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
           on conflict (org_id, id) do update set version = excluded.version, name = excluded.name, scale_error_g = excluded.scale_error_g,
             checked_on = excluded.checked_on, retired_on = excluded.retired_on`,
    values: [
      orgId,
      one.id,
      one.version,
      one.shopId,
      one.name,
      one.refrigerant,
      one.scaleErrorG,
      one.checkedOn,
      one.retiredOn,
      one.createdAt,
    ],
  });
}

export async function putCylinder(tx: Tx, orgId: string, one: Cylinder): Promise<void> {
  await tx.query({
    name: 'ledger.put-cylinder',
    text: `insert into refrigerant_cylinder (org_id, id, version, shop_id, label, refrigerant, content, capacity_g, retired_on, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
           on conflict (org_id, id) do update set version = excluded.version, label = excluded.label, content = excluded.content,
             capacity_g = excluded.capacity_g, retired_on = excluded.retired_on`,
    values: [orgId, one.id, one.version, one.shopId, one.label, one.refrigerant, one.content, one.capacityG, one.retiredOn, one.createdAt],
  });
}

export async function putEntry(tx: Tx, orgId: string, one: Entry): Promise<void> {
  await tx.query({
    name: 'ledger.put-entry',
    text: `insert into refrigerant_entry (org_id, id, version, shop_id, kind, refrigerant, mass_g, day, cylinder_id, machine_id, to_shop_id, document, note,
                                          created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
           on conflict (org_id, id) do update set version = excluded.version, mass_g = excluded.mass_g, day = excluded.day,
             document = excluded.document, note = excluded.note`,
    values: [
      orgId,
      one.id,
      one.version,
      one.shopId,
      one.kind,
      one.refrigerant,
      one.massG,
      one.day,
      one.cylinderId,
      one.machineId,
      one.toShopId,
      one.document,
      one.note,
      one.createdAt,
    ],
  });
}

export async function findMachine(tx: Tx, orgId: string, shopIds: ShopIds, id: string): Promise<Machine | null> {
  const { rows } = await tx.query<Machine>({
    name: 'ledger.machine',
    text: `select ${MACHINE} from charging_machine where org_id = $1 and ${SHOPS} and id = $3 for update`,
    values: [orgId, shopIds, id],
  });
  return rows[0] ?? null;
}

export async function findCylinder(tx: Tx, orgId: string, shopIds: ShopIds, id: string): Promise<Cylinder | null> {
  const { rows } = await tx.query<Cylinder>({
    name: 'ledger.cylinder',
    text: `select ${CYLINDER} from refrigerant_cylinder where org_id = $1 and ${SHOPS} and id = $3 for update`,
    values: [orgId, shopIds, id],
  });
  return rows[0] ?? null;
}

export async function findEntry(tx: Tx, orgId: string, shopIds: ShopIds, id: string): Promise<Entry | null> {
  const { rows } = await tx.query<Entry>({
    name: 'ledger.entry',
    text: `select ${ENTRY} from refrigerant_entry where org_id = $1 and ${SHOPS} and id = $3 for update`,
    values: [orgId, shopIds, id],
  });
  return rows[0] ?? null;
}

export async function listMachines(tx: Tx, orgId: string, shopIds: ShopIds, filter: HoldingsFilter, after: string | null, limit: number) {
  const { rows } = await tx.query<Machine>({
    name: 'ledger.machines',
    text: `select ${MACHINE} from charging_machine
            where org_id = $1 and ${SHOPS} and ($3::uuid is null or shop_id = $3) and ($4::text is null or refrigerant = $4) and ($5::uuid is null or id > $5)
            order by id limit $6`,
    values: [orgId, shopIds, filter.shopId ?? null, filter.refrigerant ?? null, after, limit],
  });
  return rows;
}

export async function listCylinders(tx: Tx, orgId: string, shopIds: ShopIds, filter: HoldingsFilter, after: string | null, limit: number) {
  const { rows } = await tx.query<Cylinder>({
    name: 'ledger.cylinders',
    text: `select ${CYLINDER} from refrigerant_cylinder
            where org_id = $1 and ${SHOPS} and ($3::uuid is null or shop_id = $3) and ($4::text is null or refrigerant = $4) and ($5::uuid is null or id > $5)
            order by id limit $6`,
    values: [orgId, shopIds, filter.shopId ?? null, filter.refrigerant ?? null, after, limit],
  });
  return rows;
}

/** Entries, newest day first. */
export async function listEntries(
  tx: Tx,
  orgId: string,
  shopIds: ShopIds,
  filter: EntryFilter,
  after: readonly string[] | null,
  limit: number | null,
): Promise<Entry[]> {
  const { rows } = await tx.query<Entry>({
    name: 'ledger.entries',
    text: `select ${ENTRY} from refrigerant_entry
            where org_id = $1 and ${SHOPS} and ($3::uuid is null or shop_id = $3) and ($4::text is null or refrigerant = $4)
              and ($5::text is null or kind = $5) and ($6::date is null or day >= $6) and ($7::date is null or day < $7)
              and ($8::date is null or (day, id) < ($8::date, $9::uuid))
            order by day desc, id desc limit $10`,
    values: [
      orgId,
      shopIds,
      filter.shopId ?? null,
      filter.refrigerant ?? null,
      filter.kind ?? null,
      filter.since ?? null,
      filter.until ?? null,
      after?.[0] ?? null,
      after?.[1] ?? null,
      limit,
    ],
  });
  return rows;
}

export async function deleteEntry(tx: Tx, orgId: string, id: string): Promise<void> {
  await tx.query({ name: 'ledger.delete-entry', text: 'delete from refrigerant_entry where org_id = $1 and id = $2', values: [orgId, id] });
}

/** @returns false where entries or repairs name the machine. */
export async function deleteMachine(tx: Tx, orgId: string, id: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'ledger.delete-machine',
    text: `delete from charging_machine where org_id = $1 and id = $2
              and not exists (select from refrigerant_entry e where e.org_id = $1 and e.machine_id = $2)
              and not exists (select from repair r where r.org_id = $1 and r.machine_id = $2)`,
    values: [orgId, id],
  });
  return rowCount > 0;
}

/** @returns false where entries name the cylinder. */
export async function deleteCylinder(tx: Tx, orgId: string, id: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'ledger.delete-cylinder',
    text: `delete from refrigerant_cylinder where org_id = $1 and id = $2
              and not exists (select from refrigerant_entry e where e.org_id = $1 and e.cylinder_id = $2)`,
    values: [orgId, id],
  });
  return rowCount > 0;
}

/** What repairs of one day took out of vehicles and put in. */
export interface HandledDay {
  readonly shopId: string;
  readonly day: string;
  readonly refrigerant: RefrigerantName;
  readonly recoveredG: number;
  readonly chargedG: number;
  readonly weighings: number;
}

/** From the first day on: a balance is carried from stock take to stock take. */
export async function handledDays(tx: Tx, orgId: string, until: string | null): Promise<HandledDay[]> {
  const { rows } = await tx.query<HandledDay>({
    name: 'ledger.handled',
    text: `select r.shop_id as "shopId", r.day::text as day, coalesce(m.refrigerant, p.refrigerant) as refrigerant,
                  coalesce(sum(r.recovered_g), 0) as "recoveredG", coalesce(sum(r.charged_g), 0) as "chargedG",
                  (count(r.recovered_g) + count(r.charged_g))::int as weighings
             from repair r
             join shop_case c on c.org_id = r.org_id and c.id = r.case_id
             left join platform p on p.org_id = c.org_id and p.id = c.platform_id
             left join charging_machine m on m.org_id = r.org_id and m.id = r.machine_id
            where r.org_id = $1 and c.status <> 'void' and (r.recovered_g is not null or r.charged_g is not null)
              and coalesce(m.refrigerant, p.refrigerant) is not null and ($2::date is null or r.day < $2)
            group by 1, 2, 3`,
    values: [orgId, until],
  });
  return rows;
}
