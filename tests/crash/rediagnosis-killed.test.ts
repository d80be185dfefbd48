import { type ChildProcess, fork } from 'node:child_process';
import { createHash } from 'node:crypto';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import type { Rediagnosis } from '#libs/contracts/index.js';
import { migrationsDirectory } from '#libs/database/index.js';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import { storeHistory } from '../bench/history.js';
import { request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

const KILLS = Number(process.env['COOLBACK_CRASH_KILLS'] ?? 8);
const CASES = Number(process.env['COOLBACK_CRASH_CASES'] ?? 3_000);
const MAIN = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'worker', 'main.js');

let api: TestApi;
let org: TestOrganisation;
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  await storeHistory(api.casebook, org.orgId, CASES);
});
afterAll(() => api?.close());

async function startWorker(): Promise<ChildProcess> {
  const child = fork(MAIN, [], {
    env: {
      ...process.env,
      NODE_OPTIONS: '',
      DATABASE_URL: api.database.appUrl,
      DATABASE_QUEUE_URL: api.database.queueUrl,
      COOLBACK_SECRET: Buffer.alloc(32, 7).toString('base64'),
    },
    execArgv: [],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  });
  await new Promise<void>((resolve, reject) => {
    child.once('message', () => resolve());
    child.once('exit', (code) => reject(new Error(`the worker ended with ${code}`)));
  });
  return child;
}

async function kill(child: ChildProcess): Promise<void> {
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  child.kill('SIGKILL');
  await ended;
}

it(`kill -9 of the worker, ${KILLS} times while ${CASES} cases are judged again: each once, none lost, and the counts are right`, async () => {
  const asked = (await request(api, org.keys.director, 'POST', '/v1/rediagnoses', {})).body as Rediagnosis;
  const state = async () => (await request(api, org.keys.director, 'GET', `/v1/rediagnoses/${asked.id}`)).body as Rediagnosis;
  // Two tries are left, and more workers are killed than that: one that has stored answers counts as no try.
  await asAdministrator(api.database.superUrl, (client) =>
    client.query(
      `update graphile_worker._private_jobs set attempts = max_attempts - 2
        where task_id = (select id from graphile_worker._private_tasks where identifier = 'diagnosis.rediagnose')`,
    ),
  );
  let worker = await startWorker();
  let kills = 0;
  // In the middle of its work: as soon as it has stored something it had not when it was started.
  for (let stored = 0; kills < KILLS; kills++) {
    const deadline = Date.now() + 60_000;
    let now = await state();
    while (now.state !== 'done' && now.done <= stored && Date.now() < deadline) {
      await sleep(20);
      now = await state();
    }
    if (now.state === 'done') break;
    await sleep(Math.random() * 150);
    await kill(worker);
    stored = (await state()).done;
    worker = await startWorker();
  }
  const deadline = Date.now() + 240_000;
  while ((await state()).state !== 'done' && Date.now() < deadline) await sleep(500);
  await kill(worker);
  const ended = await state();
  expect(ended).toMatchObject({ state: 'done', done: CASES, total: CASES, compared: CASES, failed: 0 });
  expect(ended.transitions.reduce((sum, { count }) => sum + count, 0)).toBe(CASES);
  const count = async (text: string) =>
    (
      await api.casebook.context.inTenant(org.orgId, (tx) =>
        tx.query<{ n: number }>({ name: createHash('md5').update(text).digest('hex'), text, values: [org.orgId, ENGINE_VERSION] }),
      )
    ).rows[0]!.n;
  expect(await count('select count(*) as n from diagnosis where org_id = $1 and engine_version = $2')).toBe(CASES);
  expect(await count('select count(distinct case_id) as n from diagnosis where org_id = $1 and engine_version = $2')).toBe(CASES);
  expect(
    await count(`select count(*) as n from shop_case c join diagnosis d on d.org_id = c.org_id and d.case_id = c.id
                  where c.org_id = $1 and d.engine_version = $2 and d.status = 'answered' and c.leading_fault is distinct from d.codes[1]`),
  ).toBe(0);
  expect(await count('select count(*) as n from rediagnosis_change where org_id = $1 and $2::text is not null')).toBe(
    ended.leadingChanged + ended.moved,
  );
  expect(kills).toBeGreaterThan(2);
}, 600_000);
