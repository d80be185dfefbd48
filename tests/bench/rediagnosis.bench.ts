import { fork } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { History } from '#libs/casebook/diagnosis/history-batches.js';
import { findRun } from '#libs/casebook/diagnosis/rediagnosis.queries.js';
import { judgeBatch, openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { createPool, migrationsDirectory, openDatabase, serverSecret, stopEmbedded } from '#libs/database/index.js';
import type { BenchLine } from './engine.bench.js';
import { storeHistory } from './history.js';

const WORKER = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'worker', 'main.js');
const CASES = Number(process.env['COOLBACK_BENCH_CASES'] ?? 10_000);
const INLINE_BATCHES = 6;
/** 700 cases a second on two processors where one case inline takes 2 ms, which is 500 a second. */
const AIM = 1.4;

/**
 * Stored history judged again by the worker, database and all, against the same engine on the same cases in one thread without a database.
 * The database is the embedded one as it ships: durable, on the disk of the machine.
 */
export async function runRediagnosisBench(): Promise<(BenchLine & { readonly better: 'more' })[]> {
  const directory = mkdtempSync(join(tmpdir(), 'coolback-bench-'));
  chmodSync(directory, 0o755);
  const env = { COOLBACK_DATA_DIR: join(directory, 'data') };
  const database = await openDatabase(env);
  const pool = createPool(database.appUrl, { max: 3 });
  try {
    const casebook = openCasebook(pool, serverSecret(env, database.directory));
    const { orgId } = await casebook.access.foundOrganisation({ name: 'Bench', slug: randomUUID(), demo: false });
    await storeHistory(casebook, orgId, CASES);
    const actor = {
      orgId,
      credentialId: orgId,
      role: 'administrator',
      permissions: ROLE_PERMISSIONS.administrator,
      shopIds: null,
      requestId: 'bench',
    } as const;
    const { id } = await casebook.rediagnosis.requestRediagnosis(actor, {});
    const run = (await casebook.context.inTenant(orgId, (tx) => findRun(tx, orgId, id)))!;
    const inline = await inlineRate(new History(casebook.context, orgId, run, casebook.expectation));
    const worker = fork(WORKER, [], {
      env: { ...process.env, ...env, DATABASE_URL: '', NODE_OPTIONS: '' },
      execArgv: [],
      stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    });
    try {
      await new Promise((resolve, reject) => {
        worker.once('message', resolve);
        worker.once('exit', (code) => reject(new Error(`the worker ended with ${code}`)));
      });
      const rate = await ratedRun(async () => await casebook.rediagnosis.getRediagnosis(actor, id));
      return [
        {
          name: `re-diagnose ${CASES} stored cases in ${availableParallelism()} threads, database included`,
          ratio: rate / inline,
          baseline: 'the same engine on the same cases, one thread, no database',
          aim: AIM,
          better: 'more',
          detail: `${rate.toFixed(0)} cases/s against ${inline.toFixed(0)} cases/s`,
        },
      ];
    } finally {
      worker.kill('SIGTERM');
      await new Promise((done) => worker.once('exit', done));
    }
  } finally {
    await pool.end();
    await database.close();
    await stopEmbedded(env.COOLBACK_DATA_DIR);
    rmSync(directory, { recursive: true, force: true });
  }
}

/** Cases a second, the first batch for warming up. */
async function inlineRate(history: History): Promise<number> {
  let cases = 0;
  let seconds = 0;
  for (let i = 0; i <= INLINE_BATCHES; i++) {
    const batch = await history.next();
    if (!batch) break;
    const start = performance.now();
    judgeBatch(batch.stored);
    if (i === 0) continue;
    seconds += (performance.now() - start) / 1000;
    cases += batch.cases.length;
  }
  return cases / seconds;
}

/** Cases a second from the first stored batch to the end: threads are started by then. */
async function ratedRun(look: () => Promise<{ state: string; done: number }>): Promise<number> {
  let first: { at: number; done: number } | null = null;
  for (;;) {
    const { state, done } = await look();
    if (done > 0) first ??= { at: performance.now(), done };
    if (state === 'failed') throw new Error('the run failed');
    if (state === 'done') return (done - first!.done) / ((performance.now() - first!.at) / 1000);
    await sleep(50);
  }
}
