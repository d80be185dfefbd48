import type { HypothesisCode, Layout, ObservationSet, QualityQuestion } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { OPENING_ACTIONS, type ProofFacts } from './labels.js';
import { PROOF_COLUMNS, PROOF_FACTS } from './labels.queries.js';

/** The newest so many proved cases speak for the engine. */
export const JUDGED_AT_MOST = 20_000;

export interface JudgedRow extends ProofFacts {
  readonly caseId: string;
  readonly shopId: string;
  readonly platformId: string;
  readonly layout: Layout;
  readonly openedAt: string;
  readonly engineVersion: string;
  readonly status: 'answered' | 'cannot-tell';
  readonly codes: HypothesisCode[];
  readonly probabilities: number[];
  readonly observationSet: ObservationSet;
  readonly blind: boolean;
  /** Some answer was given out before the cause was proved. */
  readonly shown: boolean;
}

type Filter = Pick<QualityQuestion, 'platformId' | 'layout' | 'observationSet' | 'since' | 'until'>;

const FROM_LATEST = `diagnosis d
             join shop_case c on c.org_id = d.org_id and c.id = d.case_id and c.evidence_revision = d.case_revision`;
const FROM_GIVEN = `(select distinct on (g.case_id) g.* from diagnosis g
                     where g.org_id = $1 and g.shown and g.status is not null
                     order by g.case_id, g.created_at desc, g.id desc) d
             join shop_case c on c.org_id = d.org_id and c.id = d.case_id`;
const WHERE = `d.org_id = $1 and ($3::text is null or d.engine_version = $3) and d.status is not null and c.status <> 'void'
              and ($4::uuid is null or c.platform_id = $4) and ($5::text is null or t.layout = $5)
              and ($6::text is null or d.observation_set = $6)
              and ($7::date is null or c.opened_at >= $7) and ($8::date is null or c.opened_at < $8)`;

const valuesOf = (orgId: string, engineVersion: string | null, filter: Filter) => [
  orgId,
  OPENING_ACTIONS,
  engineVersion,
  filter.platformId ?? null,
  filter.layout ?? null,
  filter.observationSet ?? null,
  filter.since ?? null,
  filter.until ?? null,
];

/** Proved cases with the answer they are judged by, newest first: that of one engine version, or the last that was given out while unproved. */
export async function judgedRows(tx: Tx, orgId: string, engineVersion: string | null, filter: Filter): Promise<JudgedRow[]> {
  const isLatest = engineVersion !== null;
  const { rows } = await tx.query<JudgedRow>({
    name: isLatest ? 'quality.latest' : 'quality.given',
    text: `select c.id as "caseId", c.shop_id as "shopId", c.platform_id as "platformId", t.layout, c.opened_at as "openedAt",
                  d.engine_version as "engineVersion", d.status, d.codes, d.probabilities, d.observation_set as "observationSet", d.blind,
                  exists (select from diagnosis s where s.org_id = $1 and s.case_id = c.id and s.shown) as shown, ${PROOF_COLUMNS}
             from ${isLatest ? FROM_LATEST : FROM_GIVEN}
             join platform t on t.org_id = c.org_id and t.id = c.platform_id
             ${PROOF_FACTS}
            where ${WHERE} and cardinality(c.proved_faults) > 0
            order by c.id desc limit ${JUDGED_AT_MOST}`,
    values: valuesOf(orgId, engineVersion, filter),
  });
  return rows;
}

export interface UnprovedCount {
  readonly leading: HypothesisCode | null;
  readonly status: 'answered' | 'cannot-tell';
  readonly n: number;
}

/** Cases without proof, by what stands first in their answer. */
export async function unprovedCounts(tx: Tx, orgId: string, engineVersion: string | null, filter: Filter): Promise<UnprovedCount[]> {
  const isLatest = engineVersion !== null;
  const { rows } = await tx.query<UnprovedCount>({
    name: isLatest ? 'quality.unproved-latest' : 'quality.unproved-given',
    text: `select d.codes[1] as leading, d.status, count(*)::int as n
             from ${isLatest ? FROM_LATEST : FROM_GIVEN}
             join platform t on t.org_id = c.org_id and t.id = c.platform_id
            where ${WHERE} and cardinality(c.proved_faults) = 0 and $2::text[] is not null
            group by 1, 2`,
    values: valuesOf(orgId, engineVersion, filter),
  });
  return rows;
}

/** Proved cases that another engine answered and this one has not. */
export async function waitingCount(tx: Tx, orgId: string, engineVersion: string, filter: Filter): Promise<number> {
  const { rows } = await tx.query<{ n: number }>({
    name: 'quality.waiting',
    text: `select count(*)::int as n
             from shop_case c join platform t on t.org_id = c.org_id and t.id = c.platform_id
            where c.org_id = $1 and c.status <> 'void' and cardinality(c.proved_faults) > 0
              and ($3::uuid is null or c.platform_id = $3) and ($4::text is null or t.layout = $4)
              and ($5::date is null or c.opened_at >= $5) and ($6::date is null or c.opened_at < $6)
              and exists (select from diagnosis o where o.org_id = $1 and o.case_id = c.id)
              and not exists (select from diagnosis n where n.org_id = $1 and n.case_id = c.id and n.case_revision = c.evidence_revision
                                                        and n.engine_version = $2 and n.status is not null)`,
    values: [orgId, engineVersion, filter.platformId ?? null, filter.layout ?? null, filter.since ?? null, filter.until ?? null],
  });
  return rows[0]!.n;
}
