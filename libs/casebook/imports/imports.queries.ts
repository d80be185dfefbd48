import type { ImportFormat, ImportMapping, ImportRow, ImportRun, Permission, Role, RowOutcome, RowProblem } from '#libs/contracts/index.js';
import { byteaArray, int4Array, jsonbArray, type Tx, textArray, uuidArray } from '#libs/database/index.js';

/** What an import was asked to do, as it is kept. */
export interface ImportOptions {
  readonly dryRun: boolean;
  readonly backfill: boolean;
  readonly mappingName: string | null;
  readonly mapping: ImportMapping;
  readonly shopCode: string | null;
  readonly system: string | null;
  /** Line after which rejected rows are still to be tried again; null when none are. */
  readonly replayAfter: number | null;
}

/** An import as its row holds it. */
export interface RunRow extends Omit<ImportRun, 'dryRun' | 'backfill' | 'mapping' | 'done'> {
  readonly attempt: number;
  readonly credentialId: string;
  readonly role: Role;
  readonly permissions: readonly Permission[];
  readonly shopIds: readonly string[] | null;
  readonly digest: Buffer | null;
  readonly options: ImportOptions;
  readonly chunks: number;
  readonly nextChunk: number;
}

const RUN = `id, state, attempt, format, credential_id as "credentialId", role, permissions,
  case when all_shops then null else shop_ids end as "shopIds", digest, options, columns, chunks, next_chunk as "nextChunk", received, opened, revised,
  unchanged, rejected, detail, created_at as "createdAt", updated_at as "updatedAt"`;

export interface NewRun {
  readonly id: string;
  readonly format: ImportFormat;
  readonly credentialId: string;
  readonly role: Role;
  readonly permissions: readonly Permission[];
  readonly shopIds: readonly string[] | null;
  readonly requestKey: string;
  readonly options: ImportOptions;
}

/** Inserts the import, or returns null when the key has one already. */
export async function insertRun(tx: Tx, orgId: string, run: NewRun, at: Date): Promise<RunRow | null> {
  const { rows } = await tx.query<RunRow>({
    name: 'imports.insert-run',
    text: `insert into import_run (org_id, id, state, attempt, format, credential_id, role, permissions, shop_ids, all_shops, request_key, options,
                                   columns, chunks, next_chunk, received, opened, revised, unchanged, rejected, created_at, updated_at)
           values ($1, $2, 'receiving', 1, $3, $4, $5, $6, $7, $8, $9, $10, '{}', 0, 0, 0, 0, 0, 0, 0, $11, $11)
           on conflict (org_id, credential_id, request_key) do nothing
           returning ${RUN}`,
    values: [
      orgId,
      run.id,
      run.format,
      run.credentialId,
      run.role,
      run.permissions,
      run.shopIds ?? [],
      run.shopIds === null,
      run.requestKey,
      JSON.stringify(run.options),
      at.toISOString(),
    ],
  });
  return rows[0] ?? null;
}

export async function lockRunByKey(tx: Tx, orgId: string, credentialId: string, requestKey: string): Promise<RunRow | null> {
  const { rows } = await tx.query<RunRow>({
    name: 'imports.by-key',
    text: `select ${RUN} from import_run where org_id = $1 and credential_id = $2 and request_key = $3 for update`,
    values: [orgId, credentialId, requestKey],
  });
  return rows[0] ?? null;
}

/** Starts receiving again under the same key: what an earlier connection left behind is dropped. */
export async function restartRun(
  tx: Tx,
  orgId: string,
  id: string,
  format: ImportFormat,
  options: ImportOptions,
  at: Date,
): Promise<RunRow> {
  await tx.query({
    name: 'imports.drop-chunks',
    text: 'delete from import_chunk where org_id = $1 and import_id = $2',
    values: [orgId, id],
  });
  const { rows } = await tx.query<RunRow>({
    name: 'imports.restart-run',
    text: `update import_run set state = 'receiving', attempt = attempt + 1, format = $3, options = $4, chunks = 0, received = 0, detail = null, updated_at = $5
            where org_id = $1 and id = $2 returning ${RUN}`,
    values: [orgId, id, format, JSON.stringify(options), at.toISOString()],
  });
  return rows[0]!;
}

export async function setColumns(tx: Tx, orgId: string, id: string, columns: readonly string[]): Promise<void> {
  await tx.query({
    name: 'imports.set-columns',
    text: 'update import_run set columns = $3 where org_id = $1 and id = $2',
    values: [orgId, id, columns],
  });
}

