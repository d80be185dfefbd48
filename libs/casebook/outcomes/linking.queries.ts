import type { EpisodeEnd, FaultCode, RepairIntent } from '#libs/contracts/index.js';
import { float8Array, type Tx, textArray, uuidArray } from '#libs/database/index.js';
import type { LinkedRepair, LinkedSighting } from './linking.js';
import { COMMON_RULES, type StandingRules } from './outcome-rules.js';
import { STANDING_RULES } from './outcome-rules.queries.js';

export interface SightingRow extends LinkedSighting {
  readonly shopId: string;
}

export interface VehicleCaseRow {
  readonly caseId: string;
  readonly shopId: string;
  readonly platformId: string | null;
  readonly day: string;
  /** Microseconds since 1970: exact, and ordered as a number. */
  readonly openedAt: number;
  readonly complaint: string;
  readonly provedFaults: FaultCode[];
  readonly odometerKm: number | null;
}

/** Everything linking needs to know of one vehicle. */
export interface VehiclePast {
  readonly vehicleId: string;
  readonly platformId: string | null;
  readonly modelYear: number | null;
  readonly linkedBy: 'vin' | 'plate' | 'none';
  readonly cases: VehicleCaseRow[];
  readonly repairs: LinkedRepair[];
  readonly sightings: SightingRow[];
  readonly episodes: StoredEpisode[];
  /** The organisation's, as they stood when this was read. */
  readonly rules: StandingRules;
}

/**
 * One statement for the whole past of vehicles: cases that still count with their day in the shop's time zone, repairs, sightings, episodes. An episode is
 * listed under its vehicle and under its repair's: of a repair that was moved it still stands in the cell of the vehicle it came from.
 */
export async function pastOfVehicles(tx: Tx, orgId: string, vehicleIds: readonly string[]): Promise<VehiclePast[]> {
  const { rows } = await tx.query<VehiclePast & { readonly rules: StandingRules | null }>({
    name: 'linking.past',
    text: `select v.id as "vehicleId", v.platform_id as "platformId", v.model_year as "modelYear",
                  case when v.vin_hash is not null then 'vin' when v.plate_hash is not null then 'plate' else 'none' end as "linkedBy",
                  coalesce((select json_agg(json_build_object('caseId', c.id, 'shopId', c.shop_id, 'platformId', c.platform_id,
                                     'day', (c.opened_at at time zone s.time_zone)::date::text,
                                     'openedAt', (extract(epoch from c.opened_at) * 1000000)::bigint, 'complaint', c.complaint,
                                     'provedFaults', c.proved_faults, 'odometerKm', c.odometer_km) order by c.opened_at, c.id)
                              from shop_case c join shop s on s.org_id = c.org_id and s.id = c.shop_id
                             where c.org_id = $1 and c.vehicle_id = v.id and c.status <> 'void'), '[]') as cases,
                  coalesce((select json_agg(json_build_object('repairId', r.id, 'caseId', r.case_id, 'shopId', r.shop_id, 'fault', r.fault,
                                     'action', r.action, 'intent', r.intent, 'day', r.day::text) order by r.day, r.id)
                              from repair r where r.org_id = $1 and r.vehicle_id = v.id), '[]') as repairs,
                  coalesce((select json_agg(json_build_object('day', t.day::text, 'shopId', t.shop_id, 'odometerKm', t.odometer_km) order by t.day, t.id)
                              from sighting t where t.org_id = $1 and t.vehicle_id = v.id), '[]') as sightings,
                  coalesce((select json_agg(json_build_object('repairId', e.repair_id, 'row', e.derived))
                              from (select repair_id, json_build_array(case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on::text,
                                                end_kind, ended_on::text, end_case_id, end_shop_id, distance_km, linked_by, home_shop_id, rules) as derived
                                      from (select * from episode where org_id = $1 and vehicle_id = v.id
                                            union all
                                            select * from episode where org_id = $1 and vehicle_id is distinct from v.id
                                               and repair_id = any(array(select id from repair where org_id = $1 and vehicle_id = v.id))) s) e), '[]') as episodes,
                  ${STANDING_RULES} as rules
             from vehicle v where v.org_id = $1 and v.id = any($2::uuid[])`,
    values: [orgId, vehicleIds],
  });
  return rows.map((row) => ({ ...row, rules: row.rules ?? COMMON_RULES }));
}

/** An episode as it is stored: the repair, and what was derived, in the order of `derivedColumns`. */
export interface StoredEpisode {
  readonly repairId: string;
  readonly row: readonly (string | number | null)[];
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
  readonly homeShopId: string;
}

