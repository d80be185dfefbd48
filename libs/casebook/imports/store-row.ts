import type { Tx } from '#libs/database/index.js';
import { unavailability } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { listShops } from '../shops/shops.queries.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import type { Entry } from './entries.js';
import { readHeading } from './heading.js';
import { type OutcomeRow, type RunRow, releaseSavepoint, rollbackToSavepoint, savepoint } from './imports.queries.js';
import { type Judged, type Judging, problemsOf } from './judge.js';
import { sealEntry } from './sealed-rows.js';
import { storable } from './storable.js';
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

/** Whether the database itself will not hold a value (class 22): the row's fault, as a lost connection or a deadlock is not. */
export function isUnstorable(error: unknown): boolean {
  const code = (error as { code?: unknown } | null)?.code;
  return typeof code === 'string' && code.startsWith('22') && !unavailability(error);
}

export function refusalOf(error: unknown, judged: Judged & { ok: true }, judging: Judging) {
  if (isUnstorable(error)) {
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

export const rejected = (entry: Entry, reference: string | null, problems: OutcomeRow['problems'], key: Buffer): OutcomeRow => ({
  line: entry.line,
  reference: reference === null ? null : storable(reference.slice(0, 120)),
  outcome: 'rejected',
  caseId: null,
  problems: problems.map(({ pointer, column, detail, remedy, ...rest }) => ({
    ...rest,
    pointer: storable(pointer),
    column: column === null ? null : storable(column),
    detail: storable(detail),
    remedy: remedy === null ? null : storable(remedy),
  })),
  sealed: sealEntry(entry, key),
});