/** Adds one chunk; false when another connection took the upload over. */
export async function appendChunk(tx: Tx, orgId: string, run: RunRow, rows: number, body: Buffer, at: Date): Promise<boolean> {
  const { rows: found } = await tx.query<{ number: number }>({
    name: 'imports.count-chunk',
    text: `update import_run set chunks = chunks + 1, received = received + $4, updated_at = $5
            where org_id = $1 and id = $2 and attempt = $3 and state = 'receiving' returning chunks - 1 as number`,
    values: [orgId, run.id, run.attempt, rows, at.toISOString()],
  });
  if (!found[0]) return false;
  await tx.query({
    name: 'imports.insert-chunk',
    text: 'insert into import_chunk (org_id, import_id, number, rows, body) values ($1, $2, $3, $4, $5)',
    values: [orgId, run.id, found[0].number, rows, body],
  });
  return true;
}

/** Removes an upload that failed, unless another connection has taken it over. */
export async function deleteUpload(tx: Tx, orgId: string, id: string, attempt: number): Promise<void> {
  await tx.query({
    name: 'imports.delete-upload',
    text: `delete from import_run where org_id = $1 and id = $2 and attempt = $3 and state = 'receiving'`,
    values: [orgId, id, attempt],
  });
}

export async function findRun(tx: Tx, orgId: string, id: string, options: { lock?: boolean } = {}): Promise<RunRow | null> {
  const { rows } = await tx.query<RunRow>({
    name: options.lock ? 'imports.lock-run' : 'imports.find-run',
    text: `select ${RUN} from import_run where org_id = $1 and id = $2 ${options.lock ? 'for update' : ''}`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function listRuns(tx: Tx, orgId: string, after: string | null, limit: number): Promise<RunRow[]> {
  const { rows } = await tx.query<RunRow>({
    name: 'imports.list-runs',
    text: `select ${RUN} from import_run where org_id = $1 and ($2::uuid is null or id < $2) order by id desc limit $3`,
    values: [orgId, after, limit],
  });
  return rows;
}

export interface RunChange {
  readonly options: ImportOptions;
  readonly state: ImportRun['state'];
  readonly detail: string | null;
  readonly digest: Buffer | null;
  readonly nextChunk: number;
  readonly opened: number;
  readonly revised: number;
  readonly unchanged: number;
  readonly rejected: number;
}

export async function updateRun(tx: Tx, orgId: string, id: string, change: RunChange, at: Date): Promise<void> {
  await tx.query({
    name: 'imports.update-run',
    text: `update import_run set state = $3, detail = $4, digest = $5, next_chunk = $6, opened = $7, revised = $8, unchanged = $9, rejected = $10, updated_at = $11,
                                  options = $12
            where org_id = $1 and id = $2`,
    values: [
      orgId,
      id,
      change.state,
      change.detail,
      change.digest,
      change.nextChunk,
      change.opened,
      change.revised,
      change.unchanged,
      change.rejected,
      at.toISOString(),
      JSON.stringify(change.options),
    ],
  });
}

export async function findChunk(tx: Tx, orgId: string, importId: string, number: number): Promise<Buffer | null> {
  const { rows } = await tx.query<{ body: Buffer }>({
    name: 'imports.find-chunk',
    text: 'select body from import_chunk where org_id = $1 and import_id = $2 and number = $3',
    values: [orgId, importId, number],
  });
  return rows[0]?.body ?? null;
}

export async function deleteChunk(tx: Tx, orgId: string, importId: string, number: number): Promise<void> {
  await tx.query({
    name: 'imports.delete-chunk',
    text: 'delete from import_chunk where org_id = $1 and import_id = $2 and number = $3',
    values: [orgId, importId, number],
  });
}

/** What became of a row, and, where it was rejected, the row itself, sealed. */
export interface OutcomeRow {
  readonly line: number;
  readonly reference: string | null;
  readonly outcome: RowOutcome;
  readonly caseId: string | null;
  readonly problems: readonly RowProblem[];
  readonly sealed: Buffer | null;
}

export async function insertOutcomes(tx: Tx, orgId: string, importId: string, outcomes: readonly OutcomeRow[], at: Date): Promise<void> {
  await tx.query({
    name: 'imports.insert-outcomes',
    text: `insert into import_row (org_id, import_id, line, reference, outcome, case_id, problems, sealed, corrected, created_at)
           select $1, $2, line, reference, outcome, case_id, problems, sealed, false, $9
             from unnest($3::int[], $4::text[], $5::text[], $6::uuid[], $7::jsonb[], $8::bytea[]) as row(line, reference, outcome, case_id, problems, sealed)
           on conflict (org_id, import_id, line) do nothing`,
    values: [
      orgId,
      importId,
      int4Array(outcomes.map((row) => row.line)),
      textArray(outcomes.map((row) => row.reference)),
      textArray(outcomes.map((row) => row.outcome)),
      uuidArray(outcomes.map((row) => row.caseId)),
      jsonbArray(outcomes.map((row) => (row.problems.length === 0 ? '[]' : JSON.stringify(row.problems)))),
      byteaArray(outcomes.map((row) => row.sealed)),
      at.toISOString(),
    ],
  });
}

export interface StoredRow extends ImportRow {
  readonly sealed: Buffer | null;
}
const ROW = `line, reference, outcome, case_id as "caseId", problems, corrected`;

export async function lockRow(tx: Tx, orgId: string, importId: string, line: number): Promise<StoredRow | null> {
  const { rows } = await tx.query<StoredRow>({
    name: 'imports.lock-row',
    text: `select ${ROW}, sealed from import_row where org_id = $1 and import_id = $2 and line = $3 for update`,
    values: [orgId, importId, line],
  });
  return rows[0] ?? null;
}

export async function updateRow(tx: Tx, orgId: string, importId: string, row: OutcomeRow, corrected: boolean): Promise<void> {
  await tx.query({
    name: 'imports.update-row',
    text: `update import_row set reference = $4, outcome = $5, case_id = $6, problems = $7, sealed = $8, corrected = $9
            where org_id = $1 and import_id = $2 and line = $3`,
    values: [orgId, importId, row.line, row.reference, row.outcome, row.caseId, JSON.stringify(row.problems), row.sealed, corrected],
  });
}

/** Rows by line; with what was sent where it is still kept. */
export async function listRows(
  tx: Tx,
  orgId: string,
  importId: string,
  outcome: RowOutcome | null,
  afterLine: number,
  limit: number,
): Promise<StoredRow[]> {
  const { rows } = await tx.query<StoredRow>({
    name: 'imports.list-rows',
    text: `select ${ROW}, sealed from import_row
            where org_id = $1 and import_id = $2 and ($3::text is null or outcome = $3) and line > $4 order by line limit $5`,
    values: [orgId, importId, outcome, afterLine, limit],
  });
  return rows;
}

/** Drops what was sent with rows that were rejected before the day, and chunks of uploads that were never completed. */
export async function purgeSealed(tx: Tx, orgId: string, before: Date): Promise<number> {
  const { rowCount } = await tx.query({
    name: 'imports.purge-rows',
    text: 'update import_row set sealed = null where org_id = $1 and sealed is not null and created_at < $2',
    values: [orgId, before.toISOString()],
  });
  await tx.query({
    name: 'imports.purge-chunks',
    text: `delete from import_chunk k using import_run r
            where k.org_id = $1 and r.org_id = k.org_id and r.id = k.import_id and r.updated_at < $2`,
    values: [orgId, before.toISOString()],
  });
  return rowCount;
}

interface MappingRow {
  readonly id: string;
  readonly version: number;
  readonly name: string;
  readonly mapping: ImportMapping;
  readonly createdAt: string;
  readonly updatedAt: string;
}

export async function upsertMapping(
  tx: Tx,
  orgId: string,
  id: string,
  name: string,
  mapping: ImportMapping,
  at: Date,
): Promise<MappingRow> {
  const { rows } = await tx.query<MappingRow>({
    name: 'imports.upsert-mapping',
    text: `insert into import_mapping (org_id, id, version, name, document, created_at, updated_at) values ($1, $2, 1, $3, $4, $5, $5)
           on conflict (org_id, name)
           do update set document = excluded.document, version = import_mapping.version + 1, updated_at = excluded.updated_at
           returning id, version, name, document as mapping, created_at as "createdAt", updated_at as "updatedAt"`,
    values: [orgId, id, name, JSON.stringify(mapping), at.toISOString()],
  });
  return rows[0]!;
}

export async function listMappings(tx: Tx, orgId: string): Promise<MappingRow[]> {
  const { rows } = await tx.query<MappingRow>({
    name: 'imports.list-mappings',
    text: `select id, version, name, document as mapping, created_at as "createdAt", updated_at as "updatedAt"
             from import_mapping where org_id = $1 order by name limit 500`,
    values: [orgId],
  });
  return rows;
}

/**
 * Makes the session plan its statements anew, those of the foreign keys among them. In tables that were empty when a plan was made, every index of an
 * organisation looks alike, and the session would keep the one it took (seen: 2 ms a row for a key that takes 0.02) until the tables are analysed.
 */
export async function forgetPlans(tx: Tx): Promise<void> {
  await tx.query({ name: 'imports.forget-plans', text: 'discard plans' });
}

/** A place to come back to when a row is refused, so that it does not take the others of its batch with it. */
export async function savepoint(tx: Tx): Promise<void> {
  await tx.query({ name: 'imports.savepoint', text: 'savepoint row' });
}
export async function rollbackToSavepoint(tx: Tx): Promise<void> {
  await tx.query({ name: 'imports.rollback-to', text: 'rollback to savepoint row' });
  await releaseSavepoint(tx);
}
export async function releaseSavepoint(tx: Tx): Promise<void> {
  await tx.query({ name: 'imports.release', text: 'release savepoint row' });
}