/** Stores an episode of a repair, replacing what was derived before. */
export async function upsertEpisodes(tx: Tx, orgId: string, rules: number, rows: readonly EpisodeRow[]): Promise<void> {
  if (rows.length === 0) return;
  const column = <K extends keyof EpisodeRow>(key: K) => rows.map((row) => row[key]);
  await tx.query({
    name: 'linking.upsert',
    text: `insert into episode (org_id, id, repair_id, case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on, end_kind, ended_on,
                                end_case_id, end_shop_id, distance_km, linked_by, home_shop_id, rules)
           select $1, id, repair_id, case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on::date, end_kind, ended_on::date,
                  end_case_id, end_shop_id, distance_km, linked_by, home_shop_id, $19
             from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::uuid[], $7::uuid[], $8::text[], $9::text[], $10::text[],
                         $11::text[], $12::text[], $13::text[], $14::uuid[], $15::uuid[], $16::float8[], $17::text[], $18::uuid[])
               as row(id, repair_id, case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on, end_kind, ended_on,
                      end_case_id, end_shop_id, distance_km, linked_by, home_shop_id)
           on conflict (org_id, repair_id) do update
              set case_id = excluded.case_id, vehicle_id = excluded.vehicle_id, platform_id = excluded.platform_id, shop_id = excluded.shop_id,
                  fault = excluded.fault, action = excluded.action, intent = excluded.intent, started_on = excluded.started_on,
                  end_kind = excluded.end_kind, ended_on = excluded.ended_on, end_case_id = excluded.end_case_id, end_shop_id = excluded.end_shop_id,
                  distance_km = excluded.distance_km, linked_by = excluded.linked_by, home_shop_id = excluded.home_shop_id,
                  rules = excluded.rules`,
    values: [
      orgId,
      uuidArray(column('id')),
      uuidArray(column('repairId')),
      uuidArray(column('caseId')),
      uuidArray(column('vehicleId')),
      uuidArray(column('platformId')),
      uuidArray(column('shopId')),
      textArray(column('fault')),
      textArray(column('action')),
      textArray(column('intent')),
      textArray(column('startedOn')),
      textArray(column('endKind')),
      textArray(column('endedOn')),
      uuidArray(column('endCaseId')),
      uuidArray(column('endShopId')),
      float8Array(column('distanceKm')),
      textArray(column('linkedBy')),
      uuidArray(column('homeShopId')),
      rules,
    ],
  });
}

/** What is derived of an episode, as `linking.past` lists it: equal lists mean that nothing needs to be written. */
export function derivedColumns(row: EpisodeRow, rules: number): (string | number | null)[] {
  return [
    row.caseId,
    row.vehicleId,
    row.platformId,
    row.shopId,
    row.fault,
    row.action,
    row.intent,
    row.startedOn,
    row.endKind,
    row.endedOn,
    row.endCaseId,
    row.endShopId,
    row.distanceKm,
    row.linkedBy,
    row.homeShopId,
    rules,
  ];
}

/** Takes episodes away by their repairs or by their case. @returns the cells they stood in; null without a platform. */
export async function deleteEpisodes(
  tx: Tx,
  orgId: string,
  of: { readonly repairIds: readonly string[] } | { readonly caseId: string },
): Promise<{ platformId: string | null; fault: FaultCode; intent: RepairIntent }[]> {
  const { rows } = await tx.query<{ platformId: string | null; fault: FaultCode; intent: RepairIntent }>({
    name: 'linking.delete',
    text: `delete from episode where org_id = $1
              and repair_id = any($2::uuid[] || array(select id from repair where org_id = $1 and case_id = $3))
           returning platform_id as "platformId", fault, intent`,
    values: [orgId, 'repairIds' in of ? of.repairIds : [], 'caseId' in of ? of.caseId : null],
  });
  return rows;
}

/** Takes a vehicle out of its episodes. @returns the cells they stand in; null without a platform. */
export async function forgetVehicleOfEpisodes(
  tx: Tx,
  orgId: string,
  vehicleId: string,
): Promise<{ platformId: string | null; fault: FaultCode; intent: RepairIntent }[]> {
  const { rows } = await tx.query<{ platformId: string | null; fault: FaultCode; intent: RepairIntent }>({
    name: 'linking.forget-vehicle',
    text: `update episode set vehicle_id = null where org_id = $1 and vehicle_id = $2 returning platform_id as "platformId", fault, intent`,
    values: [orgId, vehicleId],
  });
  return rows;
}
