import type { FaultCode, RecurringPattern } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { inPages } from './in-pages.js';
import { DAY_ZERO } from './outcomes.queries.js';

/** A vehicle that can be followed, as patterns see it. Days are numbers since `DAY_ZERO`. */
export interface WatchedVehicle {
  readonly id: string;
  /** Drawn by the keyed hash of its VIN, else of its plate: the same however often it is loaded under one key. */
  readonly half: 0 | 1;
  readonly platformId: string;
  readonly modelYear: number | null;
  readonly firstYear: number;
  readonly firstShopId: string;
  /** Days on which it was seen for whatever job, from its first case on, ascending. */
  readonly days: readonly number[];
}

/** One visit with one proved cause. */
export interface ProvedVisit {
  readonly vehicleId: string | null;
  readonly isLinked: boolean;
  readonly fault: FaultCode;
  readonly day: number;
  readonly shopId: string;
}

export async function watchedVehicles(tx: Tx, orgId: string): Promise<WatchedVehicle[]> {
  return inPages(async (after, limit) => {
    const { rows } = await tx.query<WatchedVehicle & { key: string }>({
      name: 'patterns.vehicles',
      text: `with page as materialized (
               select v.id, v.platform_id, v.model_year, get_byte(coalesce(v.vin_hash, v.plate_hash), 0) & 1 as half
                 from vehicle v
                where v.org_id = $1 and v.id > $2 and (v.vin_hash is not null or v.plate_hash is not null)
                  and v.platform_id is not null and exists (select from shop_case c where c.org_id = $1 and c.vehicle_id = v.id and c.vehicle_id > $2 and c.status <> 'void')
                order by v.id limit $3)
             select v.id as key, v.id, v.half, v.platform_id as "platformId", v.model_year as "modelYear", p.first_year as "firstYear",
                    w.first_shop as "firstShopId", seen.days
               from page v
               join platform p on p.org_id = $1 and p.id = v.platform_id
               cross join lateral (
                 select array_agg(o.day) as days, min(o.day) as first_day, (array_agg(o.shop_id order by o.day, o.shop_id))[1] as first_shop
                   from (select c.shop_id, ((c.opened_at at time zone s.time_zone)::date - date '${DAY_ZERO}')::int as day
                           from shop_case c join shop s on s.org_id = c.org_id and s.id = c.shop_id
                          where c.org_id = $1 and c.vehicle_id = v.id and c.status <> 'void') o) w
               cross join lateral (
                 select array_agg(distinct s.day order by s.day) as days
                   from (select unnest(w.days) as day
                         union all
                         select (t.day - date '${DAY_ZERO}')::int from sighting t where t.org_id = $1 and t.vehicle_id = v.id) s
                  where s.day >= w.first_day) seen
              order by v.id`,
      values: [orgId, after, limit],
    });
    return rows;
  });
}

/** Proved causes only, and only where the proof leaves one: a set that could not be told apart is no label. */
export async function provedVisits(tx: Tx, orgId: string): Promise<ProvedVisit[]> {
  return inPages(async (after, limit) => {
    const { rows } = await tx.query<ProvedVisit & { key: string }>({
      name: 'patterns.proved',
      text: `select c.id as key, c.vehicle_id as "vehicleId", coalesce(v.vin_hash is not null or v.plate_hash is not null, false) as "isLinked",
                    c.proved_faults[1] as fault, ((c.opened_at at time zone s.time_zone)::date - date '${DAY_ZERO}')::int as day, c.shop_id as "shopId"
               from shop_case c
               join shop s on s.org_id = c.org_id and s.id = c.shop_id
               left join vehicle v on v.org_id = c.org_id and v.id = c.vehicle_id
              where c.org_id = $1 and c.id > $2 and c.status <> 'void'
                and cardinality(c.proved_faults) = 1 and c.proved_faults[1] <> 'healthy'
              order by c.id limit $3`,
      values: [orgId, after, limit],
    });
    return rows;
  });
}

export interface PatternScoring {
  readonly id: string;
  readonly scoredAt: string;
  readonly vehicles: number;
  readonly provedVisits: number;
  readonly linkedShare: number;
  /** Null for scores of before the basis was kept. */
  readonly basis: string | null;
}

/** Replaces the scores of the organisation as a whole. */
export async function replaceScores(
  tx: Tx,
  orgId: string,
  scoring: PatternScoring,
  rules: number,
  patterns: readonly RecurringPattern[],
): Promise<void> {
  await tx.query({ name: 'patterns.delete', text: 'delete from pattern_scoring where org_id = $1', values: [orgId] });
  await tx.query({
    name: 'patterns.insert-scoring',
    text: `insert into pattern_scoring (org_id, id, scored_at, rules, vehicles, proved_visits, linked_share, basis) values ($1, $2, $3, $4, $5, $6, $7, $8)`,
    values: [orgId, scoring.id, scoring.scoredAt, rules, scoring.vehicles, scoring.provedVisits, scoring.linkedShare, scoring.basis],
  });
  await tx.query({
    name: 'patterns.insert-scores',
    text: `insert into pattern_score (org_id, scoring_id, cause, effect, place, verdict, document)
           select $1, $2, p.* from unnest($3::text[], $4::text[], $5::int[], $6::text[], $7::jsonb[]) as p`,
    values: [
      orgId,
      scoring.id,
      patterns.map(({ cause }) => cause),
      patterns.map(({ effect }) => effect),
      patterns.map((_, place) => place),
      patterns.map(({ verdict }) => verdict),
      patterns.map((pattern) => JSON.stringify(pattern)),
    ],
  });
}

export async function latestScoring(tx: Tx, orgId: string, rules: number): Promise<PatternScoring | null> {
  const { rows } = await tx.query<PatternScoring>({
    name: 'patterns.scoring',
    text: `select id, scored_at as "scoredAt", vehicles, proved_visits as "provedVisits", linked_share as "linkedShare", basis
             from pattern_scoring where org_id = $1 and rules = $2 order by scored_at desc limit 1`,
    values: [orgId, rules],
  });
  return rows[0] ?? null;
}

export async function countVerdicts(tx: Tx, orgId: string, scoringId: string): Promise<Map<string, number>> {
  const { rows } = await tx.query<{ verdict: string; count: number }>({
    name: 'patterns.verdicts',
    text: 'select verdict, count(*)::int as count from pattern_score where org_id = $1 and scoring_id = $2 group by verdict',
    values: [orgId, scoringId],
  });
  return new Map(rows.map(({ verdict, count }) => [verdict, count]));
}

export async function storedPatterns(
  tx: Tx,
  orgId: string,
  scoringId: string,
  cause: string | null,
  effect: string | null,
  verdicts: readonly string[],
): Promise<RecurringPattern[]> {
  const { rows } = await tx.query<{ document: RecurringPattern }>({
    name: 'patterns.stored',
    text: `select document from pattern_score
            where org_id = $1 and scoring_id = $2 and ($3::text is null or cause = $3) and ($4::text is null or effect = $4) and verdict = any($5::text[])
            order by place`,
    values: [orgId, scoringId, cause, effect, verdicts],
  });
  return rows.map(({ document }) => document);
}
