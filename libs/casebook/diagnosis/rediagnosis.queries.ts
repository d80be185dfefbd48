import type { ChangeFilter, Rediagnosis, RediagnosisChange, RediagnosisRequest } from '#libs/contracts/index.js';
import { boolArray, byteaArray, float8Array, int4Array, type Tx, textArray, uuidArray } from '#libs/database/index.js';
import { signatureCode } from '../history/signature-code.js';
import type { HistoryAnswer } from './judge-batch.js';
import type { Compared, Tally } from './tally.js';

export interface RunRow
  extends Pick<Rediagnosis, 'id' | 'engineVersion' | 'request' | 'state' | 'done' | 'total' | 'detail' | 'createdAt' | 'updatedAt'> {
  readonly shopIds: string[];
  readonly allShops: boolean;
  readonly after: string | null;
  readonly tally: Tally;
}

const RUN = `r.id, r.engine_version as "engineVersion", r.request, t.state, t.done, t.total, t.detail, r.created_at as "createdAt",
  t.updated_at as "updatedAt", r.shop_ids as "shopIds", r.all_shops as "allShops", r.after, r.tally`;

export interface NewRun {
  readonly id: string;
  readonly engineVersion: string;
  readonly request: RediagnosisRequest;
  readonly shopIds: readonly string[] | null;
  readonly tally: Tally;
  readonly at: string;
}

export async function insertRun(tx: Tx, orgId: string, run: NewRun): Promise<void> {
  await tx.query({
    name: 'rediagnosis.insert',
    text: `insert into rediagnosis (org_id, id, engine_version, request, shop_ids, all_shops, tally, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8)`,
    values: [orgId, run.id, run.engineVersion, run.request, run.shopIds ?? [], run.shopIds === null, run.tally, run.at],
  });
}

/** Whoever asks for a run waits for whoever asked before. */
export async function lockRuns(tx: Tx, orgId: string): Promise<void> {
  await tx.query({
    name: 'rediagnosis.lock-all',
    text: 'select pg_advisory_xact_lock(hashtextextended($1, 0))',
    values: [JSON.stringify([orgId, 'rediagnosis'])],
  });
}

