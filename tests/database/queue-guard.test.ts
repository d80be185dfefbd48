import { randomUUID } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, afterEach, beforeAll, expect, test } from '@jest/globals';
import pg from 'pg';
import { startWorker } from '#apps/worker/process.js';
import type { Casebook } from '#libs/casebook/index.js';
import { guardQueue } from '#libs/database/queue-guard.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

let database: TestDatabase;
let admin: pg.Client;
beforeAll(async () => {
  database = await testDatabase();
  admin = new pg.Client({ connectionString: database.superUrl });
  await admin.connect();
});
afterAll(async () => {
  await admin.end();
  await database.close();
});
afterEach(async () => {
  await admin.query('delete from graphile_worker._private_jobs');
});

async function jobHeldBy(workerId: string, since: string): Promise<void> {
  // Not due: nobody takes it when it is given back.
  await admin.query(`select graphile_worker.add_job('demo.load', run_at := now() + interval '1 day')`);
  await admin.query(`update graphile_worker._private_jobs set locked_by = $1, locked_at = now() - $2::interval where locked_by is null`, [
    workerId,
    since,
  ]);
}
const holders = async (): Promise<(string | null)[]> =>
  (await admin.query<{ id: string | null }>('select locked_by as id from graphile_worker._private_jobs order by id')).rows.map(
    (row) => row.id,
  );

const EVERY_MS = 60_000;
/** Waits for what another session brings about. */
async function until(holds: () => Promise<boolean>): Promise<void> {
  for (let tries = 0; tries < 200 && !(await holds()); tries++) await wait(50);
  expect(await holds()).toBe(true);
}

test('the job of a worker that is gone is given back', async () => {
  await jobHeldBy('gone', '1 hour');
  const guard = await guardQueue(database.queueUrl, EVERY_MS);
  guard.watch('here');
  await until(async () => (await holders())[0] === null);
  await guard.close();
});

test('the job of a worker of another process is its own until that process ends', async () => {
  const other = await guardQueue(database.queueUrl, EVERY_MS);
  other.watch('theirs');
  const theirs = async () => (await admin.query(`select from pg_locks where locktype = 'advisory' and granted`)).rowCount! > 0;
  await until(theirs);
  await jobHeldBy('theirs', '1 hour');
  await jobHeldBy('gone', '1 hour');
  const guard = await guardQueue(database.queueUrl, 100);
  guard.watch('here');
  await until(async () => (await holders())[1] === null);
  expect(await holders()).toEqual(['theirs', null]);
  await other.close();
  await until(async () => (await holders())[0] === null);
  await guard.close();
});

test('a job taken just now is let be: its worker may not have said yet that it lives', async () => {
  await jobHeldBy('just begun', '1 second');
  await jobHeldBy('gone', '1 hour');
  const guard = await guardQueue(database.queueUrl, EVERY_MS);
  guard.watch('here');
  await until(async () => (await holders())[1] === null);
  expect(await holders()).toEqual(['just begun', null]);
  await guard.close();
});

test('a job that takes longer than the guard waits stays with the worker that has it', async () => {
  let begun = 0;
  let end = () => {};
  const ended = new Promise<void>((resolve) => {
    end = resolve;
  });
  const foldBoards = async () => {
    begun++;
    await ended;
  };
  const worker = await startWorker(database.queueUrl, { boards: { foldBoards } } as unknown as Casebook, { guardEveryMs: 100 });
  await admin.query(`select graphile_worker.add_job('board.fold', $1)`, [
    JSON.stringify({ orgId: '01980000-0000-7000-8000-000000000001', subjectId: '01980000-0000-7000-8000-000000000002' }),
  ]);
  await until(async () => begun > 0);
  await admin.query(`update graphile_worker._private_jobs set locked_at = now() - interval '1 hour'`);
  // The guard has looked once what nobody holds is given back; twice, so that the second look began after ours was old.
  for (let looks = 0; looks < 2; looks++) {
    await jobHeldBy('gone', '1 hour');
    await until(async () => !(await holders()).includes('gone'));
  }
  expect(begun).toBe(1);
  end();
  await worker.stop();
});

test('a worker created while the queue is being looked at keeps its job', async () => {
  await jobHeldBy('second', '1 hour');
  await jobHeldBy('gone', '1 hour');
  const guard = await guardQueue(database.queueUrl, EVERY_MS);
  await admin.query('begin');
  await admin.query('lock table graphile_worker._private_jobs in access exclusive mode');
  guard.watch('first');
  const waits = `select from pg_locks where not granted and relation = 'graphile_worker._private_jobs'::regclass`;
  await until(async () => (await admin.query(waits)).rowCount === 1);
  guard.watch('second');
  await admin.query('commit');
  await until(async () => (await holders())[1] === null);
  expect(await holders()).toEqual(['second', null]);
  await guard.close();
});

test('work called anew while it is just being begun is there to be done once more', async () => {
  const [org, subject] = [randomUUID(), randomUUID()];
  const free = async () =>
    (await admin.query(`select from graphile_worker._private_jobs where locked_at is null and attempts < max_attempts`)).rowCount;
  const call = (client: pg.Client) => client.query('select enqueue($1, $2, $3)', ['tally', org, subject]);
  await call(admin);
  const [worker, caller] = [0, 1].map(() => new pg.Client({ connectionString: database.superUrl })) as [pg.Client, pg.Client];
  await Promise.all([worker.connect(), caller.connect()]);
  await worker.query(`begin; update graphile_worker._private_jobs set locked_by = 'worker', locked_at = now(), attempts = 1`);
  const called = call(caller);
  await until(async () => (await admin.query('select from pg_locks where not granted')).rowCount! > 0);
  await worker.query('commit');
  await called;
  expect(await free()).toBe(1);
  await Promise.all([worker.end(), caller.end()]);
});
