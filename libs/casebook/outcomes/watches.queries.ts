import type { FaultCode, WatchBoard } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { RecordedDelay } from '#libs/outcomes/index.js';
import { inPages } from './in-pages.js';
import { DAY_ZERO } from './outcomes.queries.js';

/** A fault that showed at a visit and is no return of an earlier repair. */
export interface Onset {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly day: number;
  readonly shopId: string;
  readonly modelYear: number | null;
  /** Plant character and build sequence in thousands, of the VIN. */
  readonly plant: string | null;
  readonly sequenceBucket: number | null;
}

export async function onsets(tx: Tx, orgId: string): Promise<Onset[]> {
  const back = new Set(
    (
      await inPages(async (after, limit) => {
        const { rows } = await tx.query<{ key: string; endCaseId: string }>({
          name: 'watches.returns',
          text: `select e.id as key, e.end_case_id as "endCaseId" from episode e
                  where e.org_id = $1 and e.id > $2 and e.end_case_id is not null
                    and e.end_kind = any('{same-fault,consequent-fault,same-complaint,repair-caused,permanent-later}')
                  order by e.id limit $3`,
          values: [orgId, after, limit],
        });
        return rows;
      })
    ).map(({ endCaseId }) => endCaseId),
  );
  const seen = await inPages(async (after, limit) => {
    const { rows } = await tx.query<Omit<Onset, 'fault'> & { key: string; faults: FaultCode[] }>({
      name: 'watches.onsets',
      text: `with page as materialized (
               select c.id, c.platform_id, c.opened_at, c.shop_id, c.vehicle_id, c.proved_faults from shop_case c
                where c.org_id = $1 and c.id > $2 and c.platform_id is not null and c.status <> 'void'
                order by c.id limit $3)
             select c.id as key, c.platform_id as "platformId", ((c.opened_at at time zone s.time_zone)::date - date '${DAY_ZERO}')::int as day,
                    c.shop_id as "shopId", v.model_year as "modelYear", v.plant, v.sequence_bucket as "sequenceBucket",
                    array(select k.fault from unnest(case when cardinality(c.proved_faults) = 1 then c.proved_faults end) as k(fault) where k.fault <> 'healthy'
                          union
                          select r.fault from repair r where r.org_id = $1 and r.case_id = c.id and r.action <> 'no-repair' and r.fault <> 'healthy'
                          order by 1) as faults
               from page c
               join shop s on s.org_id = $1 and s.id = c.shop_id
               left join vehicle v on v.org_id = $1 and v.id = c.vehicle_id
              order by c.id`,
      values: [orgId, after, limit],
    });
    return rows.map((row) => ({ ...row, caseId: row.key }));
  });
  return seen.flatMap(({ caseId, faults, ...visit }) => (back.has(caseId) ? [] : faults.map((fault) => ({ ...visit, fault }))));
}

/** Days from a visit until its cause or repair was recorded, and the most that could have been seen by today; the newest visits, without imports of the past. */
export async function recordingDelays(tx: Tx, orgId: string, today: string, days: number, most: number): Promise<RecordedDelay[]> {
  const { rows } = await tx.query<RecordedDelay>({
    name: 'watches.delays',
    text: `select greatest(0, (k.recorded at time zone s.time_zone)::date - v.day)::int as delay, ($2::date - v.day)::int as longest
             from shop_case c
             join shop s on s.org_id = c.org_id and s.id = c.shop_id
             cross join lateral (select (c.opened_at at time zone s.time_zone)::date as day) v
             cross join lateral (select min(one.created_at) as recorded
                                   from (select p.created_at from proof p where p.org_id = $1 and p.case_id = c.id and p.method <> 'judgement'
                                         union all
                                         select r.created_at from repair r where r.org_id = $1 and r.case_id = c.id) one) k
            where c.org_id = $1 and not c.backfill and c.status <> 'void' and c.opened_at >= $2::date - $3::int and v.day <= $2::date
              and (k.recorded at time zone s.time_zone)::date <= $2::date
            order by c.opened_at desc limit $4`,
    values: [orgId, today, days, most],
  });
  return rows;
}

export async function replaceWatches(tx: Tx, orgId: string, id: string, rules: number, basis: string, board: WatchBoard): Promise<void> {
  await tx.query({ name: 'watches.delete', text: 'delete from watch_scoring where org_id = $1', values: [orgId] });
  await tx.query({
    name: 'watches.insert',
    text: 'insert into watch_scoring (org_id, id, scored_at, rules, document, basis) values ($1, $2, $3, $4, $5, $6)',
    values: [orgId, id, board.scoredAt, rules, JSON.stringify(board), basis],
  });
}

export async function storedWatches(
  tx: Tx,
  orgId: string,
  rules: number,
): Promise<{ readonly board: WatchBoard; readonly basis: string | null } | null> {
  const { rows } = await tx.query<{ board: WatchBoard; basis: string | null }>({
    name: 'watches.stored',
    text: 'select document as board, basis from watch_scoring where org_id = $1 and rules = $2 order by scored_at desc limit 1',
    values: [orgId, rules],
  });
  return rows[0] ?? null;
}
