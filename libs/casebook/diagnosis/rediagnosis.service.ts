import { setTimeout as sleep } from 'node:timers/promises';
import { v7 as uuidv7 } from 'uuid';
import {
  type ChangeFilter,
  instantText,
  type Page,
  type PageInput,
  type Rediagnosis,
  type RediagnosisChange,
  type RediagnosisRequest,
} from '#libs/contracts/index.js';
import { type Tx, unavailability } from '#libs/database/index.js';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { progressOf } from '../tasks/progress.js';
import { TasksService } from '../tasks/tasks.service.js';
import type { ExpectationService } from './expectation.service.js';
import { History, type JudgeHistory, type PreparedBatch } from './history-batches.js';
import { leadingAnswer } from './judge-batch.js';
import { isBlind } from './ranking.js';
import { RediagnosisNotFound } from './rediagnosis.errors.js';
import {
  type AnsweredCase,
  advanceRun,
  beginRun,
  countTaken,
  findRun,
  insertChanges,
  insertRun,
  listChanges,
  listRuns,
  lockRuns,
  needsCatchUp,
  type RunRow,
  storeAnswers,
} from './rediagnosis.queries.js';
import { addedTo, type Compared, EMPTY_TALLY, isChange, reportOf } from './tally.js';

export const REDIAGNOSIS_TASK = 'diagnosis.rediagnose';
const BATCH_RETRIES = 8;
/** Batches under way at once: some are judged while the oldest is stored and the next is read. */
const IN_FLIGHT = 4;

