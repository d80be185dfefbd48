import { EventEmitter } from 'node:events';
import { type JobHelpers, Logger, type Runner, run, type WorkerEvents } from 'graphile-worker';
import type { Casebook, JudgeHistory } from '#libs/casebook/index.js';
import { guardQueue } from '#libs/database/index.js';
import { engineThreads } from './engine-threads.js';
import { importCases } from './jobs/import-cases.job.js';
import { loadDemo } from './jobs/load-demo.job.js';
import { rebuildDerived } from './jobs/rebuild-derived.job.js';
import { rediagnose } from './jobs/rediagnose.job.js';
import { scorePatterns } from './jobs/score-patterns.job.js';
import { scoreWatches } from './jobs/score-watches.job.js';

/** What a job gets: identifiers only travel in payloads, everything else is looked up under the tenant. */
export interface JobSubject {
  readonly orgId: string;
  readonly subjectId: string;
}

const UUID = /^[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}$/;

function subjectOf(payload: unknown): JobSubject {
  const { orgId, subjectId } = (payload ?? {}) as Partial<JobSubject>;
  if (!UUID.test(orgId ?? '') || !UUID.test(subjectId ?? '')) throw new Error('a job payload must name an organisation and a subject');
  return { orgId: orgId!, subjectId: subjectId! };
}

/** Workers that are killed use up tries too: long work would run out of them although each has done its part. One that moved the work on counts as none. */
async function renewTries({ job, withPgClient }: JobHelpers): Promise<void> {
  await withPgClient((client) =>
    client.query('update graphile_worker._private_jobs set attempts = 1 where id = $1 and attempts > 1', [job.id]),
  );
}

/**
 * Starts the worker on the queue's own role. Jobs run at least once and are safe to run again. History is judged in threads unless `judge` says otherwise; patterns
 * and watches are where `inThreads` says so.
 */
export async function startWorker(
  queueUrl: string,
  casebook: Casebook,
  options: {
    readonly concurrency?: number;
    readonly judge?: JudgeHistory;
    readonly guardEveryMs?: number;
    readonly inThreads?: boolean;
  } = {},
): Promise<Runner> {
  const guard = await guardQueue(queueUrl, options.guardEveryMs);
  const threads = engineThreads();
  const events = new EventEmitter() as WorkerEvents;
  // Jobs are taken in the name of the pool; the names of its workers stand nowhere in the queue.
  events.on('pool:create', ({ workerPool }) => guard.watch(workerPool.id));
  const runner = await run({
    events,
    connectionString: queueUrl,
    concurrency: options.concurrency ?? 3,
    noHandleSignals: true,
    pollInterval: 2_000,
    // No crontab file is wanted; graphile-worker looks for one unless it is told so.
    crontab: '',
    logger: new Logger(() => (level, message) => {
      if (level === 'error' || level === 'warning') process.stderr.write(`${JSON.stringify({ service: 'worker', level, message })}\n`);
    }),
    taskList: {
      'demo.load': async (payload, helpers) => {
        const { orgId, subjectId } = subjectOf(payload);
        await loadDemo(casebook, orgId, subjectId, {
          renew: () => renewTries(helpers),
          ...(helpers.abortSignal ? { signal: helpers.abortSignal } : {}),
        });
      },
      'imports.run': async (payload, helpers) => {
        const { orgId, subjectId } = subjectOf(payload);
        const isLastTry = helpers.job.attempts >= helpers.job.max_attempts;
        await importCases(casebook, orgId, subjectId, {
          isLastTry,
          renew: () => renewTries(helpers),
          ...(helpers.abortSignal ? { signal: helpers.abortSignal } : {}),
        });
      },
      'diagnosis.rediagnose': async (payload, helpers) => {
        const { orgId, subjectId } = subjectOf(payload);
        const isLastTry = helpers.job.attempts >= helpers.job.max_attempts;
        await rediagnose(casebook, orgId, subjectId, {
          judge: options.judge ?? threads.judge,
          isLastTry,
          renew: () => renewTries(helpers),
          ...(helpers.abortSignal ? { signal: helpers.abortSignal } : {}),
        });
      },
      'platforms.expect': async (payload) => {
        const { orgId, subjectId } = subjectOf(payload);
        await casebook.expectation.learnInBackground(orgId, subjectId);
      },
      'events.fan-out': async (payload) => {
        await casebook.delivery.fanOut(subjectOf(payload).orgId);
      },
      'webhooks.deliver': async (payload) => {
        const { orgId, subjectId } = subjectOf(payload);
        await casebook.delivery.deliver(orgId, subjectId);
      },
      'imports.purge': async (payload) => {
        await casebook.imports.purge(subjectOf(payload).orgId);
      },
      'watches.score': async (payload) => {
        const { orgId, subjectId } = subjectOf(payload);
        await scoreWatches(casebook, orgId, subjectId, options.inThreads ? threads.lookAtWatches : undefined);
      },
      'board.fold': async (payload) => {
        await casebook.boards.foldBoards(subjectOf(payload).orgId);
      },
      'derived.rebuild': async (payload, { abortSignal }) => {
        const { orgId, subjectId } = subjectOf(payload);
        await rebuildDerived(casebook, orgId, subjectId, { check: false, ...(abortSignal ? { signal: abortSignal } : {}) });
      },
      'derived.check': async (payload, { abortSignal }) => {
        const { orgId, subjectId } = subjectOf(payload);
        await rebuildDerived(casebook, orgId, subjectId, { check: true, ...(abortSignal ? { signal: abortSignal } : {}) });
      },
      'patterns.score': async (payload) => {
        const { orgId, subjectId } = subjectOf(payload);
        await scorePatterns(casebook, orgId, subjectId, options.inThreads ? threads.weighPatterns : undefined);
      },
    },
  });
  void runner.promise.finally(() => Promise.all([guard.close(), threads.close()]));
  return runner;
}
