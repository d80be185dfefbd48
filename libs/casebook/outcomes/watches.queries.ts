import type { FaultCode, WatchBoard } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { DAY_ZERO } from './outcomes.queries.js';

/** A fault that showed at a visit and is no return of an earlier repair. */
export interface Onset {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly day: number;
  readonly shopId: string;
  readonly modelYear: number | null;
}

export async function onsets(tx: Tx, orgId: string): Promise<Onset[]> {
  const { rows } = await tx.query<Onset>({
    name: 'watches.onsets',
    text: `with known as (
             select c.id, f.fault
               from shop_case c cross join lateral unnest(c.proved_faults) as f(fault)
              where c.org_id = $1 and c.status <> 'void' and cardinality(c.proved_faults) = 1
             union
             select r.case_id, r.fault from repair r where r.org_id = $1 and r.action <> 'no-repair'),
           back as (
             select e.end_case_id from episode e
              where e.org_id = $1 and e.end_kind = any('{same-fault,consequent-fault,same-complaint,repair-caused,permanent-later}'))
           select c.platform_id as "platformId", k.fault, ((c.opened_at at time zone s.time_zone)::date - date '${DAY_ZERO}')::int as day,
                  c.shop_id as "shopId", v.model_year as "modelYear"
             from known k
             join shop_case c on c.org_id = $1 and c.id = k.id
             join shop s on s.org_id = c.org_id and s.id = c.shop_id
             left join vehicle v on v.org_id = c.org_id and v.id = c.vehicle_id
            where c.platform_id is not null and c.status <> 'void' and k.fault <> 'healthy'
              and not exists (select from back where back.end_case_id = c.id)`,
    values: [orgId],
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
