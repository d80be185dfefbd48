import type { Sighting, Vehicle } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, platform_id as "platformId", model_year as "modelYear", maker, plant, sequence_bucket as "sequenceBucket",
  case when vin_hash is not null then 'vin' when plate_hash is not null then 'plate' else 'none' end as "linkedBy",
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

/** Inserts the vehicle, or returns null when another transaction has just stored the same VIN. */
export async function insertVehicle(tx: Tx, orgId: string, row: NewVehicleRow, at: Date): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.insert',
    text: `insert into vehicle (org_id, id, vin_hash, plate_hash, platform_id, model_year, maker, plant, sequence_bucket, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
           on conflict (org_id, vin_hash) do nothing
           returning ${COLUMNS}`,
    values: [
      orgId,
      row.id,
      row.vinHash,
      row.plateHash,
      row.platformId,
      row.modelYear,
      row.maker,
      row.plant,
      row.sequenceBucket,
      at.toISOString(),
    ],
  });
  return rows[0] ?? null;
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

/** One transaction at a time relinks a vehicle; everyone who is about to store something about it waits here. */
export async function lockVehicle(tx: Tx, orgId: string, id: string): Promise<Vehicle | null> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.lock',
    text: `select ${COLUMNS} from vehicle where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function lockVehicleOfCase(tx: Tx, orgId: string, caseId: string): Promise<void> {
  await tx.query({
    name: 'vehicles.lock-of-case',
    text: `select 1 from vehicle where org_id = $1 and id = (select vehicle_id from shop_case where org_id = $1 and id = $2) for update`,
    values: [orgId, caseId],
  });
}

/** Fills in what was not known of a vehicle; what is known stays. */
export async function completeVehicle(
  tx: Tx,
  orgId: string,
  id: string,
  known: { platformId: string | null; modelYear: number | null; plateHash: Buffer | null },
): Promise<Vehicle> {
  const { rows } = await tx.query<Vehicle>({
    name: 'vehicles.complete',
    text: `update vehicle set platform_id = coalesce(platform_id, $3), model_year = coalesce(model_year, $4), plate_hash = coalesce($5, plate_hash)
            where org_id = $1 and id = $2 returning ${COLUMNS}`,
    values: [orgId, id, known.platformId, known.modelYear, known.plateHash],
  });
  return rows[0]!;
}

export async function setVehiclePlatform(tx: Tx, orgId: string, id: string, platformId: string): Promise<void> {
  await tx.query({
    name: 'vehicles.set-platform',
    text: 'update vehicle set platform_id = $3 where org_id = $1 and id = $2',
    values: [orgId, id, platformId],
  });
}

/** One sighting a vehicle, shop and day; the larger odometer stays. */
export async function upsertSighting(
  tx: Tx,
  orgId: string,
  sighting: { id: string; vehicleId: string; shopId: string; day: string; odometerKm: number | null },
): Promise<string> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'vehicles.upsert-sighting',
    text: `insert into sighting (org_id, id, vehicle_id, shop_id, day, odometer_km) values ($1, $2, $3, $4, $5, $6)
           on conflict (org_id, vehicle_id, shop_id, day)
           do update set odometer_km = greatest(sighting.odometer_km, excluded.odometer_km)
           returning id`,
    values: [orgId, sighting.id, sighting.vehicleId, sighting.shopId, sighting.day, sighting.odometerKm],
  });
  return rows[0]!.id;
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

/** Takes a vehicle out of its cases, repairs and episodes. @returns how many cases there were. */
export async function forgetVehicle(tx: Tx, orgId: string, id: string): Promise<number> {
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
  await tx.query({
    name: 'vehicles.forget-episodes',
    text: 'update episode set vehicle_id = null where org_id = $1 and vehicle_id = $2',
    values: [orgId, id],
  });
  return rowCount;
}

/** Deletes a vehicle that no case points at any more, with its sightings. */
export async function deleteVehicle(tx: Tx, orgId: string, id: string): Promise<void> {
  await tx.query({ name: 'vehicles.delete', text: 'delete from vehicle where org_id = $1 and id = $2', values: [orgId, id] });
}
