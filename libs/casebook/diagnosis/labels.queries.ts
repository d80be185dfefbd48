import type { FaultCode } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { labelSet, OPENING_ACTIONS, type ProofFacts } from './labels.js';

/** Beyond so many proved cases of a platform the newest speak for it. */
const PROVED_AT_MOST = 2_000;
const VISITS_AT_MOST = 20;

/**
 * Of a case `c` on a platform `t`: its latest proof that is more than a judgement (`f`), whether the circuit was charged again (`w`), and what weight
 * and identifier said beforehand (`m`). Opening actions are $2.
 */
export const PROOF_FACTS = `cross join lateral (select p.faults, p.method from proof p
                                where p.org_id = c.org_id and p.case_id = c.id and p.method <> 'judgement'
                                order by p.created_at desc, p.id desc limit 1) as f
             cross join lateral (select coalesce(bool_or(r.charged_g is not null or r.action = any($2::text[])), false) as recharged,
                                        max(r.recovered_g) as recovered_g
                                   from repair r where r.org_id = c.org_id and r.case_id = c.id) as w
             cross join lateral (select max((one->>'si')::float8) filter (where one->>'meaning' = 'recovered-charge') * 1000 as recovered_g,
                                        max((one->>'si')::float8) filter (where one->>'meaning' = 'air-share') as air_share
                                   from case_evidence e cross join lateral jsonb_array_elements(e.document->'readings') as one
                                  where e.org_id = c.org_id and e.case_id = c.id and e.revision = c.evidence_revision
                                    and f.method = 'verified-after-readings' and w.recharged and coalesce(one->>'stage', 'before') = 'before') as m`;

export const PROOF_COLUMNS = `f.faults, f.method, w.recharged, m.air_share as "airShare",
                  round((coalesce(m.recovered_g, w.recovered_g) / t.charge_g)::numeric, 3)::float8 as "recoveredShare"`;

export interface ProvedCount {
  readonly code: FaultCode;
  readonly count: number;
}

/** Faults proved alone on a platform, with how often, a case itself left out: nothing that was only judged, and no set of causes. */
export async function provedOnPlatform(tx: Tx, orgId: string, platformId: string, exceptCaseId: string | null): Promise<ProvedCount[]> {
  const { rows } = await tx.query<ProofFacts & { count: number }>({
    name: 'labels.on-platform',
    text: `select f.faults, f.method, f.recharged, f."airShare", f."recoveredShare", count(*)::int as count
             from (select ${PROOF_COLUMNS}
                     from (select * from shop_case
                            where org_id = $1 and platform_id = $3 and cardinality(proved_faults) > 0 and status <> 'void' and id is distinct from $4
                            order by opened_at desc limit ${PROVED_AT_MOST}) as c
                     join platform t on t.org_id = $1 and t.id = c.platform_id
                     ${PROOF_FACTS}) as f
            group by 1, 2, 3, 4, 5`,
    values: [orgId, OPENING_ACTIONS, platformId, exceptCaseId],
  });
  const counts = new Map<FaultCode, number>();
  for (const { count, ...facts } of rows) {
    const label = labelSet(facts);
    if (label.length === 1) counts.set(label[0]!, (counts.get(label[0]!) ?? 0) + count);
  }
  return [...counts].map(([code, count]) => ({ code, count })).sort((a, b) => (a.code < b.code ? -1 : 1));
}

export interface ProvedVisit {
  readonly vehicleId: string;
  readonly caseId: string;
  readonly openedAt: string;
  readonly code: FaultCode;
}

/** Faults proved alone on vehicles, most recent first, twenty visits of each at most. */
export async function provedOnVehicles(tx: Tx, orgId: string, vehicleIds: readonly string[]): Promise<ProvedVisit[]> {
  if (vehicleIds.length === 0) return [];
  const { rows } = await tx.query<ProofFacts & Omit<ProvedVisit, 'code'>>({
    name: 'labels.on-vehicles',
    text: `select c.vehicle_id as "vehicleId", c.id as "caseId", c.opened_at as "openedAt", ${PROOF_COLUMNS}
             from unnest((select $3::uuid[])) as asked(vehicle_id)
             cross join lateral (select * from shop_case v
                                  where v.org_id = $1 and v.vehicle_id = asked.vehicle_id and cardinality(v.proved_faults) > 0 and v.status <> 'void'
                                  order by v.opened_at desc, v.id limit ${VISITS_AT_MOST}) as c
             left join platform t on t.org_id = c.org_id and t.id = c.platform_id
             ${PROOF_FACTS}
            order by c.opened_at desc, c.id`,
    values: [orgId, OPENING_ACTIONS, vehicleIds],
  });
  return rows.flatMap(({ vehicleId, caseId, openedAt, ...facts }) => {
    const label = labelSet(facts);
    return label.length === 1 ? [{ vehicleId, caseId, openedAt, code: label[0]! }] : [];
  });
}

/** The cause proved alone in each of these cases; cases without one are left out. */
export async function provedAlone(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<ReadonlyMap<string, FaultCode>> {
  if (caseIds.length === 0) return new Map();
  const { rows } = await tx.query<ProofFacts & { caseId: string }>({
    name: 'labels.of-cases',
    text: `select c.id as "caseId", ${PROOF_COLUMNS}
             from shop_case c left join platform t on t.org_id = c.org_id and t.id = c.platform_id
             ${PROOF_FACTS}
            where c.org_id = $1 and c.id = any($3)`,
    values: [orgId, OPENING_ACTIONS, caseIds],
  });
  return new Map(
    rows.flatMap(({ caseId, ...facts }) => {
      const label = labelSet(facts);
      return label.length === 1 ? [[caseId, label[0]!] as const] : [];
    }),
  );
}
