import type { Sighting, Vehicle } from '#libs/contracts/index.js';
import { byteaArray, float8Array, int4Array, type Tx, textArray, uuidArray } from '#libs/database/index.js';

const COLUMNS = `id, platform_id as "platformId", model_year as "modelYear", maker, plant, sequence_bucket as "sequenceBucket",
  case when vin_hash is not null then 'vin' when plate_hash is not null then 'plate' else 'none' end as "linkedBy", merged_into as "mergedInto",
  created_at as "createdAt"`;

export interface NewVehicleRow {
  readonly id: string;
  readonly vinHash: Buffer | null;
  readonly plateHash: Buffer | null;
  readonly platformId: string | null;
  readonly modelYear: number | null;
  readonly maker: string | null;
  readonly plant: string | null;
  readonly sequenceBucket: number | null;
}

/** Stores new vehicles in one statement. */
export async function insertVehicles(tx: Tx, orgId: string, rows: readonly NewVehicleRow[], at: Date): Promise<void> {
  if (rows.length === 0) return;
  const column = <K extends keyof NewVehicleRow>(key: K) => rows.map((row) => row[key]);
  await tx.query({
    name: 'vehicles.insert',
    text: `insert into vehicle (org_id, created_at, id, vin_hash, plate_hash, platform_id, model_year, maker, plant, sequence_bucket)
           select $1, $2, * from unnest($3::uuid[], $4::bytea[], $5::bytea[], $6::uuid[], $7::int[], $8::text[], $9::text[], $10::int[])`,
    values: [
      orgId,
      at.toISOString(),
      uuidArray(column('id')),
      byteaArray(column('vinHash')),
      byteaArray(column('plateHash')),
      uuidArray(column('platformId')),
      int4Array(column('modelYear')),
      textArray(column('maker')),
      textArray(column('plant')),
      int4Array(column('sequenceBucket')),
    ],
  });
}

export interface NamedVehicle extends Vehicle {
  readonly vinHash: Buffer | null;
  readonly plateHash: Buffer | null;
}
type VehicleNames = Pick<NamedVehicle, 'id' | 'mergedInto' | 'vinHash' | 'plateHash'>;

/** Vehicles with one of these VINs, and all that carried one of these plates: their names. What they are is read when they are locked. */
export async function vehiclesNamed(
  tx: Tx,
  orgId: string,
  vinHashes: readonly Buffer[],
  plateHashes: readonly Buffer[],
): Promise<VehicleNames[]> {
  const found = new Map<string, VehicleNames>();
  // A look-up for each name: together they would be planned past the indexes, or past every vehicle of the organisation. The list is a scalar of its own, here and
  // below: the planner that sees how long it is plans anew each time, which costs more than finding one vehicle.
  for (const [column, hashes] of [
    ['vin_hash', vinHashes],
    ['plate_hash', plateHashes],
  ] as const) {
    if (hashes.length === 0) continue;
    const { rows } = await tx.query<VehicleNames>({
      name: `vehicles.by-${column}`,
      text: `select known.* from unnest((select $2::bytea[])) as named(hash) cross join lateral (
               select id, merged_into as "mergedInto", vin_hash as "vinHash", plate_hash as "plateHash" from vehicle where org_id = $1 and ${column} = named.hash offset 0
             ) as known`,
      values: [orgId, byteaArray(hashes)],
    });
    for (const row of rows) found.set(row.id, row);
  }
  return [...found.values()];
}

/** Whoever is about to create a vehicle of this name makes the others wait, so that one VIN is one vehicle. In the order of the numbers, as sources. */
export async function lockNames(tx: Tx, orgId: string, hashes: readonly Buffer[]): Promise<void> {
  await tx.query({
    name: 'vehicles.lock-names',
    text: 'select pg_advisory_xact_lock(key) from (select distinct hashtextextended(name, 1) as key from unnest($1::text[]) as name order by key) as keys',
    values: [textArray(hashes.map((hash) => `${orgId} ${hash.toString('base64')}`))],
  });
}

/** Locks vehicles in the order of their identifiers, and says what they are now. */
export async function lockVehicles(tx: Tx, orgId: string, ids: readonly string[]): Promise<NamedVehicle[]> {
  const { rows } = await tx.query<NamedVehicle>({
    name: 'vehicles.lock-several',
    text: `select held.* from (select distinct id from unnest((select $2::uuid[])) as id order by id) as named cross join lateral (
             select ${COLUMNS}, vin_hash as "vinHash", plate_hash as "plateHash" from vehicle where org_id = $1 and id = named.id for update
           ) as held`,
    values: [orgId, uuidArray(ids)],
  });
  return rows;
}

export async function findVehicleByVin(tx: Tx, orgId: string, vinHash: Buffer): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.by-vin',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and vin_hash = $2`,
    values: [orgId, vinHash],
  });
  return rows[0] ?? null;
}

/** By plate, which moves between cars: the vehicle that carried it last. */
export async function findVehicleByPlate(tx: Tx, orgId: string, plateHash: Buffer): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.by-plate',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and plate_hash = $2 order by created_at desc, id desc limit 1`,
    values: [orgId, plateHash],
  });
  return rows[0] ?? null;
}

