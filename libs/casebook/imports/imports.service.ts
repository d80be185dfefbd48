import { setTimeout as sleep } from 'node:timers/promises';
import { v7 as uuidv7 } from 'uuid';
import {
  CSV_FIELDS,
  type ImportRow,
  type ImportRun,
  type NewSavedMapping,
  type Page,
  type PageInput,
  type ProblemIssue,
  type RowCorrection,
  type RowFilter,
  type SavedMapping,
} from '#libs/contracts/index.js';
import { type Tx, unavailability } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { InvalidInput } from '../invalid.errors.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { progressOf } from '../tasks/progress.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { carryOutStep, recounted } from './carry-out.js';
import type { Entry } from './entries.js';
import { ImportNotDone, ImportNotFound, RowNotFound, RowNotRejected } from './imports.errors.js';
import {
  findRun,
  listMappings,
  listRows,
  listRuns,
  lockRow,
  type OutcomeRow,
  purgeSealed,
  type RunRow,
  updateRow,
  updateRun,
  upsertMapping,
} from './imports.queries.js';
import { judgeEntry, judgeValue } from './judge.js';
import { ReadAhead } from './read-ahead.js';
import { IMPORT_TASK, KEPT_DAYS, type ReceivedFile, receiveFile } from './receive.js';
import { unsealEntry } from './sealed-rows.js';
import type { LineOperations } from './store-line.js';
import { judgingOf, senderOf, storeEntry } from './store-row.js';

/** The operations an import joins to its own transactions. */
export interface ImportParts {
  readonly within: (tx: Tx, orgId: string) => LineOperations & { readonly tasks: TasksService };
}

const BATCH_RETRIES = 8;
/** A database that is away is waited for here for a minute; longer outages are the queue's, which tries ever more seldom. */
const OUTAGE_WAIT_MS = 1_000;
const OUTAGE_RETRIES = 60;

export class ImportsService {
  constructor(
    private readonly context: CasebookContext,
    private readonly parts: ImportParts,
  ) {}

  /** Takes in a file of cases and hands it to the worker. @throws HeadingRefused, FileUnreadable, FileTooLarge, MappingNotFound, KeyReused */
  async receive(actor: Actor, file: ReceivedFile): Promise<{ run: ImportRun; replayed: boolean }> {
    requirePermission(actor, 'cases:write');
    const { run, replayed } = await receiveFile(this.context, (tx) => this.parts.within(tx, actor.orgId).tasks, actor, file);
    return { run: toRun(run), replayed };
  }

