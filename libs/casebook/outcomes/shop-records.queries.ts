import type { PeriodQuestion } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

/** Bounds of a period as statements take them. */
export interface Period {
  readonly since: string;
  readonly until: string | null;
}

export interface ReturnedWork {
  readonly shopId: string;
  readonly endCaseId: string;
  readonly currency: string;
  readonly labourRate: number;
  readonly hours: number | null;
  readonly parts: number | null;
  readonly paid: number | null;
  readonly chargedG: number;
  /** Earlier repairs that came back with this visit: they share what it cost. */
  readonly sharers: number;
}

/** Work done at each visit with which a repair of the period came back, at the shop of that repair. */
export async function returnedWork(tx: Tx, orgId: string, period: Period, question: PeriodQuestion): Promise<ReturnedWork[]> {
  const { rows } = await tx.query<ReturnedWork>({
    name: 'shop-records.returned-work',
    text: `with back as materialized (
             select e.shop_id, e.end_case_id, e.end_shop_id
               from episode e
              where e.org_id = $1 and e.end_kind = any('{same-fault,consequent-fault,same-complaint,repair-caused}')
                and e.started_on >= $2::date and ($3::date is null or e.started_on < $3)
                and ($4::text is null or e.fault = $4) and ($5::uuid is null or e.platform_id = $5)),
           done as (
             select r.case_id, r.shop_id, sum(r.labour_hours) as hours, sum(r.cost) as paid, coalesce(sum(r.charged_g), 0) as charged,
                    sum(q.price) as parts
               from repair r
               left join lateral (select sum((one->>'price')::float8 * (one->>'quantity')::int) as price
                                    from jsonb_array_elements(r.parts) as one) q on true
              where r.org_id = $1 and r.action <> 'no-repair' and r.case_id in (select b.end_case_id from back b)
              group by r.case_id, r.shop_id)
           select e.shop_id as "shopId", e.end_case_id as "endCaseId", s.currency, s.labour_rate as "labourRate", d.hours, d.parts, d.paid,
                  coalesce(d.charged, 0) as "chargedG", (count(*) over (partition by e.end_case_id))::int as sharers
             from back e
             join shop s on s.org_id = $1 and s.id = e.end_shop_id
             left join done d on d.case_id = e.end_case_id`,
    values: [orgId, period.since, period.until, question.fault ?? null, question.platformId ?? null],
  });
  return rows;
}

export interface RepairCount {
  readonly shopId: string;
  readonly episodes: number;
  readonly linked: number;
}

export async function repairCounts(tx: Tx, orgId: string, period: Period, question: PeriodQuestion): Promise<RepairCount[]> {
  const { rows } = await tx.query<RepairCount>({
    name: 'shop-records.repair-counts',
    text: `select shop_id as "shopId", count(*)::int as episodes, count(*) filter (where linked_by <> 'none')::int as linked
             from episode
            where org_id = $1 and started_on >= $2::date and ($3::date is null or started_on < $3)
              and ($4::text is null or fault = $4) and ($5::uuid is null or platform_id = $5)
            group by shop_id`,
    values: [orgId, period.since, period.until, question.fault ?? null, question.platformId ?? null],
  });
  return rows;
}

export interface RecordCounts {
  readonly shopId: string;
  readonly cases: number;
  readonly proved: number;
  readonly judged: number;
  readonly openedPart: number;
  readonly afterReadings: number;
  readonly withReadings: number;
  readonly readings: number;
  readonly atRest: number;
  readonly warned: number;
  readonly called: number;
  readonly confirmed: number;
}

/** What the cases of each shop hold. */
export async function recordCounts(tx: Tx, orgId: string, period: Period, question: PeriodQuestion): Promise<RecordCounts[]> {
  const { rows } = await tx.query<RecordCounts>({
    name: 'shop-records.counts',
    text: `with seen as (
             select c.id, c.shop_id, c.proved_faults, c.leading_fault, c.warnings, d.document->'readings' as readings,
                    coalesce((select array_agg(p.method) from proof p where p.org_id = $1 and p.case_id = c.id), '{}') as methods
               from shop_case c
               left join case_evidence d on d.org_id = c.org_id and d.case_id = c.id and d.revision = c.evidence_revision
              where c.org_id = $1 and c.status <> 'void' and c.opened_at >= $2::date and ($3::date is null or c.opened_at < $3)
                and ($4::text is null or $4 = any(c.proved_faults)) and ($5::uuid is null or c.platform_id = $5)),
           counted as (
             select s.*, coalesce(jsonb_array_length(s.readings), 0) as reading_count,
                    exists (select from jsonb_array_elements(s.readings) as one
                             where one->>'quantity' = 'pressure' and one->>'phase' = 'rest') as has_rest
               from seen s)
           select shop_id as "shopId", count(*)::int as cases, count(*) filter (where cardinality(proved_faults) > 0)::int as proved,
                  count(*) filter (where cardinality(proved_faults) = 0 and 'judgement' = any(methods))::int as judged,
                  count(*) filter (where 'opened-part' = any(methods))::int as "openedPart",
                  count(*) filter (where 'verified-after-readings' = any(methods))::int as "afterReadings",
                  count(*) filter (where reading_count > 0)::int as "withReadings", sum(reading_count)::int as readings,
                  count(*) filter (where has_rest)::int as "atRest", count(*) filter (where jsonb_array_length(warnings) > 0)::int as warned,
                  count(*) filter (where cardinality(proved_faults) > 0 and leading_fault is not null)::int as called,
                  count(*) filter (where leading_fault = any(proved_faults))::int as confirmed
             from counted group by shop_id`,
    values: [orgId, period.since, period.until, question.fault ?? null, question.platformId ?? null],
  });
  return rows;
}

export interface WeighedCharge {
  readonly shopId: string;
  readonly month: string;
  readonly action: string;
  readonly refrigerant: string | null;
  readonly specifiedG: number | null;
  readonly recoveredG: number | null;
  readonly chargedG: number | null;
  readonly machineId: string | null;
  readonly machineName: string | null;
}

/** Repairs that open or fill the circuit, with what was weighed. */
export async function weighedCharges(
  tx: Tx,
  orgId: string,
  period: Period,
  actions: readonly string[],
  platformId: string | null,
  fault: string | null,
): Promise<WeighedCharge[]> {
  const { rows } = await tx.query<WeighedCharge>({
    name: 'shop-records.charges',
    text: `select r.shop_id as "shopId", to_char(r.day, 'YYYY-MM') as month, r.action, p.refrigerant, p.charge_g as "specifiedG",
                  r.recovered_g as "recoveredG", r.charged_g as "chargedG",
                  r.machine_id as "machineId", m.name as "machineName"
             from repair r
             left join charging_machine m on m.org_id = r.org_id and m.id = r.machine_id
             join shop_case c on c.org_id = r.org_id and c.id = r.case_id
             left join platform p on p.org_id = c.org_id and p.id = c.platform_id
            where r.org_id = $1 and c.status <> 'void' and r.day >= $2::date and ($3::date is null or r.day < $3)
              and (r.action = any($4::text[]) or r.charged_g is not null or r.recovered_g is not null)
              and ($5::uuid is null or c.platform_id = $5) and ($6::text is null or r.fault = $6)`,
    values: [orgId, period.since, period.until, actions, platformId, fault],
  });
  return rows;
}
