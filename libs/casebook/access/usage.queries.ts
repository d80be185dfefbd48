import type { UsageDay, UsageOfKey } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

/** What was counted of one key on one day. */
export interface Counted {
  readonly keyId: string;
  readonly day: string;
  readonly requests: number;
  readonly refused: number;
}

/** Adds counts to those that are there. What was counted for something that is no key of the organisation goes nowhere. */
export async function addUsage(tx: Tx, orgId: string, counted: readonly Counted[]): Promise<void> {
  await tx.query({
    name: 'access.add-usage',
    text: `insert into key_usage (org_id, key_id, day, requests, refused)
           select $1, k.id, c.day, c.requests, c.refused
             from unnest($2::uuid[], $3::date[], $4::bigint[], $5::bigint[]) as c (key_id, day, requests, refused)
             join access_key k on k.org_id = $1 and k.id = c.key_id
            order by k.id, c.day
           on conflict (org_id, key_id, day) do update
             set requests = key_usage.requests + excluded.requests, refused = key_usage.refused + excluded.refused`,
    values: [
      orgId,
      counted.map(({ keyId }) => keyId),
      counted.map(({ day }) => day),
      counted.map(({ requests }) => requests),
      counted.map(({ refused }) => refused),
    ],
  });
}

/** Keys whose use may be told: these shops' (null: every shop's), or one alone. */
export interface UsageScope {
  readonly since: string;
  readonly until: string;
  readonly shopIds: readonly string[] | null;
  readonly keyId: string | null;
}

interface UsageRow extends Omit<UsageOfKey, 'days'>, Pick<UsageDay, 'day'> {
  readonly keys: number;
}

/** Use of keys by day, those of the busiest `limit` keys, the busiest first; `keys` is how many were used in all. */
export async function usageByDay(tx: Tx, orgId: string, scope: UsageScope, limit: number): Promise<UsageRow[]> {
  const { rows } = await tx.query<UsageRow>({
    name: 'access.usage-by-day',
    text: `with used as (
             select u.key_id, u.day, u.requests, u.refused, 0::bigint as rows
               from key_usage u where u.org_id = $1 and u.day >= $2 and u.day < $3
             union all
             select r.credential_id, (r.created_at at time zone 'UTC')::date, 0, 0, r.received
               from import_run r
              where r.org_id = $1 and r.created_at >= $2::date::timestamp at time zone 'UTC'
                and r.created_at < $3::date::timestamp at time zone 'UTC'),
           days as (
             select key_id, day, sum(requests)::float8 as requests, sum(refused)::float8 as refused, sum(rows)::float8 as rows
               from used group by key_id, day),
           busy as (
             select d.key_id, k.name, k.hint, sum(d.requests) as asked, count(*) over () as keys
               from days d join access_key k on k.org_id = $1 and k.id = d.key_id
              where ($4::uuid[] is null or (not k.all_shops and k.shop_ids <@ $4)) and ($5::uuid is null or k.id = $5)
              group by d.key_id, k.name, k.hint
              order by asked desc, d.key_id limit $6)
           select b.key_id as "keyId", b.name, b.hint, to_char(d.day, 'YYYY-MM-DD') as day, d.requests, d.refused, d.rows, b.keys::float8 as keys
             from busy b join days d on d.key_id = b.key_id
            order by b.asked desc, b.key_id, d.day`,
    values: [orgId, scope.since, scope.until, scope.shopIds, scope.keyId, limit],
  });
  return rows;
}
