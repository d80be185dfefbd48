import type { EpisodeEnd, FaultCode } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

export interface VehicleCaseRow {
  readonly caseId: string;
  readonly shopId: string;
  readonly platformId: string | null;
  readonly day: string;
  readonly openedAt: string;
  readonly complaint: string;
  readonly provedFaults: FaultCode[];
  readonly odometerKm: number | null;
}

/** Every case of a vehicle that still counts, oldest first, with its day in the shop's time zone. */
export async function casesOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<VehicleCaseRow[]> {
  const { rows } = await tx.query<VehicleCaseRow>({
    name: 'linking.cases',
    text: `select c.id as "caseId", c.shop_id as "shopId", c.platform_id as "platformId",
                  (c.opened_at at time zone s.time_zone)::date::text as day, c.opened_at as "openedAt", c.complaint,
                  c.proved_faults as "provedFaults", c.odometer_km as "odometerKm"
             from shop_case c join shop s on s.org_id = c.org_id and s.id = c.shop_id
            where c.org_id = $1 and c.vehicle_id = $2 and c.status <> 'void'
            order by c.opened_at, c.id`,
    values: [orgId, vehicleId],
  });
  return rows;
}

export interface EpisodeRow {
  readonly id: string;
  readonly repairId: string;
  readonly caseId: string;
  readonly vehicleId: string | null;
  readonly platformId: string | null;
  readonly shopId: string;
  readonly fault: string;
  readonly action: string;
  readonly intent: string;
  readonly startedOn: string;
  readonly endKind: EpisodeEnd;
  readonly endedOn: string;
  readonly endCaseId: string | null;
  readonly endShopId: string | null;
  readonly distanceKm: number | null;
  readonly linkedBy: string;
}

/** Stores an episode of a repair, replacing what was derived before. */
export async function upsertEpisodes(tx: Tx, orgId: string, rules: number, rows: readonly EpisodeRow[]): Promise<void> {
  if (rows.length === 0) return;
  const column = <K extends keyof EpisodeRow>(key: K) => rows.map((row) => row[key]);
  await tx.query({
    name: 'linking.upsert',
    text: `insert into episode (org_id, id, repair_id, case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on, end_kind, ended_on,
                                end_case_id, end_shop_id, distance_km, linked_by, rules)
           select $1, e.*, $18 from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::uuid[], $7::uuid[], $8::text[], $9::text[], $10::text[],
                                    $11::date[], $12::text[], $13::date[], $14::uuid[], $15::uuid[], $16::float8[], $17::text[]) as e
           on conflict (org_id, repair_id) do update
              set case_id = excluded.case_id, vehicle_id = excluded.vehicle_id, platform_id = excluded.platform_id, shop_id = excluded.shop_id,
                  fault = excluded.fault, action = excluded.action, intent = excluded.intent, started_on = excluded.started_on,
                  end_kind = excluded.end_kind, ended_on = excluded.ended_on, end_case_id = excluded.end_case_id, end_shop_id = excluded.end_shop_id,
                  distance_km = excluded.distance_km, linked_by = excluded.linked_by, rules = excluded.rules`,
    values: [
      orgId,
      column('id'),
      column('repairId'),
      column('caseId'),
      column('vehicleId'),
      column('platformId'),
      column('shopId'),
      column('fault'),
      column('action'),
      column('intent'),
      column('startedOn'),
      column('endKind'),
      column('endedOn'),
      column('endCaseId'),
      column('endShopId'),
      column('distanceKm'),
      column('linkedBy'),
      rules,
    ],
  });
}

export interface StoredEpisode {
  readonly repairId: string;
  readonly endKind: EpisodeEnd;
  readonly endedOn: string;
  readonly endCaseId: string | null;
}

export async function episodeEndsOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<StoredEpisode[]> {
  const { rows } = await tx.query<StoredEpisode>({
    name: 'linking.stored',
    text: `select repair_id as "repairId", end_kind as "endKind", ended_on::text as "endedOn", end_case_id as "endCaseId"
             from episode where org_id = $1 and vehicle_id = $2`,
    values: [orgId, vehicleId],
  });
  return rows;
}

/** Repairs of void cases have no episode. */
export async function deleteEpisodesOfCase(tx: Tx, orgId: string, caseId: string): Promise<void> {
  await tx.query({
    name: 'linking.delete-of-case',
    text: 'delete from episode where org_id = $1 and case_id = $2',
    values: [orgId, caseId],
  });
}
