import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { transformFileSync } from '@swc/core';
import { signedHeaders } from '#libs/casebook/events/signature.js';
import { openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { migrationsDirectory } from '#libs/database/index.js';
import { DEMO_ORGANISATION, DEMO_PLATFORMS, DEMO_SHOPS } from '#libs/demo/index.js';
import { receiver } from '../../docs/samples/receiver.js';
import { request } from '../support/api.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

/** What a newcomer does, by the words of the pages alone: the whole of `npm start` as a process of its own, everything else over HTTP. */
const ROOT = join(migrationsDirectory(), '..', '..');
const PAGE = readFileSync(join(ROOT, 'docs', 'quick-start.md'), 'utf8');
let database: TestDatabase;
let folder: string;
let started: ChildProcess;
let printed = '';
let url: string;
const keys: Record<string, string> = {};
const samples = join(ROOT, 'node_modules', '.cache', `coolback-samples-${process.pid}`);

const SECRET = Buffer.alloc(32, 7);

/** The places of the demo region and a few repaired cars, as if it had been loaded whole: loading is what tests/acceptance/demo.test.ts looks at. */
async function loadBeginning(): Promise<void> {
  const { orgId } = DEMO_ORGANISATION;
  const casebook = openCasebook(database.pool, SECRET);
  await casebook.access.foundOrganisation({ ...DEMO_ORGANISATION, demo: true });
  const permissions = ROLE_PERMISSIONS.administrator;
  const actor = { orgId, credentialId: orgId, role: 'administrator' as const, permissions, shopIds: null, requestId: 'test' };
  for (const shop of DEMO_SHOPS) await casebook.shops.addShop(actor, shop);
  for (const platform of DEMO_PLATFORMS) await casebook.platforms.addPlatform(actor, platform);
  for (let i = 0; i < 6; i++) {
    const day = `2026-05-0${i + 1}`;
    const opened = await casebook.cases.openCase(actor, {
      shopCode: 'harbour-road',
      vehicle: { plate: `HB ${100 + i}`, platformCode: 'heron-c' },
      complaint: 'cools-poorly',
      openedAt: `${day}T08:00:00Z`,
    });
    await casebook.repairs.recordRepair(actor, opened.case.id, {
      ...{ fault: 'undercharge', action: 'top-up', intent: 'temporary', day, parts: [], note: null },
      ...{ recoveredG: null, chargedG: 200, labourHours: null, cost: null },
    });
  }
  const taskId = await casebook.tasks.startTask(orgId, 'demo.load', 24_000);
  const text = `update task set state = 'done', done = total where org_id = $1 and id = $2`;
  await casebook.context.inTenant(orgId, (tx) => tx.query({ name: 'test.loaded', text, values: [orgId, taskId] }));
}

beforeAll(async () => {
  database = await testDatabase();
  await loadBeginning();
  folder = mkdtempSync(join(tmpdir(), 'coolback-quick start-'));
  started = spawn(process.execPath, [join(ROOT, 'dist', 'apps', 'cli', 'main.js'), 'start', '--port', '0'], {
    env: {
      PATH: process.env['PATH'] ?? '',
      COOLBACK_DATA_DIR: folder,
      COOLBACK_SECRET: SECRET.toString('base64'),
      DATABASE_URL: database.appUrl,
      DATABASE_QUEUE_URL: database.queueUrl,
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  await new Promise<void>((ready, failed) => {
    started.once('exit', (code) => failed(new Error(`the start ended with ${code}: ${printed}`)));
    started.stdout!.setEncoding('utf8').on('data', (text: string) => {
      printed += text;
      if (printed.includes('Ctrl-C stops everything')) ready();
    });
  });
  url = /API reference\s+(http:\S+)\/docs/.exec(printed)![1]!;
  for (const role of ['technician', 'director', 'integrator', 'administrator']) {
    keys[role] = new RegExp(`^  ${role} +(cbk_\\S+)$`, 'm').exec(printed)![1]!;
  }
  mkdirSync(samples, { recursive: true });
  const { $schema: _schema, ...swc } = JSON.parse(readFileSync(join(ROOT, '.swcrc'), 'utf8'));
  for (const name of ['first-order', 'integrator']) {
    const { code } = transformFileSync(join(ROOT, 'docs', 'samples', `${name}.ts`), { ...swc, swcrc: false, sourceMaps: false });
    writeFileSync(join(samples, `${name}.mjs`), code);
  }
}, 300_000);
afterAll(async () => {
  if (started?.exitCode === null) {
    const ended = new Promise((done) => started.once('exit', done));
    started.kill('SIGTERM');
    await ended;
  }
  await database?.close();
  if (folder) rmSync(folder, { recursive: true, force: true });
  rmSync(samples, { recursive: true, force: true });
});

const send = (role: string, method: string, path: string, body?: unknown, headers: Record<string, string> = {}) =>
  request({ url }, keys[role]!, method, path, body, headers);

interface Curl {
  readonly path: string;
  readonly headers: Record<string, string>;
  readonly body: string | undefined;
}
/** The printed lines as a shell would read them: words in single quotes. */
const curls = (): Curl[] =>
  [...printed.matchAll(/^ {2}curl -s (.+)$/gm)].map(([, line]) => {
    const words = [...line!.matchAll(/(-H|-d)? ?'([^']*)'/g)].map(([, option, word]) => ({ option, word: word! }));
    const headers = words.filter(({ option }) => option === '-H').map(({ word }) => word.split(/: (.*)/s).slice(0, 2) as [string, string]);
    return {
      path: words.find(({ option }) => option === undefined)!.word.replace(url, ''),
      headers: Object.fromEntries(headers.map(([name, value]) => [name.toLowerCase(), value])),
      body: words.find(({ option }) => option === '-d')?.word,
    };
  });
const run = async ({ path, headers, body }: Curl) => {
  const answer = await fetch(`${url}${path}`, {
    method: body === undefined ? 'GET' : 'POST',
    headers,
    ...(body === undefined ? {} : { body }),
  });
  return { status: answer.status, headers: answer.headers, body: JSON.parse(await answer.text()) };
};

describe('the three printed lines', () => {
  it('show what recurs, judge readings, and store a case once', async () => {
    const [recurrences, diagnosis, order] = curls() as [Curl, Curl, Curl];
    const board = await run(recurrences);
    expect([board.status, board.body.episodes > 0, Array.isArray(board.body.lines)]).toEqual([200, true, true]);
    const judged = await run(diagnosis);
    expect(judged.status).toBe(200);
    expect(judged.body.faults.length).toBeGreaterThan(1);
    const first = await run(order);
    const again = await run(order);
    expect([first.status, again.status, again.headers.get('idempotency-replayed')]).toEqual([201, 201, 'true']);
    expect(again.body).toEqual(first.body);
    const changed = { ...order, body: order.body!.replace('cools-poorly', 'noise') };
    expect((await run(changed)).body.code).toBe('requests/key_reused');
    const other = await run({ ...changed, headers: { ...order.headers, 'idempotency-key': 'another' } });
    expect([other.status, other.body.code]).toEqual([409, 'cases/source_revision_not_newer']);
    const misspelt = await run({
      ...order,
      body: order.body!.replace('complaint', 'complant'),
      headers: { ...order.headers, 'idempotency-key': 'x' },
    });
    expect(misspelt.body.errors).toContainEqual(
      expect.objectContaining({ pointer: '/complant', remedy: expect.stringContaining('complaint') }),
    );
  });
});

describe('the page of quick starts', () => {
  it('is answered as it says, from top to bottom', async () => {
    const blocks = [...PAGE.matchAll(/```http (\w+) (\d+)\n(\w+) (\S+)\n(?:\n([\s\S]*?))?```/g)];
    expect(blocks.length).toBe([...PAGE.matchAll(/```http/g)].length);
    let id = '';
    for (const [, role, status, method, path, body] of blocks) {
      const answer = await send(role!, method!, path!.replace('{id}', id), body === undefined ? undefined : JSON.parse(body));
      expect([path, answer.status, answer.status < 300 ? '' : answer.body]).toEqual([
        path,
        Number(status),
        answer.status < 300 ? '' : answer.body,
      ]);
      if (path === '/v1/cases' && answer.status === 201) id = answer.body.id;
      if (path!.startsWith('/v1/outcomes/episodes')) expect(answer.body.data).toHaveLength(5);
      if (answer.status === 422) expect(answer.body.errors.map((one: { pointer: string }) => one.pointer)).toContain('/complaint');
    }
    const [query] = [...PAGE.matchAll(/```graphql \w+\n([\s\S]*?)```/g)].map(([, text]) => text!);
    const { body } = await send('integrator', 'POST', '/graphql', { query });
    expect([body.errors, body.data.cases.edges.length, body.data.cases.pageInfo.hasNextPage]).toEqual([undefined, 3, true]);
  });

  it('holds the first sample word for word, and every page of this server it names is there', async () => {
    expect(PAGE).toContain(`\`\`\`ts\n${readFileSync(join(ROOT, 'docs', 'samples', 'first-order.ts'), 'utf8')}\`\`\``);
    for (const path of ['/', '/docs', '/docs/start.js', '/graphiql', '/problems', '/openapi.json'])
      expect([path, (await fetch(`${url}${path}`)).status]).toEqual([path, 200]);
  });
});

/** A sample as the process it is. */
const sample = (name: string, ...args: string[]): Promise<string> =>
  new Promise((resolve, reject) => {
    const env = { PATH: process.env['PATH'] ?? '', COOLBACK_URL: url, COOLBACK_KEY: keys['integrator']! };
    execFile(process.execPath, [join(samples, `${name}.mjs`), ...args], { env }, (error, out, err) =>
      error ? reject(new Error(`${out}\n${err}`)) : resolve(out),
    );
  });

describe('the samples', () => {
  it('push a first order, and once only', async () => {
    const id = (await sample('first-order')).trim();
    expect((await send('integrator', 'GET', `/v1/cases/${id}`)).body.source).toMatchObject({ system: 'my-orders', reference: '7001' });
    expect((await sample('first-order')).trim()).toBe(id);
  }, 240_000);

  it('send a thousand old orders; the three that are refused are mended from what is said of them alone', async () => {
    const lines = Array.from(
      { length: 1_000 },
      (_, i) => `O-${i},harbour-road,2024-05-0${(i % 9) + 1} 10:00,cools-poorly,${20 + (i % 9)},Cel`,
    );
    lines[100] = 'O-100,harbour-road,2024-05-04 10:00,cools-porly,24,Cel';
    lines[400] = 'O-400,harbor-road,2024-05-04 10:00,noise,24,Cel';
    lines[900] = 'O-900,harbour-road,2024-05-04 10:00,noise,24,Celcius';
    const file = join(folder, 'old orders.csv');
    writeFileSync(file, `reference,shop_code,opened_at,complaint,outside_air,temperature_unit\n${lines.join('\n')}\n`);
    const out = await sample('integrator', file);
    expect(out).toContain('sent again it is the same');
    expect(out).toContain('another body under the same revision: ');
    expect(out).toContain('997 opened, 0 revised, 0 unchanged, 3 refused');
    let mended = readFileSync(file, 'utf8');
    const said = [...out.matchAll(/^ {2}line (\d+), (\w+): (.*)$/gm)];
    expect(said).toHaveLength(3);
    for (const [, line, column, words] of said) {
      const meant = /Did you mean "([^"]+)"/.exec(words!)?.[1];
      expect([line, column, words, typeof meant]).toEqual([line, column, words, 'string']);
      const rows = mended.split('\n');
      const cells = rows[Number(line) - 1]!.split(',');
      cells[rows[0]!.split(',').indexOf(column!)] = meant!;
      rows[Number(line) - 1] = cells.join();
      mended = rows.join('\n');
    }
    writeFileSync(file, mended);
    expect(await sample('integrator', file)).toContain('3 opened, 0 revised, 997 unchanged, 0 refused');
  }, 240_000);

  it('receive webhooks: each event once, a forged one never', async () => {
    const secret = `whsec_${Buffer.alloc(32, 5).toString('base64')}`;
    const handled: string[] = [];
    const server = receiver(secret, ({ type }) => handled.push(type)).listen(0, '127.0.0.1');
    await new Promise((ready) => server.once('listening', ready));
    const to = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
    const body = JSON.stringify({ type: 'case.opened', timestamp: '2026-06-01T08:00:00Z', data: { caseId: 'a' } });
    const headers = signedHeaders('msg_1', new Date(), body, [secret]);
    const post = async (text: string, more: Record<string, string>) =>
      (await fetch(to, { method: 'POST', headers: more, body: text })).status;
    try {
      expect([await post(body, headers), await post(body, headers)]).toEqual([204, 204]);
      expect(await post(body.replace('opened', 'closed'), headers)).toBe(401);
      expect(await post(body, { ...headers, 'webhook-id': 'msg_2' })).toBe(401);
      expect(await post(body, signedHeaders('msg_3', new Date(Date.now() - 3_600_000), body, [secret]))).toBe(401);
      expect(handled).toEqual(['case.opened']);
    } finally {
      server.close();
    }
  });
});
