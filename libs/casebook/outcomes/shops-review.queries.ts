import type { FaultCode, RepairIntent, ShopReviewQuestion } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { inPages } from './in-pages.js';
import { type EpisodeSpan, SPAN } from './outcomes.queries.js';

export interface ReviewedSpan extends EpisodeSpan {
  readonly platformId: string | null;
  readonly family: string;
  readonly fault: FaultCode;
  readonly intent: RepairIntent;
  readonly endShopId: string | null;
}

export async function reviewedSpans(tx: Tx, orgId: string, question: ShopReviewQuestion): Promise<ReviewedSpan[]> {
  const { fault, intent, platformId, since, until } = question;
  const texts = new Map<string, string>();
  return inPages(async (after, limit) => {
    const { rows } = await tx.query<ReviewedSpan & { key: string }>({
      name: 'shops-review.spans',
      text: `select e.id as key, ${SPAN}, e.platform_id as "platformId", coalesce(p.family, '') as family, e.fault, e.intent,
                    e.end_shop_id as "endShopId"
               from episode e
               left join platform p on p.org_id = e.org_id and p.id = e.platform_id
              where e.org_id = $1 and ($2::text is null or e.fault = $2) and ($3::text is null or e.intent = $3)
                and ($4::uuid is null or e.platform_id = $4) and ($5::date is null or e.started_on >= $5) and ($6::date is null or e.started_on < $6)
                and e.id > $7
              order by e.id limit $8`,
      values: [orgId, fault ?? null, intent ?? null, platformId ?? null, since ?? null, until ?? null, after, limit],
    });
    for (const row of rows) shareTexts(row, texts);
    return rows;
  });
}

/** What few rows have to themselves: the rest of their texts are the same few, read anew with each row. */
const OWN_TEXTS: ReadonlySet<string> = new Set(['key', 'vehicleId']);

/** Lets a row share its texts with the rows before it: a region of a million repairs would otherwise hold each some nine times over. */
function shareTexts<T extends object>(row: T, texts: Map<string, string>): void {
  for (const name of Object.keys(row) as (keyof T & string)[]) {
    const value = row[name];
    if (typeof value !== 'string' || OWN_TEXTS.has(name)) continue;
    const known = texts.get(value);
    if (known === undefined) texts.set(value, value);
    else row[name] = known as typeof value;
  }
}

export interface ReviewedShop {
  readonly id: string;
  readonly code: string;
  readonly name: string;
  readonly currency: string;
}

export async function reviewedShops(tx: Tx, orgId: string): Promise<ReviewedShop[]> {
  const { rows } = await tx.query<ReviewedShop>({
    name: 'shops-review.shops',
    text: 'select id, code, name, currency from shop where org_id = $1 order by code',
    values: [orgId],
  });
  return rows;
}

export interface RecordedCases {
  readonly shopId: string;
  readonly cases: number;
  readonly proved: number;
  readonly repaired: number;
}

/** How many cases of each shop have a proved cause and a repair. */
export async function recordedCases(
  tx: Tx,
  orgId: string,
  since: string | undefined,
  until: string | undefined,
): Promise<Map<string, RecordedCases>> {
  const { rows } = await tx.query<RecordedCases>({
    name: 'shops-review.recorded',
    text: `select c.shop_id as "shopId", count(*)::int as cases, count(*) filter (where cardinality(c.proved_faults) > 0)::int as proved,
                  count(r.case_id)::int as repaired
             from shop_case c
             left join (select distinct case_id from repair where org_id = $1) r on r.case_id = c.id
            where c.org_id = $1 and c.status <> 'void' and ($2::date is null or c.opened_at >= $2) and ($3::date is null or c.opened_at < $3)
            group by c.shop_id`,
    values: [orgId, since ?? null, until ?? null],
  });
  return new Map(rows.map((row) => [row.shopId, row]));
}
