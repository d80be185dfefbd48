import type { RebuildOrder, Task } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { signatureCode } from '../history/signature-code.js';
import { TasksService } from '../tasks/tasks.service.js';
import { lockVehicle } from '../vehicles/vehicles.queries.js';
import type { BoardService } from './board.service.js';
import { appendBoardChanges } from './board-roll.queries.js';
import { deleteEpisodes, pastOfVehicles, upsertEpisodes } from './linking.queries.js';
import { distinctCells, relinked, rulesNumber } from './linking.service.js';
import { PATTERN_TASK } from './patterns.service.js';
import {
  countRepairedVehicles,
  lockFreeVehicles,
  lostEpisodes,
  nextRepairedVehicles,
  nextSignatures,
  storeCodes,
} from './rebuild.queries.js';
import { CHECK_TASK, REBUILD_TASK } from './rebuild-task.js';
import { WATCH_TASK } from './watches.service.js';

/** Vehicles derived in one transaction: their locks are held for a tenth of a second. */
const TOGETHER = 200;
const CODES_TOGETHER = 2_000;
const NAMED = 5;

/** What stood in the tables and was not what the cases give. */
export interface RebuildFindings {
  vehicles: number;
  /** Episodes that were missing, other than derived, or should not be there. */
  missing: number;
  different: number;
  gone: number;
  /** Codes of signatures, by which similar cases are found. */
  signatures: number;
  /** Lines of folded boards that differ; null where no board could be compared. */
  boardLines: number | null;
  /** Packs of episodes that differ; null where none could be compared. */
  packs: number | null;
  /** Some of the repairs it was about. */
  readonly repairs: string[];
}

/** Derives again whatever is derived, from the cases alone. */
export class RebuildService {
  constructor(
    private readonly context: CasebookContext,
    private readonly parts: { readonly tasks: TasksService; readonly boards: BoardService },
  ) {}