export async function findRun(tx: Tx, orgId: string, id: string, options: { lock?: boolean } = {}): Promise<RunRow | null> {
  const { rows } = await tx.query<RunRow>({
    name: options.lock ? 'rediagnosis.lock' : 'rediagnosis.find',
    text: `select ${RUN} from rediagnosis r join task t on t.org_id = r.org_id and t.id = r.id
            where r.org_id = $1 and r.id = $2 ${options.lock ? 'for update' : ''}`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function listRuns(tx: Tx, orgId: string, after: string | null, limit: number): Promise<RunRow[]> {
  const { rows } = await tx.query<RunRow>({
    name: 'rediagnosis.list',
    text: `select ${RUN} from rediagnosis r join task t on t.org_id = r.org_id and t.id = r.id
            where r.org_id = $1 and ($2::uuid is null or r.id < $2) order by r.id desc limit $3`,
    values: [orgId, after, limit],
  });
  return rows;
}

/** Whether the organisation's first answer is of another engine, and this one has had no run yet. Answers are kept, so the first stays the first. */
export async function needsCatchUp(tx: Tx, orgId: string, engineVersion: string): Promise<boolean> {
  const { rows } = await tx.query<{ behind: boolean }>({
    name: 'rediagnosis.needs-catch-up',
    text: `select exists (select from (select engine_version from diagnosis where org_id = $1 order by id limit 1) as first where first.engine_version <> $2)
                  and not exists (select from rediagnosis where org_id = $1 and engine_version = $2) as behind`,
    values: [orgId, engineVersion],
  });
  return rows[0]!.behind;
}

/**
 * Cases a run takes. $2 engine version, $3 shops, $4 to $9 what was asked for. Answers are looked up case by case (a scalar with a limit, not EXISTS): of an
 * EXISTS the planner may hash every answer of the organisation, for each batch of a run anew.
 */
const TAKEN = `c.org_id = $1 and c.status <> 'void' and c.platform_id is not null and ($3::uuid[] is null or c.shop_id = any($3))
              and ($4::uuid is null or c.platform_id = $4) and ($5::uuid is null or c.shop_id = $5)
              and ($6::date is null or c.opened_at >= $6) and ($7::date is null or c.opened_at < $7)
              and ($9::boolean or (select true from diagnosis a where a.org_id = $1 and a.case_id = c.id limit 1))
              and ($8::boolean or (select true from diagnosis n where n.org_id = $1 and n.case_id = c.id and n.case_revision = c.evidence_revision
                                                                 and n.engine_version = $2 and n.status is not null limit 1) is null)`;
type Asked = Pick<RunRow, 'engineVersion' | 'request' | 'shopIds' | 'allShops'>;
const takenValues = (orgId: string, { engineVersion, request, shopIds, allShops }: Asked) => [
  orgId,
  engineVersion,
  allShops ? null : shopIds,
  request.platformId ?? null,
  request.shopId ?? null,
  request.since ?? null,
  request.until ?? null,
  request.again ?? false,
  request.undiagnosed ?? false,
];

export async function countTaken(tx: Tx, orgId: string, run: Asked): Promise<number> {
  const { rows } = await tx.query<{ n: number }>({
    name: 'rediagnosis.count',
    text: `select count(*)::int as n from shop_case c where ${TAKEN}`,
    values: takenValues(orgId, run),
  });
  return rows[0]!.n;
}

export interface TakenCase {
  readonly id: string;
  readonly revision: number;
  readonly shopId: string;
  readonly elevationM: number;
  readonly vehicleId: string | null;
  readonly platformId: string;
  readonly openedAt: string;
  readonly complaint: string;
  readonly backfill: boolean;
  readonly isProved: boolean;
  readonly leading: string | null;
  readonly leadingProbability: number | null;
  readonly evidence: string;
  /** The engine that answered last; null when none has. */
  readonly fromVersion: string | null;
}

const FIRST_ID = '00000000-0000-0000-0000-000000000000';

/**
 * The next cases of a run after one, in the order of their identities. The page is taken along the primary key before anything is joined to it, so that a batch
 * costs the same wherever the run is. Of a history that was just filled the server has no statistics, takes it for a handful of cases, and would gather and
 * sort the whole of it for each batch: it is kept from that.
 */
export async function takenAfter(tx: Tx, orgId: string, run: Asked, after: string | null, limit: number): Promise<TakenCase[]> {
  await tx.query({ name: 'rediagnosis.along-the-key', text: 'set local enable_bitmapscan = off' });
  const { rows } = await tx.query<TakenCase>({
    name: 'rediagnosis.taken',
    text: `select c.id, c.evidence_revision as revision, c.shop_id as "shopId", s.elevation_m as "elevationM", c.vehicle_id as "vehicleId", c.platform_id as "platformId",
                  c.opened_at as "openedAt", c.complaint, c.backfill, cardinality(c.proved_faults) > 0 as "isProved",
                  c.leading_fault as leading, c.leading_probability as "leadingProbability", e.document::text as evidence,
                  (select o.engine_version from diagnosis o where o.org_id = $1 and o.case_id = c.id
                    order by o.created_at desc, o.id desc limit 1) as "fromVersion"
             from (select * from shop_case c where ${TAKEN} and c.id > $10::uuid order by c.id limit $11) as c
             join shop s on s.org_id = c.org_id and s.id = c.shop_id
             join case_evidence e on e.org_id = c.org_id and e.case_id = c.id and e.revision = c.evidence_revision
            order by c.id`,
    values: [...takenValues(orgId, run), after ?? FIRST_ID, limit],
  });
  await tx.query({ name: 'rediagnosis.any-way', text: 'set local enable_bitmapscan = on' });
  return rows;
}

/** One case of a batch with its answer; identities of the diagnosis rows are the caller's. */
export interface AnsweredCase {
  readonly diagnosisId: string;
  readonly taken: TakenCase;
  readonly layout: string;
  readonly answer: HistoryAnswer;
  readonly expectationVersion: number | null;
  readonly ownCases: readonly string[];
  readonly blind: boolean;
}

/** A list as the text of an array of the database: words without quotes or commas, numbers and nothing. */
const listText = (values: readonly (string | number | null)[]) => `{${values.map((value) => value ?? 'NULL').join(',')}}`;

/**
 * Stores the answers of a batch. A case that was amended meanwhile keeps what its newer evidence was answered with: the answer of the older
 * revision is stored beside it and leads nothing. Cases are locked in the order of their identities, as any batch takes them.
 */
export async function storeAnswers(tx: Tx, orgId: string, batch: readonly AnsweredCase[], at: string): Promise<void> {
  const ids = uuidArray(batch.map(({ taken }) => taken.id));
  const revisions = int4Array(batch.map(({ taken }) => taken.revision));
  const signatures = textArray(batch.map(({ answer }) => listText(answer.signature)));
  const versions = textArray(batch.map(({ answer }) => answer.signatureVersion));
  const leading = textArray(batch.map(({ answer }) => answer.leading));
  await tx.query({
    name: 'rediagnosis.lock-cases',
    text: 'select id from shop_case where org_id = $1 and id = any($2::uuid[]) order by id for no key update',
    values: [orgId, ids],
  });
  await tx.query({
    name: 'rediagnosis.store',
    text: `insert into diagnosis (org_id, id, case_id, case_revision, engine_version, result, signature_version, signature, created_at,
                                  status, codes, probabilities, observation_set, shown, blind, expectation_version, own_cases)
           select $1, n.id, n.case_id, n.revision, n.engine_version, n.result, n.signature_version, n.signature::float8[], $4, n.status,
                  n.codes::text[], n.probabilities::float8[], n.observation_set, n.shown, n.blind, n.expectation_version, n.own_cases::uuid[]
             from rows from (unnest($2::uuid[]), unnest($3::uuid[]), unnest($5::int[]), unnest($6::text[]), unnest($7::bytea[]),
                             unnest($8::text[]), unnest($9::text[]), unnest($10::text[]), unnest($11::text[]), unnest($12::text[]),
                             unnest($13::text[]), unnest($14::boolean[]), unnest($15::boolean[]), unnest($16::int[]), unnest($17::text[]))
               as n(id, case_id, revision, engine_version, result, signature_version, signature, status, codes, probabilities, observation_set,
                    shown, blind, expectation_version, own_cases)
           on conflict (org_id, case_id, case_revision, engine_version)
           do update set result = excluded.result, signature_version = excluded.signature_version, signature = excluded.signature,
                         created_at = excluded.created_at, status = excluded.status, codes = excluded.codes,
                         probabilities = excluded.probabilities, observation_set = excluded.observation_set,
                         shown = diagnosis.shown or excluded.shown, blind = excluded.blind,
                         expectation_version = excluded.expectation_version, own_cases = excluded.own_cases`,
    values: [
      orgId,
      uuidArray(batch.map(({ diagnosisId }) => diagnosisId)),
      ids,
      at,
      revisions,
      textArray(batch.map(({ answer }) => answer.engineVersion)),
      byteaArray(batch.map(({ answer }) => answer.result)),
      versions,
      signatures,
      textArray(batch.map(({ answer }) => answer.status)),
      textArray(batch.map(({ answer }) => listText(answer.codes))),
      textArray(batch.map(({ answer }) => listText(answer.probabilities))),
      textArray(batch.map(({ answer }) => answer.observationSet)),
      boolArray(batch.map(({ taken }) => !taken.backfill && !taken.isProved)),
      boolArray(batch.map(({ blind }) => blind)),
      int4Array(batch.map(({ expectationVersion }) => expectationVersion)),
      textArray(batch.map(({ ownCases }) => listText(ownCases))),
    ],
  });
  await tx.query({
    name: 'rediagnosis.lead',
    text: `update shop_case c set version = c.version + 1, leading_fault = n.fault, leading_probability = n.probability
             from unnest($2::uuid[], $3::int[], $4::text[], $5::float8[]) as n(case_id, revision, fault, probability)
            where c.org_id = $1 and c.id = n.case_id and c.evidence_revision = n.revision
              and (c.leading_fault is distinct from n.fault or c.leading_probability is distinct from n.probability)`,
    values: [orgId, ids, revisions, leading, float8Array(batch.map(({ answer }) => answer.leadingProbability))],
  });
  await tx.query({
    name: 'rediagnosis.signatures',
    text: `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values, code)
           select $1, c.id, n.version, n.layout, n.fault, c.opened_at, n.signature::float8[], n.code
             from unnest($2::uuid[], $3::int[], $4::text[], $5::text[], $6::text[], $7::text[], $8::bytea[])
               as n(case_id, revision, version, layout, fault, signature, code)
             join shop_case c on c.org_id = $1 and c.id = n.case_id and c.evidence_revision = n.revision
           on conflict (org_id, case_id)
           do update set version = excluded.version, layout = excluded.layout, leading_fault = excluded.leading_fault,
                         opened_at = excluded.opened_at, values = excluded.values, code = excluded.code,
                         written_in = excluded.written_in
            where (case_signature.version, case_signature.layout, case_signature.leading_fault, case_signature.values, case_signature.code)
                  is distinct from (excluded.version, excluded.layout, excluded.leading_fault, excluded.values, excluded.code)`,
    values: [
      orgId,
      ids,
      revisions,
      versions,
      textArray(batch.map(({ layout }) => layout)),
      leading,
      signatures,
      byteaArray(batch.map(({ answer }) => signatureCode(answer.signature))),
    ],
  });
}

export async function insertChanges(
  tx: Tx,
  orgId: string,
  runId: string,
  changes: readonly (Compared & { readonly caseId: string })[],
): Promise<void> {
  if (changes.length === 0) return;
  await tx.query({
    name: 'rediagnosis.insert-changes',
    text: `insert into rediagnosis_change (org_id, rediagnosis_id, case_id, from_leading, from_probability, to_leading, to_probability)
           select $1, $2, n.* from unnest($3::uuid[], $4::text[], $5::float8[], $6::text[], $7::float8[]) as n`,
    values: [
      orgId,
      runId,
      changes.map(({ caseId }) => caseId),
      changes.map(({ from }) => from),
      changes.map(({ fromProbability }) => fromProbability),
      changes.map(({ to }) => to),
      changes.map(({ toProbability }) => toProbability),
    ],
  });
}

export async function advanceRun(tx: Tx, orgId: string, id: string, after: string, tally: Tally): Promise<void> {
  await tx.query({
    name: 'rediagnosis.advance',
    text: 'update rediagnosis set after = $3, tally = $4 where org_id = $1 and id = $2',
    values: [orgId, id, after, tally],
  });
}

/** Begins a run from its first case: what an earlier beginning had counted is forgotten. */
export async function beginRun(tx: Tx, orgId: string, { id, engineVersion, tally }: RunRow, total: number): Promise<void> {
  await tx.query({
    name: 'rediagnosis.begin',
    text: 'update rediagnosis set engine_version = $3, after = null, tally = $4 where org_id = $1 and id = $2',
    values: [orgId, id, engineVersion, tally],
  });
  await tx.query({
    name: 'rediagnosis.forget-changes',
    text: 'delete from rediagnosis_change where org_id = $1 and rediagnosis_id = $2',
    values: [orgId, id],
  });
  await tx.query({
    name: 'rediagnosis.total',
    text: 'update task set total = $3 where org_id = $1 and id = $2',
    values: [orgId, id, total],
  });
}

export async function listChanges(
  tx: Tx,
  orgId: string,
  runId: string,
  shopIds: readonly string[] | null,
  filter: ChangeFilter,
  after: string | null,
  limit: number,
): Promise<RediagnosisChange[]> {
  const { rows } = await tx.query<RediagnosisChange>({
    name: 'rediagnosis.changes',
    text: `select h.case_id as "caseId", c.shop_id as "shopId", h.from_leading as "from", h.from_probability as "fromProbability",
                  h.to_leading as "to", h.to_probability as "toProbability"
             from rediagnosis_change h join shop_case c on c.org_id = h.org_id and c.id = h.case_id
            where h.org_id = $1 and h.rediagnosis_id = $2 and ($3::uuid[] is null or c.shop_id = any($3))
              and ($4::text is null or h.from_leading = $4) and ($5::text is null or h.to_leading = $5)
              and ($6::uuid is null or h.case_id > $6)
            order by h.case_id limit $7`,
    values: [orgId, runId, shopIds, filter.from ?? null, filter.to ?? null, after, limit],
  });
  return rows;
}
