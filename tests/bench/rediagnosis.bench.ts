import { fork } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
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
/** Batches until the compiler is done, and those that count. */
const WARM_BATCHES = 24;
const INLINE_BATCHES = 8;
/** 700 cases a second on two processors are 2.86 ms of processor time a case, where the engine alone may take 2 ms. */
const AIM = 2 / 0.7 / 2;

/**
 * Stored history judged again by the worker, database and all, against the same engine on the same cases in one thread without a database.
 * The database is the embedded one as it ships: durable, on the disk of the machine. Processor time of worker and database together is compared, so that
 * other work on the machine does not count; the rate of the wall clock stands beside it.
 */
export async function runRediagnosisBench(): Promise<BenchLine[]> {
  const directory = mkdtempSync(join(tmpdir(), 'coolback-bench-'));
  chmodSync(directory, 0o755);
  const env = { COOLBACK_DATA_DIR: join(directory, 'data') };
  const database = await openDatabase(env);
  const pool = createPool(database.appUrl, { max: 3 });
  try {
    const casebook = openCasebook(pool, serverSecret(env, database.directory));
    const { orgId } = await casebook.access.foundOrganisation({ name: 'Bench', slug: randomUUID(), demo: false });
    await storeHistory(casebook, orgId, CASES);
    await takeStatistics(database.ownerUrl!);
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
    const inline = await inlineCost(new History(casebook.context, orgId, run, casebook.expectation));
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
      const postmaster = Number(readFileSync(join(env.COOLBACK_DATA_DIR, 'cluster', 'postmaster.pid'), 'utf8').split('\n')[0]);
      const processors = () => processorSeconds(worker.pid!) + familySeconds(postmaster);
      const { rate, cpu } = await ratedRun(() => casebook.rediagnosis.getRediagnosis(actor, id), processors);
      const threads = availableParallelism();
      return [
        {
          name: 're-diagnose a stored case, database included',
          ratio: cpu / inline,
          baseline: 'the same engine on the same cases in one thread, no database',
          aim: AIM,
          detail: `${(1000 * cpu).toFixed(2)} ms of processor time against ${(1000 * inline).toFixed(2)} ms: ${(threads / cpu).toFixed(0)} cases/s on ${threads} processors when nothing else runs; ${rate.toFixed(0)} cases/s by the clock, ${CASES} cases`,
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

/** What the server does by itself within a minute: a history that was stored in earlier days has statistics. */
async function takeStatistics(ownerUrl: string): Promise<void> {
  const owner = createPool(ownerUrl, { max: 1 });
  await owner.query('analyze');
  await owner.end();
}

/** Processor seconds a case of a process that has been at it for some thousand cases, as the threads of the run have for most of theirs. */
async function inlineCost(history: History): Promise<number> {
  let cases = 0;
  let micros = 0;
  for (let i = 0; i < WARM_BATCHES + INLINE_BATCHES; i++) {
    const batch = await history.next();
    if (!batch) break;
    const start = process.cpuUsage();
    judgeBatch(batch.stored);
    const { user, system } = process.cpuUsage(start);
    if (i < WARM_BATCHES) continue;
    micros += user + system;
    cases += batch.cases.length;
  }
  return micros / 1e6 / cases;
}

/** From the first stored batch to the end, when threads are started: cases a second by the clock, and processor seconds a case. */
async function ratedRun(
  look: () => Promise<{ state: string; done: number }>,
  processors: () => number,
): Promise<{ rate: number; cpu: number }> {
  let first: { at: number; done: number; cpu: number } | null = null;
  for (;;) {
    const { state, done } = await look();
    if (done > 0) first ??= { at: performance.now(), done, cpu: processors() };
    if (state === 'failed') throw new Error('the run failed');
    if (state === 'done') {
      const cases = done - first!.done;
      return { rate: cases / ((performance.now() - first!.at) / 1000), cpu: (processors() - first!.cpu) / cases };
    }
    await sleep(200);
  }
}

/** utime and stime of /proc, a hundred ticks a second on Linux; with `ended` those of children that have ended too. */
function processorSeconds(pid: number, ended = false): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ').map(Number);
  return (fields[11]! + fields[12]! + (ended ? fields[13]! + fields[14]! : 0)) / 100;
}

/** A process, its children, and those that have ended: the whole database. */
function familySeconds(pid: number): number {
  const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim().split(' ').filter(Boolean).map(Number);
  return children.reduce(
    (sum, child) => {
      try {
        return sum + processorSeconds(child);
      } catch {
        return sum;
      }
    },
    processorSeconds(pid, true),
  );
}