/** History judged again by the present engine. Answers of earlier engines are kept; the newest leads the case. */
export class RediagnosisService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
    private readonly expectation: ExpectationService,
  ) {}

  /** Hands a run to the worker; one that still waits or runs is answered instead of a second. @throws PlatformNotFound, ShopNotFound */
  async requestRediagnosis(actor: Actor, request: RediagnosisRequest): Promise<Rediagnosis> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { platformId, shopId } = request;
      if (platformId !== undefined && !(await findPlatform(tx, orgId, platformId))) throw new PlatformNotFound(platformId);
      if (shopId !== undefined && !(mayOpenShop(actor, shopId) && (await findShop(tx, orgId, shopId)))) throw new ShopNotFound(shopId);
      await lockRuns(tx, orgId);
      const pending = await this.tasks.pendingTask(tx, orgId, REDIAGNOSIS_TASK);
      if (pending) return toRediagnosis((await findRun(tx, orgId, pending.id))!);
      const id = await this.begin(tx, orgId, request, actor.shopIds);
      await appendAudit(tx, actor, this.context.clock(), 'rediagnosis.requested', { type: 'task', id }, { engineVersion: ENGINE_VERSION });
      return toRediagnosis((await findRun(tx, orgId, id))!);
    });
  }

  /**
   * Begins a run over the whole organisation when history was answered by another engine and this one has not had its run yet. Called when a server starts
   * and when an engine stores its first answer in an organisation.
   */
  async catchUp(orgId: string): Promise<boolean> {
    return this.context.inTenant(orgId, (tx) => this.catchUpIn(tx, orgId));
  }

  async catchUpIn(tx: Tx, orgId: string): Promise<boolean> {
    if (!(await needsCatchUp(tx, orgId, ENGINE_VERSION))) return false;
    await lockRuns(tx, orgId);
    if (!(await needsCatchUp(tx, orgId, ENGINE_VERSION))) return false;
    await this.begin(tx, orgId, {}, null);
    return true;
  }

  /** How many cases only another engine has answered, and whether a run is under way. For the command line of the machine itself. */
  async standing(orgId: string): Promise<{ readonly behind: number; readonly isUnderWay: boolean }> {
    return this.context.inTenant(orgId, async (tx) => ({
      behind: await countTaken(tx, orgId, { engineVersion: ENGINE_VERSION, request: {}, shopIds: [], allShops: true }),
      isUnderWay: (await this.tasks.pendingTask(tx, orgId, REDIAGNOSIS_TASK)) !== null,
    }));
  }

  private async begin(tx: Tx, orgId: string, request: RediagnosisRequest, shopIds: readonly string[] | null): Promise<string> {
    const id = await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, REDIAGNOSIS_TASK, 0);
    const at = instantText(this.context.clock());
    await insertRun(tx, orgId, { id, engineVersion: ENGINE_VERSION, request, shopIds, tally: EMPTY_TALLY, at });
    return id;
  }

  async getRediagnosis(actor: Actor, id: string): Promise<Rediagnosis> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, async (tx) => toRediagnosis(await this.visible(tx, actor, id)));
  }

  async listRediagnoses(actor: Actor, page: PageInput): Promise<Page<Rediagnosis>> {
    requirePermission(actor, 'outcomes:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'rediagnoses' });
    const after = decodeCursor(page.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listRuns(tx, actor.orgId, after?.[0] ?? null, first + 1));
    return toPage(rows.map(toRediagnosis), first, hash, ({ id }) => [id]);
  }

  /** Cases whose first answer changed, or its probability by 0.1 or more: those of the caller's shops. */
  async listChanges(actor: Actor, id: string, filter: ChangeFilter, page: PageInput): Promise<Page<RediagnosisChange>> {
    requirePermission(actor, 'cases:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'rediagnosis-changes', id, ...filter });
    const after = decodeCursor(page.after, hash, 1);
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.visible(tx, actor, id);
      const rows = await listChanges(tx, actor.orgId, id, actor.shopIds, filter, after?.[0] ?? null, first + 1);
      return toPage(rows, first, hash, ({ caseId }) => [caseId]);
    });
  }

  /** The run each time it has moved on, until it has ended; null as a sign of life in between. */
  progress(actor: Actor, id: string, goesOn: () => boolean): AsyncGenerator<Rediagnosis | null> {
    return progressOf(() => this.getRediagnosis(actor, id), goesOn);
  }

  /**
   * The job itself: reads ahead, has batches judged side by side, and stores them in the order of the cases, each with how far the run is, in one
   * transaction. Killed at any point it goes on after the last batch that was stored; carried out twice at once, one of the two stops.
   * `onFirstBatch` hears that this try has moved the run on.
   */
  async carryOut(
    orgId: string,
    runId: string,
    judge: JudgeHistory,
    signal?: AbortSignal,
    onFirstBatch?: () => Promise<void>,
  ): Promise<void> {
    const run = await this.startOrResume(orgId, runId);
    if (run === null) return;
    if (run.after === null) await this.expectation.learnAll(orgId);
    const history = new History(this.context, orgId, run, this.expectation);
    let batches = 0;
    const flying: { batch: PreparedBatch; answers: ReturnType<JudgeHistory> }[] = [];
    const launch = async () => {
      const batch = await history.next();
      if (batch === null) return;
      const answers = judge(batch.stored);
      // Awaited when its turn comes; until then a failure must not count as unhandled.
      answers.catch(() => {});
      flying.push({ batch, answers });
    };
    while (flying.length < IN_FLIGHT && !history.isOver) await launch();
    for (let oldest = flying.shift(); oldest !== undefined; oldest = flying.shift()) {
      if (signal?.aborted) throw new Error('stopped before history was judged; it goes on at the next start');
      const { batch } = oldest;
      const answers = await oldest.answers;
      const [stored] = await Promise.all([this.store(orgId, runId, batch, answers), history.isOver ? null : launch()]);
      if (!stored) return;
      if (++batches === 1) await onFirstBatch?.();
    }
    await this.context.inTenant(orgId, async (tx) => {
      const ended = (await findRun(tx, orgId, runId, { lock: true }))!;
      const report = reportOf(ended.tally);
      const detail = `${report.leadingChanged} of ${report.compared} first answers changed`;
      await this.tasks.reportProgress(tx, orgId, runId, ended.done, 'done', detail);
    });
  }

  private startOrResume(orgId: string, runId: string): Promise<RunRow | null> {
    return this.context.inTenant(orgId, async (tx): Promise<RunRow | null> => {
      const run = await findRun(tx, orgId, runId, { lock: true });
      if (!run) throw new Error(`there is no re-diagnosis ${runId}`);
      if (run.state === 'done') return null;
      const isOther = run.engineVersion !== ENGINE_VERSION;
      if (run.after !== null && !isOther) {
        await this.tasks.reportProgress(tx, orgId, runId, run.done, 'running', null);
        return run;
      }
      // Not begun, or begun by an engine that is no longer here: this one judges from the first case on.
      const begun = { ...run, engineVersion: ENGINE_VERSION, after: null, tally: EMPTY_TALLY };
      await beginRun(tx, orgId, begun, await countTaken(tx, orgId, begun));
      await this.tasks.reportProgress(tx, orgId, runId, 0, 'running', null);
      return begun;
    });
  }

  /** False when somebody else has carried the run on meanwhile. */
  private async store(orgId: string, runId: string, batch: PreparedBatch, answers: Awaited<ReturnType<JudgeHistory>>): Promise<boolean> {
    for (let attempt = 1; ; attempt++) {
      try {
        return await this.context.inTenant(orgId, (tx) => this.storeIn(tx, orgId, runId, batch, answers));
      } catch (error) {
        if (attempt >= BATCH_RETRIES || !unavailability(error)) throw error;
        await sleep(50 * 2 ** attempt);
      }
    }
  }

  private async storeIn(
    tx: Tx,
    orgId: string,
    runId: string,
    batch: PreparedBatch,
    answers: Awaited<ReturnType<JudgeHistory>>,
  ): Promise<boolean> {
    const run = await findRun(tx, orgId, runId, { lock: true });
    if (!run || run.after !== batch.after) return false;
    const answered: AnsweredCase[] = [];
    const compared = batch.cases.map((taken, i): Compared & { caseId: string } => {
      const answer = answers[i]!;
      if (answer) {
        const layout = batch.stored.platforms[taken.platformId]!.platform.layout;
        const expectationVersion = batch.stored.platforms[taken.platformId]!.expectation.version;
        const ownCases = batch.stored.questions[i]!.ownSound.map(({ caseId }) => caseId);
        answered.push({ diagnosisId: uuidv7(), taken, layout, answer, expectationVersion, ownCases, blind: isBlind(taken.id) });
      }
      return {
        caseId: taken.id,
        fromVersion: taken.fromVersion,
        from: leadingAnswer(taken.leading),
        fromProbability: taken.leadingProbability,
        to: answer ? leadingAnswer(answer.leading) : 'failed',
        toProbability: answer?.leadingProbability ?? null,
      };
    });
    if (answered.length > 0) await storeAnswers(tx, orgId, answered, instantText(this.context.clock()));
    await insertChanges(tx, orgId, runId, compared.filter(isChange));
    await advanceRun(tx, orgId, runId, batch.cases.at(-1)!.id, addedTo(run.tally, compared));
    await this.tasks.reportProgress(tx, orgId, runId, run.done + batch.cases.length, 'running', null);
    return true;
  }

  /** The job gave up: said on the task, so that nobody waits for it. */
  async gaveUp(orgId: string, runId: string): Promise<void> {
    await this.context.inTenant(orgId, async (tx) => {
      const run = await findRun(tx, orgId, runId, { lock: true });
      if (!run || run.state === 'done') return;
      const detail = 'The run failed; what it had judged is stored. Ask for another. The log of the worker has the reason.';
      await this.tasks.reportProgress(tx, orgId, runId, run.done, 'failed', detail);
    });
  }

  private async visible(tx: Tx, actor: Actor, id: string): Promise<RunRow> {
    const run = await findRun(tx, actor.orgId, id);
    if (!run) throw new RediagnosisNotFound(id);
    return run;
  }
}

function toRediagnosis({ shopIds: _shops, allShops: _all, after: _after, tally, ...run }: RunRow): Rediagnosis {
  return { ...run, ...reportOf(tally) };
}
