import type { Case, CaseFilter, CaseStatus, CaseSummary, Complaint, Evidence, FaultCode, Warning } from '#libs/contracts/index.js';
import { boolArray, byteaArray, float8Array, int4Array, jsonbArray, type Tx, textArray, uuidArray } from '#libs/database/index.js';

const SUMMARY = `id, version, evidence_revision as "evidenceRevision", shop_id as "shopId", vehicle_id as "vehicleId", platform_id as "platformId",
  status, complaint, opened_at as "openedAt", closed_at as "closedAt", leading_fault as "leadingFault",
  leading_probability as "leadingProbability", proved_faults as "provedFaults", odometer_km as "odometerKm"`;

/** A case as its row holds it, without evidence, proofs and repairs. */
export interface CaseRow extends CaseSummary {
  readonly complaintText: string | null;
  readonly notes: string | null;
  readonly sourceSystem: string | null;
  readonly sourceReference: string | null;
  readonly sourceRevision: number | null;
  readonly sourceHash: Buffer | null;
  readonly sourceLink: string | null;
  readonly backfill: boolean;
  readonly warnings: Warning[];
}

const WHOLE = `${SUMMARY}, complaint_text as "complaintText", notes, source_system as "sourceSystem", source_reference as "sourceReference",
  source_revision as "sourceRevision", source_hash as "sourceHash", source_link as "sourceLink", backfill, warnings`;

export interface NewCaseRow {
  readonly id: string;
  readonly version: number;
  readonly shopId: string;
  readonly vehicleId: string;
  readonly platformId: string | null;
  readonly status: CaseStatus;
  readonly complaint: Complaint;
  readonly complaintText: string | null;
  readonly notes: string | null;
  readonly openedAt: string;
  readonly closedAt: string | null;
  readonly odometerKm: number | null;
  readonly provedFaults: readonly FaultCode[];
  readonly source: { system: string; reference: string; revision: number; hash: Buffer; link: string | null } | null;
  readonly backfill: boolean;
  readonly warnings: readonly Warning[];
}

/** Stores new cases in one statement. */
export async function insertCases(tx: Tx, orgId: string, rows: readonly NewCaseRow[], at: Date): Promise<void> {
  const column = <T>(value: (row: NewCaseRow) => T) => rows.map(value);
  await tx.query({
    name: 'cases.insert',
    text: `insert into shop_case (org_id, created_at, updated_at, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint,
                                  complaint_text, notes, opened_at, closed_at, odometer_km, proved_faults, source_system, source_reference,
                                  source_revision, source_hash, source_link, backfill, warnings)
           select $1, $2, $2, id, version, 1, shop_id, vehicle_id, platform_id, status, complaint, complaint_text, notes, opened_at::timestamptz,
                  closed_at::timestamptz, odometer_km, proved::text[], system, reference, revision, hash, link, backfill, warnings
             from unnest($3::uuid[], $4::int[], $5::uuid[], $6::uuid[], $7::uuid[], $8::text[], $9::text[], $10::text[], $11::text[], $12::text[],
                         $13::text[], $14::float8[], $15::text[], $16::text[], $17::text[], $18::int[], $19::bytea[], $20::text[], $21::bool[], $22::jsonb[])
               as row(id, version, shop_id, vehicle_id, platform_id, status, complaint, complaint_text, notes, opened_at, closed_at, odometer_km,
                      proved, system, reference, revision, hash, link, backfill, warnings)`,
    values: [
      orgId,
      at.toISOString(),
      uuidArray(column((row) => row.id)),
      int4Array(column((row) => row.version)),
      uuidArray(column((row) => row.shopId)),
      uuidArray(column((row) => row.vehicleId)),
      uuidArray(column((row) => row.platformId)),
      textArray(column((row) => row.status)),
      textArray(column((row) => row.complaint)),
      textArray(column((row) => row.complaintText)),
      textArray(column((row) => row.notes)),
      textArray(column((row) => row.openedAt)),
      textArray(column((row) => row.closedAt)),
      float8Array(column((row) => row.odometerKm)),
      // Codes of faults are letters and hyphens: they need no quotes in an array of arrays, which unnest() would flatten.
      textArray(column((row) => `{${row.provedFaults.join()}}`)),
      textArray(column((row) => row.source?.system ?? null)),
      textArray(column((row) => row.source?.reference ?? null)),
      int4Array(column((row) => row.source?.revision ?? null)),
      byteaArray(column((row) => row.source?.hash ?? null)),
      textArray(column((row) => row.source?.link ?? null)),
      boolArray(column((row) => row.backfill)),
      jsonbArray(column((row) => (row.warnings.length === 0 ? '[]' : JSON.stringify(row.warnings)))),
    ],
  });
}

