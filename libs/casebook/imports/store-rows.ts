import type { ImportLine, Proof, Repair, RowOutcome } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop } from '../access/actor.js';
import type { CaseRow } from '../cases/cases.queries.js';
import { sourceKey } from '../cases/cases.service.js';
import { dayInZone } from '../cases/day-in-zone.js';
import { caseHash } from '../cases/fingerprint.js';
import type { NewOrder } from '../cases/open-orders.js';
import { proofsOfCases, repairsOfCases } from '../repairs/repairs.queries.js';
import { shopsNamed } from '../shops/shops.queries.js';
import type { Entry } from './entries.js';
import { type OutcomeRow, releaseSavepoint, rollbackToSavepoint, savepoint } from './imports.queries.js';
import { type Judged, problemsOf } from './judge.js';
import { asRevision, endingOf, type LineOperations, notYetOn, type readLine } from './store-line.js';
import { isUnstorable, type RunJudging, rejected, storeEntry } from './store-row.js';

export interface JudgedRow {
  readonly entry: Entry;
  readonly judged: Judged;
  /** As an order, where it is one. */
  readonly read: ReturnType<typeof readLine> | null;
}

interface GoodRow extends JudgedRow {
  readonly judged: Judged & { readonly ok: true };
  readonly read: ReturnType<typeof readLine>;
}

/** What is to be done with a row, found out for all rows at once. */
type Plan =
  /** The row was refused when it was read. */
  | { readonly kind: 'refused'; readonly outcome: OutcomeRow }
  /** An order that is not stored. */
  | { readonly kind: 'new'; readonly row: GoodRow; readonly order: NewOrder }
  /** An order that is stored and says nothing new. */
  | { readonly kind: 'known'; readonly row: GoodRow; readonly caseId: string }
  /** Anything else: a stored order that says something else, the second row of an order, or a new order to be diagnosed at once. */
  | { readonly kind: 'single'; readonly row: GoodRow };

/**
 * Stores rows as `storeEntry` would, one after the other, with the same outcome for each; but orders that are new, which nearly all are, are opened
 * together. Rows that change what is stored are taken one by one, in their place.
 */
export async function storeRows(
  tx: Tx,
  operations: LineOperations,
  actor: Actor,
  rows: readonly JudgedRow[],
  judging: RunJudging,
): Promise<OutcomeRow[]> {
  const outcomes: OutcomeRow[] = [];
  let together: Extract<Plan, { kind: 'new' }>[] = [];
  const openTogether = async () => {
    if (together.length > 0) outcomes.push(...(await openRows(tx, operations, actor, together, judging)));
    together = [];
  };
  for (const plan of await plansFor(tx, operations, actor, rows, judging)) {
    if (plan.kind === 'refused') outcomes.push(plan.outcome);
    else if (plan.kind === 'known') outcomes.push(outcomeOf(plan.row, 'unchanged', plan.caseId));
    else if (plan.kind === 'new') together.push(plan);
    else {
      await openTogether();
      const { entry, judged } = plan.row;
      outcomes.push(await storeEntry(tx, operations, actor, entry, judged, judging));
    }
  }
  await openTogether();
  return outcomes;
}

async function openRows(
  tx: Tx,
  operations: LineOperations,
  actor: Actor,
  plans: readonly Extract<Plan, { kind: 'new' }>[],
  judging: RunJudging,
): Promise<OutcomeRow[]> {
  const { dryRun } = judging.options;
  await savepoint(tx);
  try {
    const openings = await operations.cases.openOrders(
      tx,
      actor,
      plans.map(({ order }) => order),
    );
    if (dryRun) await rollbackToSavepoint(tx);
    else await releaseSavepoint(tx);
    return openings.map((opening, i) => {
      const { row } = plans[i]!;
      if (opening.ok) return outcomeOf(row, 'opened', dryRun ? null : opening.id);
      return rejected(row.entry, referenceOf(row), problemsOf(opening.error, row.judged.columnOf, judging), judging.rowKey);
    });
  } catch (error) {
    if (!isUnstorable(error)) throw error;
    // The database does not say whose value it is: one by one, the row at fault is refused and the others are stored.
    await rollbackToSavepoint(tx);
    const outcomes: OutcomeRow[] = [];
    for (const { row } of plans) outcomes.push(await storeEntry(tx, operations, actor, row.entry, row.judged, judging));
    return outcomes;
  }
}

