import type { Diagnosis, DiagnosisResult } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, case_id as "caseId", case_revision as "caseRevision", created_at as "createdAt", result`;

/** One answer a case revision and engine version; asking again replaces nothing and returns what is stored. */
export async function insertDiagnosis(tx: Tx, orgId: string, diagnosis: Diagnosis): Promise<Diagnosis> {
  const { result } = diagnosis;
  const { rows } = await tx.query<Diagnosis>({
    name: 'diagnosis.insert',
    text: `insert into diagnosis (org_id, id, case_id, case_revision, engine_version, result, signature_version, signature, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
           on conflict (org_id, case_id, case_revision, engine_version)
           do update set result = excluded.result, signature_version = excluded.signature_version, signature = excluded.signature,
                         created_at = excluded.created_at
           returning ${COLUMNS}`,
    values: [
      orgId,
      diagnosis.id,
      diagnosis.caseId,
      diagnosis.caseRevision,
      result.engineVersion,
      JSON.stringify(result),
      result.signature.version,
      result.signature.values,
      diagnosis.createdAt,
    ],
  });
  return rows[0]!;
}

export async function upsertSignature(
  tx: Tx,
  orgId: string,
  row: { caseId: string; layout: string; leadingFault: string | null; openedAt: string; signature: DiagnosisResult['signature'] },
): Promise<void> {
  await tx.query({
    name: 'diagnosis.upsert-signature',
    text: `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values)
           values ($1, $2, $3, $4, $5, $6, $7)
           on conflict (org_id, case_id)
           do update set version = excluded.version, layout = excluded.layout, leading_fault = excluded.leading_fault,
                         opened_at = excluded.opened_at, values = excluded.values`,
    values: [orgId, row.caseId, row.signature.version, row.layout, row.leadingFault, row.openedAt, row.signature.values],
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
  const { rows } = await tx.query<Diagnosis>({
    name: 'diagnosis.of-case',
    text: `select ${COLUMNS} from diagnosis where org_id = $1 and case_id = $2 order by created_at desc, id desc limit $3`,
    values: [orgId, caseId, limit],
  });
  return rows;
}

export interface ProvedCount {
  readonly code: string;
  readonly count: number;
}

/** Faults proved alone on a platform, with how often. `proved_faults` holds nothing that was only judged. */
export async function provedOnPlatform(tx: Tx, orgId: string, platformId: string): Promise<ProvedCount[]> {
  const { rows } = await tx.query<ProvedCount>({
    name: 'diagnosis.proved-on-platform',
    text: `select proved_faults[1] as code, count(*)::int as count
             from shop_case
            where org_id = $1 and platform_id = $2 and cardinality(proved_faults) = 1 and status <> 'void'
            group by proved_faults order by code`,
    values: [orgId, platformId],
  });
  return rows;
}

/** Faults proved on this vehicle before a case, most recent first. */
export async function provedOnVehicle(
  tx: Tx,
  orgId: string,
  vehicleId: string,
  before: string,
): Promise<{ code: string; ageDays: number }[]> {
  const { rows } = await tx.query<{ code: string; ageDays: number }>({
    name: 'diagnosis.proved-on-vehicle',
    text: `select proved_faults[1] as code, (extract(epoch from ($3::timestamptz - opened_at)) / 86400)::float8 as "ageDays"
             from shop_case
            where org_id = $1 and vehicle_id = $2 and opened_at < $3::timestamptz and cardinality(proved_faults) = 1 and status <> 'void'
            order by opened_at desc, id limit 20`,
    values: [orgId, vehicleId, before],
  });
  return rows;
}