export async function findVehicle(tx: Tx, orgId: string, id: string): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.find',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and id = $2`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function vehiclesByIds(tx: Tx, orgId: string, ids: readonly string[]): Promise<Vehicle[]> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.by-ids',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and id = any($2)`,
    values: [orgId, ids],
  });
  return rows;
}

/** One transaction at a time relinks a vehicle; everyone who is about to store something about it waits here. */
export async function lockVehicle(tx: Tx, orgId: string, id: string): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.lock',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

/** @returns the vehicle a case stood under when this was asked, locked; null where it had none, or where that was forgotten in the meantime. */
export async function lockVehicleOfCase(tx: Tx, orgId: string, caseId: string): Promise<string | null> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'vehicles.lock-of-case',
    text: `select id from vehicle where org_id = $1 and id = (select vehicle_id from shop_case where org_id = $1 and id = $2) for update`,
    values: [orgId, caseId],
  });
  return rows[0]?.id ?? null;
}

/** What has become known of vehicles: each row as it is to be. */
export async function updateVehicles(
  tx: Tx,
  orgId: string,
  rows: readonly Pick<NewVehicleRow, 'id' | 'platformId' | 'modelYear' | 'plateHash'>[],
): Promise<void> {
  if (rows.length === 0) return;
  await tx.query({
    name: 'vehicles.complete',
    text: `update vehicle v set platform_id = row.platform_id, model_year = row.model_year, plate_hash = row.plate_hash
             from unnest($2::uuid[], $3::uuid[], $4::int[], $5::bytea[]) as row(id, platform_id, model_year, plate_hash)
            where v.org_id = $1 and v.id = row.id`,
    values: [
      orgId,
      rows.map(({ id }) => id),
      rows.map(({ platformId }) => platformId),
      rows.map(({ modelYear }) => modelYear),
      rows.map(({ plateHash }) => plateHash),
    ],
  });
}

export async function setVehiclePlatform(tx: Tx, orgId: string, id: string, platformId: string): Promise<void> {
  await tx.query({
    name: 'vehicles.set-platform',
    text: 'update vehicle set platform_id = $3 where org_id = $1 and id = $2',
    values: [orgId, id, platformId],
  });
}

export interface SightingRow {
  readonly id: string;
  readonly vehicleId: string;
  readonly shopId: string;
  readonly day: string;
  readonly odometerKm: number | null;
}

/** One sighting a vehicle, shop and day; the larger odometer stays. Rows of one call must differ in these. @returns identifiers in the order of `rows` where there is one. */
export async function upsertSightings(tx: Tx, orgId: string, rows: readonly SightingRow[]): Promise<string[]> {
  const { rows: stored } = await tx.query<{ id: string }>({
    name: 'vehicles.upsert-sightings',
    text: `insert into sighting (org_id, id, vehicle_id, shop_id, day, odometer_km)
           select $1, id, vehicle_id, shop_id, day::date, km
             from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::text[], $6::float8[]) as seen(id, vehicle_id, shop_id, day, km)
           on conflict (org_id, vehicle_id, shop_id, day)
           do update set odometer_km = greatest(sighting.odometer_km, excluded.odometer_km)
           returning id`,
    values: [
      orgId,
      uuidArray(rows.map(({ id }) => id)),
      uuidArray(rows.map(({ vehicleId }) => vehicleId)),
      uuidArray(rows.map(({ shopId }) => shopId)),
      textArray(rows.map(({ day }) => day)),
      float8Array(rows.map(({ odometerKm }) => odometerKm)),
    ],
  });
  return stored.map(({ id }) => id);
}

export async function sightingsOf(tx: Tx, orgId: string, vehicleId: string): Promise<(Sighting & { shopId: string })[]> {
  const { rows } = await tx.query<Sighting & { shopId: string }>({
    name: 'vehicles.sightings',
    text: `select id, vehicle_id as "vehicleId", shop_id as "shopId", day::text as day, odometer_km as "odometerKm"
             from sighting where org_id = $1 and vehicle_id = $2 order by day, id`,
    values: [orgId, vehicleId],
  });
  return rows;
}

/** Takes what answers to a vehicle's cases, and to one case that was its, were judged by of its own visits out of them. */
export async function forgetOwnReadings(tx: Tx, orgId: string, vehicleId: string, caseId: string | null = null): Promise<void> {
  await tx.query({
    name: 'vehicles.forget-own-readings',
    text: `update diagnosis d set own_cases = '{}' from shop_case c
            where d.org_id = $1 and c.org_id = $1 and c.id = d.case_id and (c.vehicle_id = $2 or c.id = $3) and d.own_cases <> '{}'`,
    values: [orgId, vehicleId, caseId],
  });
}

/** Takes a vehicle out of its cases and repairs. @returns how many cases there were. */
export async function forgetVehicle(tx: Tx, orgId: string, id: string): Promise<number> {
  await forgetOwnReadings(tx, orgId, id);
  const { rowCount } = await tx.query({
    name: 'vehicles.forget-cases',
    text: 'update shop_case set vehicle_id = null, version = version + 1 where org_id = $1 and vehicle_id = $2',
    values: [orgId, id],
  });
  await tx.query({
    name: 'vehicles.forget-repairs',
    text: 'update repair set vehicle_id = null where org_id = $1 and vehicle_id = $2',
    values: [orgId, id],
  });
  return rowCount;
}

/** Deletes a vehicle that no case points at any more, with its sightings. */
export async function deleteVehicle(tx: Tx, orgId: string, id: string): Promise<void> {
  await tx.query({ name: 'vehicles.delete', text: 'delete from vehicle where org_id = $1 and id = $2', values: [orgId, id] });
}