  /** Hands it to the worker; one that still waits or runs is not doubled. */
  async requestRebuild(actor: Actor, order: RebuildOrder): Promise<Task> {
    requirePermission(actor, 'shops:write');
    const { tasks } = this.parts;
    const kind = order.check === true ? CHECK_TASK : REBUILD_TASK;
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const pending = await tasks.pendingTask(tx, orgId, kind);
      if (pending) return pending;
      const total = await countRepairedVehicles(tx, orgId);
      const id = await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, kind, total);
      await appendAudit(tx, actor, this.context.clock(), `${kind}-requested`, { type: 'task', id });
      return (await tasks.findTask(tx, orgId, id))!;
    });
  }

  /**
   * The job itself, some vehicles at a time; what was done stays done when it is interrupted. A vehicle that somebody holds is left for the end and then waited
   * for alone, so that nobody who holds several waits in a circle with this.
   */
  async rebuild(
    orgId: string,
    taskId: string,
    options: { readonly check: boolean; readonly signal?: AbortSignal },
  ): Promise<RebuildFindings> {
    const { tasks, boards } = this.parts;
    const findings: RebuildFindings = {
      vehicles: 0,
      missing: 0,
      different: 0,
      gone: 0,
      signatures: 0,
      boardLines: null,
      packs: null,
      repairs: [],
    };
    const held: string[] = [];
    const step = async (derive: (tx: Tx) => Promise<string | null>): Promise<string | null> => {
      if (options.signal?.aborted) throw new Error('stopped before everything was derived; it goes on at the next start');
      return this.context.inTenant(orgId, async (tx) => {
        const last = await derive(tx);
        await tasks.reportProgress(tx, orgId, taskId, findings.vehicles, 'running', null);
        return last;
      });
    };
    for (let after: string | null = null; ; ) {
      const from: string | null = after;
      after = await step(async (tx) => {
        const ids = await nextRepairedVehicles(tx, orgId, from, TOGETHER);
        const free = options.check ? ids : await lockFreeVehicles(tx, orgId, ids);
        const isFree = new Set(free);
        held.push(...ids.filter((id) => !isFree.has(id)));
        await this.deriveAgain(tx, orgId, free, options.check, findings);
        return ids.at(-1) ?? null;
      });
      if (after === null) break;
    }
    for (const vehicleId of held) {
      await step(async (tx) => {
        await lockVehicle(tx, orgId, vehicleId);
        await this.deriveAgain(tx, orgId, [vehicleId], options.check, findings);
        return null;
      });
    }
    await this.context.inTenant(orgId, async (tx) => {
      const lost = await lostEpisodes(tx, orgId);
      findings.gone += lost.length;
      if (lost.length > 0 && !options.check) {
        await appendBoardChanges(tx, orgId, distinctCells(await deleteEpisodes(tx, orgId, { repairIds: lost })));
      }
    });
    for (let after: string | null = null; ; ) {
      const from: string | null = after;
      after = await step(async (tx) => {
        const rows = await nextSignatures(tx, orgId, from, CODES_TOGETHER);
        const wrong = rows.flatMap(({ caseId, values, code }) => {
          const derived = signatureCode(values);
          return code !== null && derived.equals(code) ? [] : [{ caseId, code: derived }];
        });
        findings.signatures += wrong.length;
        if (wrong.length > 0 && !options.check) await storeCodes(tx, orgId, wrong);
        return rows.at(-1)?.caseId ?? null;
      });
      if (after === null) break;
    }
    findings.boardLines = options.check ? await boards.differingLines(orgId) : null;
    findings.packs = options.check ? await boards.differingPacks(orgId) : null;
    if (!options.check) await boards.foldBoards(orgId, { whole: true });
    await this.context.inTenant(orgId, async (tx) => {
      await tasks.reportProgress(tx, orgId, taskId, findings.vehicles, 'done', said(findings, options.check));
      if (options.check) return;
      for (const kind of [PATTERN_TASK, WATCH_TASK]) {
        if (!(await tasks.pendingTask(tx, orgId, kind))) await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, kind, 1);
      }
    });
    return findings;
  }

  private async deriveAgain(tx: Tx, orgId: string, ids: readonly string[], check: boolean, findings: RebuildFindings): Promise<void> {
    const all = (await pastOfVehicles(tx, orgId, ids)).map((past) => ({ past, ...relinked(past) }));
    const rows = all.flatMap((one) => one.rows);
    const gone = all.flatMap((one) => one.gone);
    for (const { past, rows: derived } of all) {
      const stored = new Set(past.episodes.map(({ repairId }) => repairId));
      for (const { repairId } of derived) findings[stored.has(repairId) ? 'different' : 'missing'] += 1;
    }
    findings.gone += gone.length;
    findings.vehicles += ids.length;
    findings.repairs.push(...[...rows.map(({ repairId }) => repairId), ...gone].slice(0, NAMED - findings.repairs.length));
    if (check) return;
    // Those that are gone go first: an episode that stood under another vehicle is then stored anew.
    if (gone.length > 0) await deleteEpisodes(tx, orgId, { repairIds: gone });
    if (all.length > 0) await upsertEpisodes(tx, orgId, rulesNumber(all[0]!.past.rules), rows);
    await appendBoardChanges(tx, orgId, distinctCells(all.flatMap((one) => one.cells)));
  }

  /** The job gave up: said on the task, so that nobody waits for it. */
  async rebuildFailed(orgId: string, taskId: string): Promise<void> {
    await this.context.inTenant(orgId, (tx) =>
      this.parts.tasks.reportProgress(
        tx,
        orgId,
        taskId,
        0,
        'failed',
        'Not everything was derived; ask for it again. The log of the worker has the reason.',
      ),
    );
  }
}

function said({ vehicles, missing, different, gone, signatures, boardLines, packs, repairs }: RebuildFindings, check: boolean): string {
  const sum = missing + different + gone;
  const board =
    boardLines === null
      ? check
        ? ' No folded board could be compared: one waits for its fold.'
        : ' Boards folded; patterns and watches are weighed next.'
      : boardLines === 0
        ? ' Folded boards are as derived.'
        : ` ${boardLines} lines of folded boards differ.`;
  const packed = packs === null || packs === 0 ? '' : ` ${packs} packs of episodes differ.`;
  const coded = signatures === 0 ? '' : ` ${signatures} codes of signatures ${check ? 'differ' : 'were made anew'}.`;
  if (sum === 0) return `${vehicles} vehicles: every episode was as derived.${coded}${board}${packed}`;
  const counts = `${missing} missing, ${different} different, ${gone} that should not be there`;
  return `${vehicles} vehicles: ${sum} episodes ${check ? 'differ' : 'were put right'} (${counts}), such as those of repairs ${repairs.join(', ')}.${coded}${board}${packed}`;
}