  async getImport(actor: Actor, id: string): Promise<ImportRun> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => toRun(await visibleRun(tx, actor, id)));
  }

  async listImports(actor: Actor, page: PageInput): Promise<Page<ImportRun>> {
    requirePermission(actor, 'cases:write');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'imports' });
    const after = decodeCursor(page.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listRuns(tx, actor.orgId, after?.[0] ?? null, first + 1));
    return toPage(rows.filter((run) => maySee(actor, run)).map(toRun), first, hash, (run) => [run.id]);
  }

  /** The import each time it has moved on, until it has ended; null as a sign of life in between. */
  progress(actor: Actor, id: string, goesOn: () => boolean): AsyncGenerator<ImportRun | null> {
    return progressOf(() => this.getImport(actor, id), goesOn);
  }

  /** What became of each row, by line. */
  async listRows(actor: Actor, id: string, filter: RowFilter, page: PageInput): Promise<Page<ImportRow>> {
    requirePermission(actor, 'cases:write');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'import-rows', id, ...filter });
    const after = decodeCursor(page.after, hash, 1);
    return this.context.inTenant(actor.orgId, async (tx) => {
      await visibleRun(tx, actor, id);
      const rows = await listRows(tx, actor.orgId, id, filter.outcome ?? null, Number(after?.[0] ?? 0), first + 1);
      return toPage(rows.map(toRow), first, hash, (row) => [String(row.line)]);
    });
  }

  /** The rejected rows with what was sent and why each was refused, in batches: the error file. */
  async *rejectedRows(actor: Actor, id: string): AsyncGenerator<{ row: ImportRow; entry: Entry | null; columns: readonly string[] }> {
    requirePermission(actor, 'cases:write');
    let after = 0;
    for (;;) {
      const batch = await this.context.inTenant(actor.orgId, async (tx) => {
        const run = await visibleRun(tx, actor, id);
        const { rowKey } = await judgingOf(this.context, tx, actor.orgId, run);
        const rows = await listRows(tx, actor.orgId, id, 'rejected', after, 200);
        return rows.map((row) => ({ row: toRow(row), entry: row.sealed ? unsealEntry(row.sealed, rowKey) : null, columns: run.columns }));
      });
      yield* batch;
      const last = batch.at(-1);
      if (!last) return;
      after = last.row.line;
    }
  }

  /**
   * Tries a rejected row again: as it was, with some cells replaced, or as a case that takes its place.
   * @throws RowNotRejected when it was taken or what was sent is no longer kept.
   */
  async correctRow(actor: Actor, id: string, line: number, correction: RowCorrection): Promise<ImportRow> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const run = await visibleRun(tx, actor, id, { lock: true });
      if (run.state !== 'done') throw new ImportNotDone();
      return this.retryRow(tx, actor, run, line, correction);
    });
  }

  /** Tries every rejected row again, with the mapping as it is saved now. The worker does it. */
  async replayRejected(actor: Actor, id: string): Promise<ImportRun> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const run = await visibleRun(tx, actor, id, { lock: true });
      if (run.state !== 'done') throw new ImportNotDone();
      const saved = run.options.mappingName === null ? [] : await listMappings(tx, actor.orgId);
      const mapping = saved.find((one) => one.name === run.options.mappingName)?.mapping ?? run.options.mapping;
      const waiting: RunRow = { ...run, state: 'waiting', options: { ...run.options, mapping, replayAfter: 0 } };
      const at = this.context.clock();
      await updateRun(tx, actor.orgId, id, waiting, at);
      await appendAudit(tx, actor, at, 'import.replayed', { type: 'import', id }, { rows: run.rejected });
      await this.parts.within(tx, actor.orgId).tasks.resumeTask(tx, actor.orgId, IMPORT_TASK, id);
      return toRun(waiting);
    });
  }

  async saveMapping(actor: Actor, input: NewSavedMapping): Promise<SavedMapping> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const at = this.context.clock();
      const saved = await upsertMapping(tx, actor.orgId, uuidv7(), input.name, input.mapping, at);
      await appendAudit(tx, actor, at, 'mapping.saved', { type: 'mapping', id: saved.id }, { version: saved.version });
      return saved;
    });
  }

  async listMappings(actor: Actor): Promise<SavedMapping[]> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, (tx) => listMappings(tx, actor.orgId));
  }

  /**
   * Carries an import out to its end. Safe to run again and from several workers: each step holds the import's row. A step that loses against
   * another import (deadlock), or whose database went away, is taken again. `onFirstStep` hears that this run has moved the import on.
   */
  async carryOut(orgId: string, id: string, signal?: AbortSignal, onFirstStep?: () => Promise<void>): Promise<void> {
    let failures = 0;
    let steps = 0;
    const ahead = new ReadAhead();
    while (!signal?.aborted) {
      try {
        const run = await carryOutStep(
          this.context,
          (tx) => this.parts.within(tx, orgId),
          orgId,
          id,
          (tx, run) => this.report(tx, orgId, run),
          ahead,
        );
        if (!run) return;
        failures = 0;
        if (++steps === 1) await onFirstStep?.();
        if (run.state === 'done') return;
      } catch (error) {
        const code = (error as { code?: unknown } | null)?.code;
        const isAway = unavailability(error) !== null;
        if (!isAway && code !== '40P01' && code !== '40001') throw error;
        if (++failures > (isAway ? OUTAGE_RETRIES : BATCH_RETRIES)) throw error;
        await sleep(isAway ? OUTAGE_WAIT_MS : failures * 50 * (1 + Math.random()), undefined, signal ? { signal } : {});
      }
    }
    // Told to stop: the queue gives the job to the next worker.
    throw new Error('the worker was told to stop in the middle of an import');
  }

  /** Says that an import cannot go on, after the last try of the queue. */
  async giveUp(orgId: string, id: string): Promise<void> {
    await this.context.inTenant(orgId, async (tx) => {
      const run = await findRun(tx, orgId, id, { lock: true });
      if (!run || run.state === 'done') return;
      await updateRun(
        tx,
        orgId,
        id,
        { ...run, state: 'failed', detail: 'The worker could not go on. Send the same file with a new key.' },
        this.context.clock(),
      );
    });
  }

  /** Drops what was sent with rejected rows after thirty days. Outcomes and reasons stay. */
  async purge(orgId: string): Promise<number> {
    const before = new Date(this.context.clock().getTime() - KEPT_DAYS * 86_400_000);
    return this.context.inTenant(orgId, (tx) => purgeSealed(tx, orgId, before));
  }

  private async report(tx: Tx, orgId: string, run: RunRow): Promise<void> {
    await this.parts
      .within(tx, orgId)
      .tasks.reportProgress(tx, orgId, run.id, doneOf(run), run.state === 'done' ? 'done' : 'running', null);
    if (run.state !== 'done' || run.options.dryRun) return;
    const { opened, revised, unchanged, rejected } = run;
    await appendEvent(tx, orgId, this.context.clock(), 'import.finished', run.id, {
      importId: run.id,
      opened,
      revised,
      unchanged,
      rejected,
    });
  }

  private async retryRow(tx: Tx, actor: Actor, run: RunRow, line: number, correction: RowCorrection): Promise<ImportRow> {
    const row = await lockRow(tx, actor.orgId, run.id, line);
    if (!row) throw new RowNotFound(line);
    if (row.outcome !== 'rejected' || (!row.sealed && !correction.case)) throw new RowNotRejected(line);
    const judging = await judgingOf(this.context, tx, actor.orgId, run);
    const entry: Entry = row.sealed ? withCells(unsealEntry(row.sealed, judging.rowKey), correction, run.columns) : { line, raw: '' };
    const kept: Entry = correction.case ? { line, raw: JSON.stringify(correction.case) } : entry;
    const judged = correction.case ? judgeValue(correction.case, judging) : judgeEntry(entry, judging);
    const sender = { ...senderOf(actor.orgId, run), credentialId: actor.credentialId, requestId: actor.requestId, shopIds: actor.shopIds };
    const outcome = await storeEntry(tx, this.parts.within(tx, actor.orgId), sender, kept, judged, judging);
    await updateRow(tx, actor.orgId, run.id, outcome, outcome.outcome !== 'rejected');
    await updateRun(tx, actor.orgId, run.id, recounted(run, outcome), this.context.clock());
    return { ...toRow(outcome), corrected: outcome.outcome !== 'rejected' };
  }
}