/** Writes every mutable column of the case and raises its version. */
export async function updateCase(tx: Tx, orgId: string, row: CaseRow, at: Date): Promise<void> {
  await tx.query({
    name: 'cases.update',
    text: `update shop_case
              set version = version + 1, evidence_revision = $3, vehicle_id = $4, platform_id = $5, status = $6, complaint = $7, complaint_text = $8,
                  notes = $9, opened_at = $10, closed_at = $11, odometer_km = $12, leading_fault = $13, leading_probability = $14, proved_faults = $15,
                  source_revision = $16, source_hash = $17, source_link = $18, warnings = $19, updated_at = $20
            where org_id = $1 and id = $2`,
    values: [
      orgId,
      row.id,
      row.evidenceRevision,
      row.vehicleId,
      row.platformId,
      row.status,
      row.complaint,
      row.complaintText,
      row.notes,
      row.openedAt,
      row.closedAt,
      row.odometerKm,
      row.leadingFault,
      row.leadingProbability,
      row.provedFaults,
      row.sourceRevision,
      row.sourceHash,
      row.sourceLink,
      JSON.stringify(row.warnings),
      at.toISOString(),
    ],
  });
}

export async function insertEvidence(tx: Tx, orgId: string, caseId: string, revision: number, evidence: Evidence, at: Date): Promise<void> {
  await tx.query({
    name: 'cases.insert-evidence',
    text: 'insert into case_evidence (org_id, case_id, revision, document, created_at) values ($1, $2, $3, $4, $5)',
    values: [orgId, caseId, revision, JSON.stringify(evidence), at.toISOString()],
  });
}

/** The first evidence of new cases. */
export async function insertFirstEvidence(
  tx: Tx,
  orgId: string,
  rows: readonly { readonly caseId: string; readonly evidence: Evidence }[],
  at: Date,
): Promise<void> {
  await tx.query({
    name: 'cases.insert-first-evidence',
    text: `insert into case_evidence (org_id, case_id, revision, document, created_at)
           select $1, case_id, 1, document, $2 from unnest($3::uuid[], $4::jsonb[]) as row(case_id, document)`,
    values: [
      orgId,
      at.toISOString(),
      uuidArray(rows.map(({ caseId }) => caseId)),
      jsonbArray(rows.map(({ evidence }) => JSON.stringify(evidence))),
    ],
  });
}

export async function findEvidence(tx: Tx, orgId: string, caseId: string, revision: number): Promise<Evidence | null> {
  const { rows } = await tx.query<{ document: Evidence }>({
    name: 'cases.evidence',
    text: 'select document from case_evidence where org_id = $1 and case_id = $2 and revision = $3',
    values: [orgId, caseId, revision],
  });
  return rows[0]?.document ?? null;
}

/** With `lockUnder`: locked, if it still stands under that vehicle. */
export async function findCase(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  id: string,
  options: { readonly lockUnder?: string | null } = {},
): Promise<CaseRow | null> {
  const { lockUnder } = options;
  const { rows } = await tx.query<CaseRow>({
    name: lockUnder === undefined ? 'cases.find' : 'cases.lock',
    text: `select ${WHOLE} from shop_case where org_id = $1 and id = $2 and ($3::uuid[] is null or shop_id = any($3))
             ${lockUnder === undefined ? '' : 'and vehicle_id is not distinct from $4 for update'}`,
    values: lockUnder === undefined ? [orgId, id, shopIds] : [orgId, id, shopIds, lockUnder],
  });
  return rows[0] ?? null;
}

interface SourceName {
  readonly system: string;
  readonly reference: string;
}

/**
 * Whoever stores an order of a source first makes the others wait, so that one order is one case. Several are taken in the order of their numbers, so
 * that two files with the same orders cannot wait for each other in a circle.
 */
