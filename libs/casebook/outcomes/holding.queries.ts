import type { FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type EpisodeSpan, SPAN } from './outcomes.queries.js';

/** One repair of the asked fault, with the platform it was done on. */
export interface RepairSpan extends EpisodeSpan {
  readonly platformId: string | null;
  readonly family: string | null;
  readonly layout: string | null;
  readonly action: RepairAction;
  readonly intent: RepairIntent;
}

export async function repairSpans(tx: Tx, orgId: string, fault: FaultCode): Promise<RepairSpan[]> {
  const { rows } = await tx.query<RepairSpan>({
    name: 'holding.spans',
    text: `select ${SPAN}, e.platform_id as "platformId",
                  p.family, p.layout, e.action, e.intent
             from episode e
             left join platform p on p.org_id = e.org_id and p.id = e.platform_id
            where e.org_id = $1 and e.fault = $2`,
    values: [orgId, fault],
  });
  return rows;
}

/** Median of prices of one kind of repair, at the shop and over all shops with its currency. */
export interface MedianPrice {
  readonly action: RepairAction;
  readonly intent: RepairIntent;
  readonly ownCount: number;
  readonly own: number | null;
  readonly count: number;
  readonly median: number;
}

const MEDIANS = `count(*) filter (where shop_id = $3)::int as "ownCount",
  percentile_cont(0.5) within group (order by cost) filter (where shop_id = $3) as own,
  count(*)::int as count, percentile_cont(0.5) within group (order by cost) as median`;

/** What each kind of repair of the fault was charged. */
export async function repairPrices(tx: Tx, orgId: string, fault: FaultCode, shopId: string, currency: string): Promise<MedianPrice[]> {
  const { rows } = await tx.query<MedianPrice>({
    name: 'holding.prices',
    text: `with charged as (
             select r.action, r.intent, r.shop_id, r.cost
               from repair r
               join shop s on s.org_id = r.org_id and s.id = r.shop_id
               join shop_case c on c.org_id = r.org_id and c.id = r.case_id
              where r.org_id = $1 and r.fault = $2 and r.cost is not null and s.currency = $4 and c.status <> 'void')
           select action, intent, ${MEDIANS} from charged group by action, intent`,
    values: [orgId, fault, shopId, currency],
  });
  return rows;
}

/** What was charged at the visits at which repairs of the fault came back. */
export async function returnPrices(tx: Tx, orgId: string, fault: FaultCode, shopId: string, currency: string): Promise<MedianPrice[]> {
  const { rows } = await tx.query<MedianPrice>({
    name: 'holding.return-prices',
    text: `with charged as (
             select e.action, e.intent, r.shop_id, sum(r.cost) as cost
               from episode e
               join repair r on r.org_id = e.org_id and r.case_id = e.end_case_id
               join shop s on s.org_id = r.org_id and s.id = r.shop_id
              where e.org_id = $1 and e.fault = $2 and r.cost is not null and s.currency = $4
                and e.end_kind = any('{same-fault,consequent-fault,same-complaint,repair-caused}')
              group by e.id, e.action, e.intent, r.shop_id)
           select action, intent, ${MEDIANS} from charged group by action, intent`,
    values: [orgId, fault, shopId, currency],
  });
  return rows;
}
