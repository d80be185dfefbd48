import { type ChildProcess, fork } from 'node:child_process';
import { createHash } from 'node:crypto';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { migrationsDirectory } from '#libs/database/index.js';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

const KILLS = Number(process.env['COOLBACK_CRASH_KILLS'] ?? 12);
const ROWS = Number(process.env['COOLBACK_CRASH_ROWS'] ?? 8_000);
const MAIN = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'worker', 'main.js');

let api: TestApi;
let org: TestOrganisation;
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('crash-shop'));
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

it(`kill -9 of the worker, ${KILLS} times in an import of ${ROWS} rows: every row once, and the import ends`, async () => {
  const lines = Array.from({ length: ROWS }, (_, i) =>
    JSON.stringify({
      shopCode: 'crash-shop',
      vehicle: { plate: `C ${i % 500}` },
      complaint: i % 100 === 7 ? 'nothing we know' : 'noise',
      openedAt: '2026-05-04T09:00:00Z',
      source: { system: 'crash', reference: `O-${i}`, revision: 1 },
      ...(i % 3 === 0 ? { repairs: [{ fault: 'undercharge', action: 'top-up' }] } : {}),
    }),
  );
  const response = await fetch(`${api.url}/v1/imports`, {
    method: 'POST',
    headers: {
      authorization: `Bearer ${org.keys.integrator}`,
      'content-type': 'application/x-ndjson',
      'idempotency-key': createHash('sha256').update(lines.join()).digest('hex'),
    },
    body: lines.join('\n'),
  });
  expect(response.status).toBe(202);
  const { id } = (await response.json()) as { id: string };
  // Two tries are left, and more workers are killed than that: one that has stored rows counts as no try.
  await asAdministrator(api.database.superUrl, (client) =>
    client.query(
      `update graphile_worker._private_jobs set attempts = max_attempts - 2
        where task_id = (select id from graphile_worker._private_tasks where identifier = 'imports.run')`,
    ),
  );
  const state = async () => (await request(api, org.keys.integrator, 'GET', `/v1/imports/${id}`)).body;
  let kills = 0;
  let worker = await startWorker();
  for (; kills < KILLS && (await state()).state !== 'done'; kills++) {
    // Somewhere in the steps after its first.
    const { done } = await state();
    for (let now = await state(); now.done === done && now.state !== 'done'; now = await state()) await sleep(50);
    await sleep(Math.random() * 500);
    await kill(worker);
    worker = await startWorker();
  }
  const deadline = Date.now() + 240_000;
  while ((await state()).state !== 'done' && Date.now() < deadline) await sleep(500);
  await kill(worker);
  const bad = lines.filter((line) => line.includes('nothing we know')).length;
  expect(await state()).toMatchObject({
    state: 'done',
    received: ROWS,
    done: ROWS,
    opened: ROWS - bad,
    unchanged: 0,
    revised: 0,
    rejected: bad,
  });
  const count = async (text: string) =>
    (
      await api.casebook.context.inTenant(org.orgId, (tx) =>
        tx.query<{ n: number }>({ name: createHash('md5').update(text).digest('hex'), text, values: [org.orgId] }),
      )
    ).rows[0]!.n;
  expect(await count('select count(*) as n from shop_case where org_id = $1')).toBe(ROWS - bad);
  expect(await count('select count(*) as n from case_evidence where org_id = $1')).toBe(ROWS - bad);
  expect(await count('select count(*) as n from import_row where org_id = $1')).toBe(ROWS);
  expect(await count('select count(distinct case_id) as n from repair where org_id = $1')).toBe(
    await count('select count(*) as n from repair where org_id = $1'),
  );
  expect(kills).toBeGreaterThan(2);
}, 600_000);
