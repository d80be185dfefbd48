import type { Diagnosis, DiagnosisResult, ObservationSet } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { signatureCode } from '../history/signature-code.js';
import { packedAnswer, unpackedAnswer } from './packed-answer.js';
import { type Ranked, rankingOf } from './ranking.js';

const COLUMNS = `id, case_id as "caseId", case_revision as "caseRevision", created_at as "createdAt", blind,
  expectation_version as "expectationVersion", result,
  (select coalesce(json_agg(json_build_object('day', to_char(o.opened_at at time zone 'utc', 'YYYY-MM-DD'), 'sameShop', o.shop_id = c.shop_id)
                            order by o.opened_at desc, o.id), '[]')
     from shop_case o join shop_case c on c.org_id = $1 and c.id = diagnosis.case_id
    where o.org_id = $1 and o.id = any(diagnosis.own_cases) and o.vehicle_id = c.vehicle_id) as "ownSound"`;

type StoredDiagnosis = Omit<Diagnosis, 'result'> & { readonly result: Buffer };
const unpacked = (row: StoredDiagnosis): Diagnosis => ({ ...row, result: unpackedAnswer(row.result) });

/** What figures of quality need to know of an answer beside the answer. */
export interface JudgedUnder {
  readonly observationSet: ObservationSet;
  /** Given out while the cause was not proved. */
  readonly shown: boolean;
  /** Earlier visits of the vehicle whose sound readings it was judged by. */
  readonly ownCases: readonly string[];
}

/** One answer a case revision and engine version: asking again puts the new answer in its place. Once shown, it stays shown. */
export async function insertDiagnosis(
  tx: Tx,
  orgId: string,
  diagnosis: Omit<Diagnosis, 'ownSound'>,
  under: JudgedUnder,
): Promise<Diagnosis> {
  const { result } = diagnosis;
  const { codes, probabilities }: Ranked = rankingOf(result);
  const { rows } = await tx.query<StoredDiagnosis>({
    name: 'diagnosis.insert',
    text: `insert into diagnosis (org_id, id, case_id, case_revision, engine_version, result, signature_version, signature, created_at,
                                  status, codes, probabilities, observation_set, shown, blind, expectation_version, own_cases)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)
           on conflict (org_id, case_id, case_revision, engine_version)
           do update set result = excluded.result, signature_version = excluded.signature_version, signature = excluded.signature,
                         created_at = excluded.created_at, status = excluded.status, codes = excluded.codes,
                         probabilities = excluded.probabilities, observation_set = excluded.observation_set,
                         shown = diagnosis.shown or excluded.shown, blind = excluded.blind,
                         expectation_version = excluded.expectation_version, own_cases = excluded.own_cases
           returning ${COLUMNS}`,
    values: [
      orgId,
      diagnosis.id,
      diagnosis.caseId,
      diagnosis.caseRevision,
      result.engineVersion,
      packedAnswer(result),
      result.signature.version,
      result.signature.values,
      diagnosis.createdAt,
      result.status,
      codes,
      probabilities,
      under.observationSet,
      under.shown,
      diagnosis.blind,
      diagnosis.expectationVersion,
      under.ownCases,
    ],
  });
  return unpacked(rows[0]!);
}

export async function upsertSignature(
  tx: Tx,
  orgId: string,
  row: { caseId: string; layout: string; leadingFault: string | null; openedAt: string; signature: DiagnosisResult['signature'] },
): Promise<void> {
  await tx.query({
    name: 'diagnosis.upsert-signature',
    text: `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values, code)
           values ($1, $2, $3, $4, $5, $6, $7, $8)
           on conflict (org_id, case_id)
           do update set version = excluded.version, layout = excluded.layout, leading_fault = excluded.leading_fault,
                         opened_at = excluded.opened_at, values = excluded.values, code = excluded.code,
                         written_in = excluded.written_in`,
    values: [
      orgId,
      row.caseId,
      row.signature.version,
      row.layout,
      row.leadingFault,
      row.openedAt,
      row.signature.values,
      signatureCode(row.signature.values),
    ],
  });
}

export async function setLeadingFault(
  tx: Tx,
  orgId: string,
  caseId: string,
  fault: string | null,
  probability: number | null,
): Promise<void> {
  await tx.query({
    name: 'diagnosis.set-leading',
    text: 'update shop_case set version = version + 1, leading_fault = $3, leading_probability = $4 where org_id = $1 and id = $2',
    values: [orgId, caseId, fault, probability],
  });
}

/** Newest first. */
export async function diagnosesOfCase(tx: Tx, orgId: string, caseId: string, limit: number): Promise<Diagnosis[]> {
  const { rows } = await tx.query<StoredDiagnosis>({
    name: 'diagnosis.of-case',
    text: `select ${COLUMNS} from diagnosis where org_id = $1 and case_id = $2 order by created_at desc, id desc limit $3`,
    values: [orgId, caseId, limit],
  });
  return rows.map(unpacked);
}