export async function lockSources(tx: Tx, orgId: string, sources: readonly SourceName[]): Promise<void> {
  await tx.query({
    name: 'cases.lock-sources',
    text: 'select pg_advisory_xact_lock(key) from (select distinct hashtextextended(name, 0) as key from unnest($1::text[]) as name order by key) as keys',
    values: [textArray(sources.map(({ system, reference }) => JSON.stringify([orgId, system, reference])))],
  });
}

/** The cases orders of these sources were stored as. Each is looked up by itself: a plan for them together may read every case of the organisation. */
export async function casesBySource(tx: Tx, orgId: string, sources: readonly SourceName[]): Promise<CaseRow[]> {
  const { rows } = await tx.query<CaseRow>({
    name: 'cases.by-source',
    text: `select stored.* from unnest((select $2::text[]), (select $3::text[])) as source(system, reference) cross join lateral (
             select ${WHOLE} from shop_case where org_id = $1 and source_system = source.system and source_reference = source.reference limit 1
           ) as stored`,
    values: [orgId, textArray(sources.map(({ system }) => system)), textArray(sources.map(({ reference }) => reference))],
  });
  return rows;
}

/**
 * Newest cases first, by keyset on (opened_at, id). The text of the statement depends only on which filters are given, so each combination is
 * planned once.
 */
export async function listCases(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  filter: CaseFilter,
  after: readonly string[] | null,
  limit: number,
): Promise<CaseSummary[]> {
  const values: unknown[] = [orgId, limit];
  const where = ['org_id = $1'];
  const used: string[] = [];
  const add = (name: string, value: unknown, condition: (parameter: string) => string) => {
    if (value === undefined || value === null) return;
    values.push(value);
    where.push(condition(`$${values.length}`));
    used.push(name);
  };
  add('shops', shopIds, (p) => `shop_id = any(${p}::uuid[])`);
  add('shop', filter.shopId, (p) => `shop_id = ${p}::uuid`);
  add('platform', filter.platformId, (p) => `platform_id = ${p}::uuid`);
  add('vehicle', filter.vehicleId, (p) => `vehicle_id = ${p}::uuid`);
  add('status', filter.status, (p) => `status = ${p}`);
  add('fault', filter.fault, (p) => `(leading_fault = ${p} or ${p} = any(proved_faults))`);
  add('proved', filter.proved, (p) => `${p} = any(proved_faults)`);
  add(
    'found',
    filter.found,
    (p) => `(${p} = any(proved_faults) or exists (select from repair r
              where r.org_id = $1 and r.case_id = shop_case.id and r.fault = ${p} and r.action <> 'no-repair'))`,
  );
  add(
    'follows',
    filter.follows,
    (
      p,
    ) => `exists (select from shop_case b where b.org_id = $1 and b.vehicle_id = shop_case.vehicle_id and b.status <> 'void' and b.proved_faults = array[${p}]
              and b.opened_at < shop_case.opened_at and b.opened_at >= shop_case.opened_at - interval '366 days')`,
  );
  add('state', filter.state === 'counting' ? 'void' : null, (p) => `status <> ${p}`);
  add('since', filter.since, (p) => `opened_at >= ${p}::timestamptz`);
  add('until', filter.until, (p) => `opened_at < ${p}::timestamptz`);
  if (after) {
    values.push(after[0], after[1]);
    where.push(`(opened_at, id) < ($${values.length - 1}::timestamptz, $${values.length}::uuid)`);
    used.push('after');
  }
  const { rows } = await tx.query<CaseSummary>({
    name: `cases.list.${used.join('.')}`,
    text: `select ${SUMMARY} from shop_case where ${where.join(' and ')} order by opened_at desc, id desc limit $2`,
    values,
  });
  return rows;
}

export function toCase(
  row: CaseRow,
  evidence: Evidence,
  proofs: Case['proofs'],
  repairs: Case['repairs'],
  policies: Case['policies'],
): Case {
  const { sourceSystem, sourceReference, sourceRevision, sourceHash: _hash, sourceLink, ...rest } = row;
  const source =
    sourceSystem === null || sourceReference === null
      ? null
      : {
          system: sourceSystem,
          reference: sourceReference,
          revision: sourceRevision ?? 0,
          ...(sourceLink === null ? {} : { link: sourceLink }),
        };
  return { ...rest, source, evidence, proofs, repairs, policies };
}