const doneOf = (run: RunRow): number => run.opened + run.revised + run.unchanged + run.rejected;

function toRun(run: RunRow): ImportRun {
  const { id, state, format, columns, received, opened, revised, unchanged, rejected, detail, createdAt, updatedAt } = run;
  const { dryRun, backfill, mappingName } = run.options;
  return {
    ...{ id, state, format, dryRun, backfill, mapping: mappingName, columns, received, done: doneOf(run) },
    ...{ opened, revised, unchanged, rejected, detail, createdAt, updatedAt },
  };
}

const toRow = (row: Omit<OutcomeRow, 'sealed'> & { readonly corrected?: boolean }): ImportRow => ({
  line: row.line,
  reference: row.reference,
  outcome: row.outcome,
  caseId: row.caseId,
  problems: [...row.problems],
  corrected: row.corrected ?? false,
});

/** A credential limited to certain shops sees only what it sent itself: a file may speak of any shop. */
const maySee = (actor: Actor, run: RunRow): boolean => actor.shopIds === null || run.credentialId === actor.credentialId;

async function visibleRun(tx: Tx, actor: Actor, id: string, options: { lock?: boolean } = {}): Promise<RunRow> {
  const run = await findRun(tx, actor.orgId, id, options);
  if (!run || !maySee(actor, run)) throw new ImportNotFound(id);
  return run;
}

function withCells(entry: Entry, { cells }: RowCorrection, columns: readonly string[]): Entry {
  if (!cells || typeof entry.raw === 'string') return entry;
  const [head = [], ...others] = entry.raw;
  const changed = columns.map((_, i) => head[i] ?? '');
  const issues: ProblemIssue[] = [];
  for (const [i, { column, value }] of cells.entries()) {
    const at = columns.findIndex((heading) => heading.toLowerCase() === column.trim().toLowerCase());
    if (at >= 0) changed[at] = value;
    else
      issues.push({
        pointer: `/cells/${i}/column`,
        code: 'imports/column_unknown',
        detail: `The file has no column "${column}".`,
        remedy: `It has: ${columns.slice(0, 40).join(', ')}.`,
      });
  }
  if (issues.length > 0) throw new InvalidInput(issues);
  return { line: entry.line, raw: [changed, ...others] };
}

const quoted = (cell: string) => (cell.includes(',') ? `"${cell}"` : cell);

/** The headings that need no mapping, and one worked line. */
export function csvTemplate(): string {
  const example: Partial<Record<(typeof CSV_FIELDS)[number], string>> = {
    shop_code: 'harbour-road',
    system: 'my-orders',
    reference: 'A-1001',
    revision: '1',
    vin: '1M8GDM9AXKP042788',
    odometer: '88100',
    odometer_unit: 'km',
    opened_at: '2026-07-01 09:30',
    complaint: 'cools-poorly',
    complaint_text: 'Cold on the road, warm in traffic',
    outside_air: '31',
    temperature_unit: 'Cel',
    pressure_unit: 'bar',
    pressure_reference: 'vented-gauge',
    low_side_pressure: '2.6',
    high_side_pressure: '19.5',
    outlet_air: '14',
    proved_fault: 'condenser-dirt',
    proof_method: 'verified-after-readings',
    repair_fault: 'condenser-dirt',
    repair_action: 'clean-condenser',
    repair_intent: 'permanent',
    repair_day: '2026-07-01',
    labour_hours: '0.8',
    cost: '64',
  };
  return `${CSV_FIELDS.join(',')}\r\n${CSV_FIELDS.map((field) => quoted(example[field] ?? '')).join(',')}\r\n`;
}