async function plansFor(tx: Tx, { cases }: LineOperations, actor: Actor, rows: readonly JudgedRow[], judging: RunJudging): Promise<Plan[]> {
  const good = rows.filter((row): row is GoodRow => row.read !== null);
  const stored = await cases.ordersStored(
    tx,
    actor,
    good.map(({ judged }) => judged.line),
  );
  const isKnown = await knownOrders(tx, actor, [...stored.values()], good);
  const seen = new Set<string>();
  return rows.map((row): Plan => {
    const { judged, entry, read } = row;
    if (!judged.ok) return { kind: 'refused', outcome: rejected(entry, judged.reference, judged.problems, judging.rowKey) };
    if (!read) throw new Error(`line ${entry.line} was judged and not read`);
    const plain: GoodRow = { entry, judged, read };
    const key = sourceKey(judged.line.source!);
    if (seen.has(key)) return { kind: 'single', row: plain };
    seen.add(key);
    const before = stored.get(key);
    // An order that asks for a diagnosis is refused whole when none can be given, which cannot be taken back for one of many.
    if (!before && judged.line.diagnose) return { kind: 'single', row: plain };
    if (!before) return { kind: 'new', row: plain, order: read.order };
    return isKnown(before, plain) ? { kind: 'known', row: plain, caseId: before.id } : { kind: 'single', row: plain };
  });
}

/** Tells which stored orders say all that their row says. What is on their cases is read at once, and only where a row asks for it. */
async function knownOrders(
  tx: Tx,
  actor: Actor,
  stored: readonly CaseRow[],
  rows: readonly GoodRow[],
): Promise<(before: CaseRow, row: GoodRow) => boolean> {
  const { orgId } = actor;
  const lines = new Map(rows.map(({ judged }) => [sourceKey(judged.line.source!), judged.line]));
  const asked = stored.filter((row) => saysMore(lines.get(sourceKey({ system: row.sourceSystem!, reference: row.sourceReference! }))));
  const ids = asked.map(({ id }) => id);
  const proofs = ids.length > 0 ? grouped(await proofsOfCases(tx, orgId, ids)) : new Map<string, Proof[]>();
  const repairs = ids.length > 0 ? grouped(await repairsOfCases(tx, orgId, ids)) : new Map<string, Repair[]>();
  const shops = asked.length > 0 ? await shopsNamed(tx, orgId, [...new Set(asked.map(({ shopId }) => shopId))], []) : [];
  const zones = new Map(shops.map(({ id, timeZone }) => [id, timeZone]));
  return (before, { judged: { line, hasOwnRevision }, read: { written, order } }) => {
    if (!mayOpenShop(actor, before.shopId)) return false;
    const counted = asRevision(actor, written, before, hasOwnRevision, false);
    if (counted === 'superseded') return true;
    if (!before.sourceHash?.equals(caseHash(counted))) return false;
    if (before.status === 'void' || !saysMore(line)) return true;
    const onCase = { proofs: proofs.get(before.id) ?? [], repairs: repairs.get(before.id) ?? [] };
    const added = notYetOn(onCase, order, dayInZone(before.openedAt, zones.get(before.shopId)!));
    return added.proofs.length + added.repairs.length === 0 && endingOf(before, order) === null;
  };
}

const saysMore = (line: ImportLine | undefined): boolean =>
  line !== undefined &&
  (line.proofs !== undefined || line.repairs !== undefined || line.closure !== undefined || line.voided !== undefined);

function grouped<T extends { readonly caseId: string }>(rows: readonly T[]): Map<string, T[]> {
  const byCase = new Map<string, T[]>();
  for (const row of rows) byCase.set(row.caseId, [...(byCase.get(row.caseId) ?? []), row]);
  return byCase;
}

const referenceOf = ({ judged }: GoodRow): string | null => judged.line.source?.reference ?? null;

const outcomeOf = (row: GoodRow, outcome: Exclude<RowOutcome, 'rejected'>, caseId: string | null): OutcomeRow => ({
  line: row.entry.line,
  reference: referenceOf(row),
  outcome,
  caseId,
  problems: [],
  sealed: null,
});
