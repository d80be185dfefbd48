import { v7 as uuidv7 } from 'uuid';
import type { ImportFormat, ImportQuery } from '#libs/contracts/index.js';
import type { Actor } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { KeyReused } from '../requests/idempotency.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import { type Entry, openFile, type ReadLimits } from './entries.js';
import { FileUnreadable, MappingNotFound, UploadUnderway } from './imports.errors.js';
import {
  appendChunk,
  deleteUpload,
  type ImportOptions,
  insertRun,
  listMappings,
  lockRunByKey,
  type RunRow,
  restartRun,
  setColumns,
  updateRun,
} from './imports.queries.js';
import { sealEntries } from './sealed-rows.js';

/** Rows a step of the worker stores together: locks of their orders and vehicles are held meanwhile, so it is no larger than speed asks. */
const CHUNK_ROWS = 500;
const CHUNK_CHARACTERS = 512 * 1024;
/** An upload that gave no sign for so long has lost its connection; the same key may start again. */
const STALE_MS = 5_000;

export const IMPORT_TASK = 'imports.run';
const PURGE_JOB = 'imports.purge';
/** How long what was sent with rejected rows is kept for correction. */
export const KEPT_DAYS = 30;

export interface ReceivedFile {
  readonly requestKey: string;
  readonly format: ImportFormat;
  readonly gzip: boolean;
  readonly bytes: AsyncIterable<Buffer>;
  /** SHA-256 the sender states (Content-Digest), where it does. */
  readonly statedDigest: Buffer | null;
  readonly query: ImportQuery;
}

/**
 * Takes a file in: read once from front to back and laid down in sealed chunks, then handed to the worker. Nothing of it is a case before the
 * whole file is here. The same key again with the same file answers as before; with a file whose upload was cut, it starts over.
 */
export async function receiveFile(
  context: CasebookContext,
  tasks: (tx: Parameters<Parameters<CasebookContext['inTenant']>[1]>[0]) => TasksService,
  actor: Actor,
  file: ReceivedFile,
  limits?: ReadLimits,
): Promise<{ run: RunRow; replayed: boolean }> {
  const { orgId } = actor;
  const { run, isNew } = await context.inTenant(orgId, async (tx) => {
    const options = await optionsOf(file.query, () => listMappings(tx, orgId));
    const at = context.clock();
    const made = await insertRun(
      tx,
      orgId,
      {
        id: uuidv7(),
        format: file.format,
        credentialId: actor.credentialId,
        role: actor.role,
        permissions: actor.permissions,
        shopIds: actor.shopIds,
        requestKey: file.requestKey,
        options,
      },
      at,
    );
    if (made) {
      await tasks(tx).callJob(tx, orgId, PURGE_JOB, made.id, new Date(at.getTime() + (KEPT_DAYS + 1) * 86_400_000));
      await appendAudit(tx, actor, at, 'import.begun', { type: 'import', id: made.id }, { format: file.format, dryRun: options.dryRun });
      return { run: made, isNew: true };
    }
    const known = (await lockRunByKey(tx, orgId, actor.credentialId, file.requestKey))!;
    if (known.state !== 'receiving') return { run: known, isNew: false };
    if (at.getTime() - new Date(known.updatedAt).getTime() < STALE_MS) throw new UploadUnderway();
    return { run: await restartRun(tx, orgId, known.id, file.format, options, at), isNew: true };
  });
  if (!isNew) {
    await sameFile(run, file, limits);
    return { run, replayed: true };
  }
  try {
    return { run: await layDown(context, tasks, actor, run, file, limits), replayed: false };
  } catch (error) {
    if (error instanceof UploadUnderway) throw error;
    // The key is free again at once; where even this fails, it is after a moment without a sign of the upload.
    await context.inTenant(orgId, (tx) => deleteUpload(tx, orgId, run.id, run.attempt)).catch(() => {});
    throw error;
  }
}

async function layDown(
  context: CasebookContext,
  tasks: (tx: Parameters<Parameters<CasebookContext['inTenant']>[1]>[0]) => TasksService,
  actor: Actor,
  run: RunRow,
  file: ReceivedFile,
  limits: ReadLimits | undefined,
): Promise<RunRow> {
  const { orgId } = actor;
  const rowKey = keyFor('import rows', await context.inTenant(orgId, (tx) => organisationKey(context, tx, orgId)));
  const opened = await openFile(file, file.format, run.options.mapping, limits);
  await context.inTenant(orgId, (tx) => setColumns(tx, orgId, run.id, opened.columns));
  let chunk: Entry[] = [];
  let characters = 0;
  let received = 0;
  let chunks = 0;
  // One chunk is stored while the next is read; what befalls it is heard of with the next.
  let storing: Promise<void> = Promise.resolve();
  const put = async () => {
    const body = sealEntries(chunk, rowKey);
    const rows = chunk.length;
    await storing;
    storing = context
      .inTenant(orgId, (tx) => appendChunk(tx, orgId, run, rows, body, context.clock()))
      .then((stillOurs) => {
        if (!stillOurs) throw new UploadUnderway();
      });
    storing.catch(() => {});
    received += rows;
    chunks += 1;
    chunk = [];
    characters = 0;
  };
  for await (const entry of opened.entries) {
    chunk.push(entry);
    characters += typeof entry.raw === 'string' ? entry.raw.length : entry.raw.reduce((sum, record) => sum + record.join().length, 0);
    if (chunk.length >= CHUNK_ROWS || characters >= CHUNK_CHARACTERS) await put();
  }
  if (chunk.length > 0) await put();
  await storing;
  const digest = opened.digest();
  if (file.statedDigest && !file.statedDigest.equals(digest))
    throw new FileUnreadable('its SHA-256 is not the one that Content-Digest states.');
  if (received === 0) throw new FileUnreadable('it holds no rows.');
  return context.inTenant(orgId, async (tx) => {
    const current = await lockRunByKey(tx, orgId, actor.credentialId, file.requestKey);
    if (current?.attempt !== run.attempt || current.state !== 'receiving') throw new UploadUnderway();
    const waiting: RunRow = { ...current, state: 'waiting', digest, columns: [...opened.columns], received, chunks };
    await updateRun(tx, orgId, run.id, waiting, context.clock());
    await tasks(tx).startTask(orgId, IMPORT_TASK, received, run.id);
    return waiting;
  });
}

/** A repeated key must bring the same file: it is read to its end and compared. */
async function sameFile(run: RunRow, file: ReceivedFile, limits: ReadLimits | undefined): Promise<void> {
  const opened = await openFile(file, 'ndjson', {}, limits);
  for await (const _entry of opened.entries);
  if (run.digest === null || !opened.digest().equals(run.digest)) throw new KeyReused();
}

async function optionsOf(query: ImportQuery, mappings: () => ReturnType<typeof listMappings>): Promise<ImportOptions> {
  let mapping: ImportOptions['mapping'] = {};
  if (query.mapping !== undefined) {
    const saved = await mappings();
    const found = saved.find((one) => one.name === query.mapping);
    if (!found)
      throw new MappingNotFound(
        query.mapping,
        saved.map((one) => one.name),
      );
    mapping = found.mapping;
  }
  return {
    dryRun: query.dryRun === 'true',
    backfill: query.backfill === 'true',
    mappingName: query.mapping ?? null,
    mapping,
    shopCode: query.shopCode ?? null,
    system: query.system ?? null,
    replayAfter: null,
  };
}
