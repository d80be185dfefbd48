import type { VehicleMerge } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { forgetOwnReadings } from './vehicles.queries.js';

const COLUMNS = `id, vehicle_id as "vehicleId", merged_id as "mergedId", reason, cardinality(case_ids) as cases,
  cardinality(sighting_ids) as sightings, merged_at as "mergedAt", undone_at as "undoneAt"`;

/** The record that stands for a vehicle today: itself, or that into which it was merged, however often. */
export async function standingVehicle(tx: Tx, orgId: string, id: string): Promise<string> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'merges.standing',
    text: `with recursive chain as (
             select $2::uuid as id, 0 as step
             union all
             select v.merged_into, c.step + 1 from chain c join vehicle v on v.org_id = $1 and v.id = c.id
              where v.merged_into is not null and c.step < 20)
           select id from chain order by step desc limit 1`,
    values: [orgId, id],
  });
  return rows[0]!.id;
}

/** Vehicles with those into which they were merged, however often. */
export async function withStanding(tx: Tx, orgId: string, ids: readonly string[]): Promise<string[]> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'merges.with-standing',
    text: `with recursive chain as (
             select id, 0 as step from unnest($2::uuid[]) as id
             union all
             select v.merged_into, c.step + 1 from chain c join vehicle v on v.org_id = $1 and v.id = c.id
              where v.merged_into is not null and c.step < 20)
           select distinct id from chain`,
    values: [orgId, ids],
  });
  return rows.map((row) => row.id);
}

/** A vehicle with all records that were merged into it, however often. */
export async function mergedVehicles(tx: Tx, orgId: string, id: string): Promise<string[]> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'merges.members',
    text: `with recursive chain as (
             select $2::uuid as id, 0 as step
             union all
             select v.id, c.step + 1 from chain c join vehicle v on v.org_id = $1 and v.merged_into = c.id
              where c.step < 20)
           select distinct id from chain`,
    values: [orgId, id],
  });
  return rows.map((row) => row.id);
}

/** Moves what is known of one vehicle to another. A sighting that the other has already, of that shop and day, stays where it is. */
export async function moveVisits(
  tx: Tx,
  orgId: string,
  from: string,
  to: string,
  only: { readonly caseIds: readonly string[]; readonly sightingIds: readonly string[] } | null,
): Promise<{ caseIds: string[]; sightingIds: string[] }> {
  // Visits that part were no visits of one vehicle: their answers keep nothing of each other.
  if (only !== null) await forgetOwnReadings(tx, orgId, from);
  const cases = await tx.query<{ id: string }>({
    name: 'merges.move-cases',
    text: `update shop_case set vehicle_id = $3, version = version + 1
            where org_id = $1 and vehicle_id = $2 and ($4::uuid[] is null or id = any($4)) returning id`,
    values: [orgId, from, to, only?.caseIds ?? null],
  });
  const caseIds = cases.rows.map(({ id }) => id);
  await tx.query({
    name: 'merges.move-repairs',
    text: 'update repair set vehicle_id = $2 where org_id = $1 and case_id = any($3::uuid[])',
    values: [orgId, to, caseIds],
  });
  const sightings = await tx.query<{ id: string }>({
    name: 'merges.move-sightings',
    text: `update sighting s set vehicle_id = $3
            where s.org_id = $1 and s.vehicle_id = $2 and ($4::uuid[] is null or s.id = any($4))
              and not exists (select from sighting o where o.org_id = $1 and o.vehicle_id = $3 and o.shop_id = s.shop_id and o.day = s.day)
            returning s.id`,
    values: [orgId, from, to, only?.sightingIds ?? null],
  });
  return { caseIds, sightingIds: sightings.rows.map(({ id }) => id) };
}

/** Marks the record itself, so that whoever waits for its lock sees it. */
export async function setMergedInto(tx: Tx, orgId: string, id: string, into: string | null): Promise<void> {
  await tx.query({
    name: 'merges.mark',
    text: 'update vehicle set merged_into = $3 where org_id = $1 and id = $2',
    values: [orgId, id, into],
  });
}

export async function insertMerge(
  tx: Tx,
  orgId: string,
  merge: { id: string; vehicleId: string; mergedId: string; reason: string; caseIds: string[]; sightingIds: string[] },
  at: Date,
): Promise<VehicleMerge> {
  const { rows } = await tx.query<VehicleMerge>({
    name: 'merges.insert',
    text: `insert into vehicle_merge (org_id, id, vehicle_id, merged_id, reason, case_ids, sighting_ids, merged_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8) returning ${COLUMNS}`,
    values: [orgId, merge.id, merge.vehicleId, merge.mergedId, merge.reason, merge.caseIds, merge.sightingIds, at.toISOString()],
  });
  return rows[0]!;
}

export async function mergesOf(tx: Tx, orgId: string, vehicleId: string): Promise<VehicleMerge[]> {
  const { rows } = await tx.query<VehicleMerge>({
    name: 'merges.of',
    text: `select ${COLUMNS} from vehicle_merge where org_id = $1 and (vehicle_id = $2 or merged_id = $2) order by merged_at desc, id desc`,
    values: [orgId, vehicleId],
  });
  return rows;
}

export interface StoredMerge extends VehicleMerge {
  readonly caseIds: string[];
  readonly sightingIds: string[];
}

/** The caller holds both vehicles. */
export async function lockMerge(tx: Tx, orgId: string, id: string): Promise<StoredMerge | null> {
  const { rows } = await tx.query<StoredMerge>({
    name: 'merges.lock',
    text: `select ${COLUMNS}, case_ids as "caseIds", sighting_ids as "sightingIds" from vehicle_merge where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function endMerge(tx: Tx, orgId: string, id: string, at: Date): Promise<VehicleMerge> {
  const { rows } = await tx.query<VehicleMerge>({
    name: 'merges.end',
    text: `update vehicle_merge set undone_at = $3 where org_id = $1 and id = $2 returning ${COLUMNS}`,
    values: [orgId, id, at.toISOString()],
  });
  return rows[0]!;
}
