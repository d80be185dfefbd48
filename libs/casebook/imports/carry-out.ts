import type { Tx } from '#libs/database/index.js';
import { unavailability } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { listShops } from '../shops/shops.queries.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import type { Entry } from './entries.js';
import { readHeading } from './heading.js';
import {
  deleteChunk,
  findChunk,
  findRun,
  insertOutcomes,
  listRows,
  type OutcomeRow,
  type RunRow,
  releaseSavepoint,
  rollbackToSavepoint,
  savepoint,
  updateRow,
  updateRun,
} from './imports.queries.js';
import { type Judged, type Judging, judgeEntry, problemsOf } from './judge.js';
import { sealEntry, unsealEntries, unsealEntry } from './sealed-rows.js';
import { type LineOperations, storeLine } from './store-line.js';

const SHOPS_AT_MOST = 5_000;

/** The actor in whose name the rows are stored: the credential that sent the file, as it was then. */
export const senderOf = (orgId: string, run: RunRow): Actor => ({
  orgId,
  credentialId: run.credentialId,
  role: run.role,
  permissions: run.permissions,
  shopIds: run.shopIds,
  requestId: `import ${run.id}`,
});

export interface RunJudging extends Judging {
  readonly rowKey: Buffer;
}

export async function judgingOf(context: CasebookContext, tx: Tx, orgId: string, run: RunRow): Promise<RunJudging> {
  const key = await organisationKey(context, tx, orgId);
  const shops = await listShops(tx, orgId, run.shopIds, null, SHOPS_AT_MOST);
  return {
    options: run.options,
    uses: readHeading(run.columns, run.options.mapping).uses,
    zones: new Map(shops.map((shop) => [shop.code, shop.timeZone])),
    referenceKey: keyFor('import references', key),
    rowKey: keyFor('import rows', key),
  };
}

/** One row inside the batch's transaction: stored, or refused without a trace. What is not a refusal of the row ends the batch. */
export async function storeEntry(
  tx: Tx,
  operations: LineOperations,
  actor: Actor,
  entry: Entry,
  judged: Judged,
  judging: RunJudging,
): Promise<OutcomeRow> {
  if (!judged.ok) return rejected(entry, judged.reference, judged.problems, judging.rowKey);
  const reference = judged.line.source?.reference ?? null;
  await savepoint(tx);
  try {
    const { outcome, caseId } = await storeLine(tx, operations, actor, judged.line, judged.hasOwnRevision, {
      replaceChanged: judging.options.mapping.revisionFromRow === true,
      zones: judging.zones,
    });
    if (judging.options.dryRun) await rollbackToSavepoint(tx);
    else await releaseSavepoint(tx);
    return {
      line: entry.line,
      reference,
      outcome,
      caseId: judging.options.dryRun && outcome === 'opened' ? null : caseId,
      problems: [],
      sealed: null,
    };
  } catch (error) {
    const problems = refusalOf(error, judged, judging);
    await rollbackToSavepoint(tx);
    return rejected(entry, reference, problems, judging.rowKey);
  }
}

/** A value the database itself will not hold (class 22) is the row's fault; a lost connection or a deadlock is not. */
function refusalOf(error: unknown, judged: Judged & { ok: true }, judging: Judging) {
  const code = (error as { code?: unknown } | null)?.code;
  if (typeof code === 'string' && code.startsWith('22') && !unavailability(error)) {
    return [
      {
        pointer: '',
        column: null,
        code: 'imports/unstorable',
        detail: 'A value of this row is outside what can be stored.',
        remedy: 'Look at dates and numbers of the row.',
      },
    ];
  }
  return problemsOf(error, judged.columnOf, judging);
}

const rejected = (entry: Entry, reference: string | null, problems: OutcomeRow['problems'], key: Buffer): OutcomeRow => ({
  line: entry.line,
  reference: reference?.slice(0, 120) ?? null,
  outcome: 'rejected',
  caseId: null,
  problems,
  sealed: sealEntry(entry, key),
});

/**
 * The next step of an import: a chunk of the file, or some rejected rows that are to be tried again. Its cases, the outcome of each row and the
 * progress commit together, so that a kill at any moment costs the step at hand and doubles nothing.
 * @returns the import after it; null when there is nothing to do, or no such import.
 */
export async function carryOutStep(
  context: CasebookContext,
  within: (tx: Tx) => LineOperations,
  orgId: string,
  id: string,
  report: (tx: Tx, run: RunRow) => Promise<void>,
): Promise<RunRow | null> {
  return context.inTenant(orgId, async (tx) => {
    const run = await findRun(tx, orgId, id, { lock: true });
    if (!run || (run.state !== 'waiting' && run.state !== 'running')) return null;
    const judging = await judgingOf(context, tx, orgId, run);
    const next =
      run.nextChunk < run.chunks
        ? await carryOutChunk(tx, within(tx), orgId, run, judging, context.clock())
        : run.options.replayAfter !== null
          ? await replaySome(tx, within(tx), orgId, run, judging)
          : { ...run, state: 'done' as const };
    await updateRun(tx, orgId, id, next, context.clock());
    await report(tx, next);
    return next;
  });
}

async function carryOutChunk(
  tx: Tx,
  operations: LineOperations,
  orgId: string,
  run: RunRow,
  judging: RunJudging,
  at: Date,
): Promise<RunRow> {
  const sealed = await findChunk(tx, orgId, run.id, run.nextChunk);
  if (!sealed) throw new Error(`import ${run.id} has no chunk ${run.nextChunk}`);
  const actor = senderOf(orgId, run);
  const outcomes: OutcomeRow[] = [];
  for (const entry of unsealEntries(sealed, judging.rowKey)) {
    outcomes.push(await storeEntry(tx, operations, actor, entry, judgeEntry(entry, judging), judging));
  }
  await insertOutcomes(tx, orgId, run.id, outcomes, at);
  await deleteChunk(tx, orgId, run.id, run.nextChunk);
  const count = (outcome: string) => outcomes.filter((row) => row.outcome === outcome).length;
  return {
    ...run,
    state: 'running',
    nextChunk: run.nextChunk + 1,
    opened: run.opened + count('opened'),
    revised: run.revised + count('revised'),
    unchanged: run.unchanged + count('unchanged'),
    rejected: run.rejected + count('rejected'),
  };
}

const REPLAY_ROWS = 100;

async function replaySome(tx: Tx, operations: LineOperations, orgId: string, run: RunRow, judging: RunJudging): Promise<RunRow> {
  const rows = await listRows(tx, orgId, run.id, 'rejected', run.options.replayAfter!, REPLAY_ROWS);
  let next: RunRow = { ...run, state: 'running' };
  for (const row of rows) {
    if (!row.sealed) continue;
    const entry = unsealEntry(row.sealed, judging.rowKey);
    const outcome = await storeEntry(tx, operations, senderOf(orgId, run), entry, judgeEntry(entry, judging), judging);
    await updateRow(tx, orgId, run.id, outcome, outcome.outcome !== 'rejected');
    next = recounted(next, outcome);
  }
  const replayAfter = rows.length < REPLAY_ROWS ? null : rows.at(-1)!.line;
  return { ...next, options: { ...run.options, replayAfter } };
}

/** The counts after a rejected row was tried again. */
export function recounted(run: RunRow, { outcome }: OutcomeRow): RunRow {
  return outcome === 'rejected' ? run : { ...run, rejected: run.rejected - 1, [outcome]: run[outcome] + 1 };
}
