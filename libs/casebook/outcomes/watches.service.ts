import { v7 as uuidv7 } from 'uuid';
import type { Task, WatchBoard, WatchQuestion, WatchStream } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { TasksService } from '../tasks/tasks.service.js';
import { basisOf, STALE } from './basis.js';
import { standingRules } from './outcome-rules.queries.js';
import { boardPlatforms, shopClimates } from './outcomes.queries.js';
import { reviewedSpans } from './shops-review.queries.js';
import { DELAY_DAYS, MOST_DELAYS } from './watch-arrived.js';
import { definitionsUnder, NEVER_WATCHED, WATCH_RULES, type WatchRecords, watchedRecords } from './watches.js';
import { onsets, recordingDelays, replaceWatches, storedWatches } from './watches.queries.js';

export const WATCH_TASK = 'watches.score';

export type LookAtWatches = (records: WatchRecords) => Promise<WatchBoard>;

/** What is new: streams of faults and returns against what their exposure made to be expected. */
export class WatchesService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  async watches(actor: Actor, question: WatchQuestion): Promise<WatchBoard> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { platformId, fault, kind, include = 'alarms' } = question;
      if (platformId !== undefined && !(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
      const { orgId } = actor;
      const stored = await storedWatches(tx, orgId, WATCH_RULES);
      const parts = {
        platforms: await boardPlatforms(tx, orgId),
        climates: await shopClimates(tx, orgId),
        rules: await standingRules(tx, orgId),
      };
      if (!stored) return { ...NEVER_WATCHED, definitions: definitionsUnder(parts.rules) };
      const { board } = stored;
      const isStale = stored.basis !== basisOf(WATCH_RULES, parts);
      if (isStale) await this.startScoring(tx, orgId);
      const wanted = (watch: WatchStream) =>
        (platformId === undefined || watch.platformId === platformId) &&
        (fault === undefined || watch.fault === fault) &&
        (kind === undefined || watch.kind === kind) &&
        (include === 'all' || watch.alarms.length > 0 || (include === 'rising' && watch.state === 'rising'));
      const cautions = isStale ? [STALE, ...board.cautions] : board.cautions;
      return { ...board, isStale, cautions, watches: board.watches.filter(wanted) };
    });
  }

  /** Hands the look to the worker; one that still waits or runs is not doubled. */
  async requestScoring(actor: Actor): Promise<Task> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { task, isNew } = await this.startScoring(tx, orgId);
      if (isNew) await appendAudit(tx, actor, this.context.clock(), 'watches.scoring-requested', { type: 'task', id: task.id });
      return task;
    });
  }

  private async startScoring(tx: Tx, orgId: string): Promise<{ readonly task: Task; readonly isNew: boolean }> {
    const pending = await this.tasks.pendingTask(tx, orgId, WATCH_TASK);
    if (pending) return { task: pending, isNew: false };
    const id = await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, WATCH_TASK, 1);
    return { task: (await this.tasks.findTask(tx, orgId, id))!, isNew: true };
  }

  /** The job itself: reads in one transaction, computes outside any and maybe in another thread, stores in another. Safe to run again. */
  async scoreWatches(orgId: string, taskId: string, look: LookAtWatches = async (records) => watchedRecords(records)): Promise<void> {
    const { inTenant, clock } = this.context;
    const now = clock();
    const facts = await inTenant(orgId, async (tx) => {
      const task = await this.tasks.findTask(tx, orgId, taskId);
      if (!task) throw new Error(`there is no task ${taskId} to look at watches for`);
      await this.tasks.reportProgress(tx, orgId, taskId, 0, 'running', null);
      const climates = await shopClimates(tx, orgId);
      const rules = await standingRules(tx, orgId);
      return {
        climates,
        rules,
        onsets: await onsets(tx, orgId),
        delays: await recordingDelays(tx, orgId, now.toISOString().slice(0, 10), DELAY_DAYS, MOST_DELAYS),
        spans: await reviewedSpans(tx, orgId, {}),
        platforms: await boardPlatforms(tx, orgId),
        now,
      };
    });
    const board = await look(facts);
    await inTenant(orgId, async (tx) => {
      const before = await storedWatches(tx, orgId, WATCH_RULES);
      await replaceWatches(tx, orgId, uuidv7(), WATCH_RULES, basisOf(WATCH_RULES, facts), board);
      for (const { kind, platformId, fault, alarm } of newAlarms(board, before?.board ?? null)) {
        const { week, since, observed, expected } = alarm;
        await appendEvent(tx, orgId, now, 'watch.alarmed', platformId, { kind, platformId, fault, week, since, observed, expected });
      }
      await this.tasks.reportProgress(tx, orgId, taskId, 1, 'done', `${board.streams} streams, ${board.alarms} with an alarm`);
    });
  }

  /** The job gave up: said on the task, so that nobody waits for it. */
  async scoringFailed(orgId: string, taskId: string): Promise<void> {
    await this.context.inTenant(orgId, (tx) =>
      this.tasks.reportProgress(tx, orgId, taskId, 0, 'failed', 'The look failed; ask for it again. The log of the worker has the reason.'),
    );
  }
}

/** Alarms of the last weeks that the look before did not know. */
function newAlarms(board: WatchBoard, before: WatchBoard | null) {
  const known = new Set(before?.watches.flatMap((one) => one.alarms.map(({ week }) => alarmKey(one, week))) ?? []);
  return board.watches.flatMap((one) => {
    const alarm = one.alarms.at(-1);
    return one.state !== 'alarm' || alarm === undefined || known.has(alarmKey(one, alarm.week)) ? [] : [{ ...one, alarm }];
  });
}

const alarmKey = ({ kind, platformId, fault }: WatchBoard['watches'][number], week: string) => `${kind}|${platformId}|${fault}|${week}`;
