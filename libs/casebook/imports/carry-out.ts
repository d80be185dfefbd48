import type { Tx } from '#libs/database/index.js';
import type { CasebookContext } from '../context.js';
import {
  deleteChunk,
  findRun,
  forgetPlans,
  insertOutcomes,
  listRows,
  type OutcomeRow,
  type RunRow,
  updateRow,
  updateRun,
} from './imports.queries.js';
import { judgeEntry } from './judge.js';
import type { ReadAhead } from './read-ahead.js';
import { unsealEntry } from './sealed-rows.js';
import type { LineOperations } from './store-line.js';
import { judgingOf, type RunJudging, senderOf, storeEntry } from './store-row.js';
import { storeRows } from './store-rows.js';

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
  ahead: ReadAhead,
): Promise<RunRow | null> {
  return context.inTenant(orgId, async (tx) => {
    const run = await findRun(tx, orgId, id, { lock: true });
    if (!run || (run.state !== 'waiting' && run.state !== 'running')) return null;
    const judging = await judgingOf(context, tx, orgId, run);
    const next =
      run.nextChunk < run.chunks
        ? await carryOutChunk(tx, within(tx), orgId, run, judging, ahead, context.clock())
        : run.options.replayAfter !== null
          ? await replaySome(tx, within(tx), orgId, run, judging)
          : { ...run, state: 'done' as const };
    await Promise.all([updateRun(tx.ahead, orgId, id, next, context.clock()), report(tx.ahead, next)]);
    return next;
  });
}

async function carryOutChunk(
  tx: Tx,
  operations: LineOperations,
  orgId: string,
  run: RunRow,
  judging: RunJudging,
  ahead: ReadAhead,
  at: Date,
): Promise<RunRow> {
  if (isPowerOfTwo(run.nextChunk)) await forgetPlans(tx);
  const actor = senderOf(orgId, run);
  const rows = await ahead.take(tx, orgId, run, judging);
  const outcomes = await storeRows(tx, operations, actor, rows, judging);
  await Promise.all([insertOutcomes(tx.ahead, orgId, run.id, outcomes, at), deleteChunk(tx.ahead, orgId, run.id, run.nextChunk)]);
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

/** Each time what is stored has doubled. */
const isPowerOfTwo = (n: number): boolean => n > 0 && (n & (n - 1)) === 0;

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
