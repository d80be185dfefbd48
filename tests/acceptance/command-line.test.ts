import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import type { Runner } from 'graphile-worker';
import { startWorker } from '#apps/worker/process.js';
import { judgeBatch } from '#libs/casebook/index.js';
import { migrationsDirectory } from '#libs/database/index.js';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

const MAIN = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'cli', 'main.js');
let api: TestApi;
let org: TestOrganisation;
let worker: Runner;
let folder: string;

interface Ended {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}
/** The built program as a process of its own, as a user would call it. */
const coolback = (args: string[], env: Record<string, string> = {}, input = ''): Promise<Ended> =>
  new Promise((resolve) => {
    const child = spawn(process.execPath, [MAIN, ...args], {
      env: {
        PATH: process.env['PATH'] ?? '',
        COOLBACK_URL: api.url,
        COOLBACK_DATA_DIR: folder,
        COOLBACK_SECRET: Buffer.alloc(32, 7).toString('base64'),
        DATABASE_URL: api.database.appUrl,
        ...env,
      },
    });
    let out = '';
    let err = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => (out += text));
    child.stderr.setEncoding('utf8').on('data', (text: string) => (err += text));
    child.stdin.end(input);
    child.once('close', (code) => resolve({ code, out, err }));
  });
const file = (name: string, content: string | Buffer): string => {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
};

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'coolback-cli-'));
  api = await testApi();
  org = await testOrganisation(api);
  await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
  await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
  worker = await startWorker(api.database.queueUrl, api.casebook, { judge: async (batch) => judgeBatch(batch) });
});
afterAll(async () => {
  await worker?.stop();
  await api?.close();
  rmSync(folder, { recursive: true, force: true });
});

describe('coolback import', () => {
  const csv = (complaint: string) => `reference,shop_code,complaint\nL-1,quay,noise\nL-2,quay,${complaint}\n`;

  it('sends a file, waits for its end, and tells what is wrong and how to mend it', async () => {
    const errors = join(folder, 'errors.csv');
    const first = await coolback(['import', file('orders.csv', csv('nois')), '--errors', errors], { COOLBACK_KEY: org.keys.integrator });
    expect(first).toMatchObject({ code: 2, out: expect.stringMatching(/2 rows: 1 opened.*1 refused/) });
    expect(first.out).toMatch(/line 3 \(L-2\)\n {2}complaint: .*Did you mean "noise"/);
    expect(readFileSync(errors, 'utf8')).toMatch(/^reference,shop_code,complaint,line_in_file,why_refused\r\nL-2,quay,nois,3,/);
    const again = await coolback(['import', file('orders.csv.gz', gzipSync(csv('noise'))), '--json'], {
      COOLBACK_KEY: org.keys.integrator,
    });
    expect(again.code).toBe(0);
    expect(JSON.parse(again.out)).toMatchObject({ state: 'done', opened: 1, unchanged: 1, rejected: 0 });
    const dry = await coolback([
      'import',
      file('dry.ndjson', '{"complaint":"noise","vehicle":{}}\n'),
      '--dry-run',
      '--shop',
      'quay',
      '--key',
      org.keys.integrator,
    ]);
    expect(dry).toMatchObject({ code: 0, out: expect.stringMatching(/1 would be opened/) });
  });

  it('completes its words in the shell', async () => {
    const { out: script, code } = await coolback(['completion', 'bash']);
    expect(code).toBe(0);
    const completed = (words: string[]) =>
      execFileSync(
        'bash',
        [
          '-c',
          `${script}\nCOMP_WORDS=(coolback ${words.join(' ')}); COMP_CWORD=${words.length}; _coolback; printf '%s\\n' "\${COMPREPLY[@]}"`,
        ],
        { encoding: 'utf8' },
      )
        .trim()
        .split('\n');
    expect(completed(['im'])).toEqual(['import']);
    expect(completed(['import', '--dr'])).toEqual(['--dry-run']);
    expect((await coolback(['completion', 'fish'])).out).toContain('__fish_seen_subcommand_from import" -l errors');
    expect(await coolback(['completion', 'cmd'])).toMatchObject({ code: 1, err: expect.stringMatching(/bash, zsh, fish/) });
  });

  it('says what to do when it cannot', async () => {
    const path = file('orders.csv', 'colour\nred\n');
    const env = { COOLBACK_KEY: org.keys.integrator };
    expect(await coolback(['import', path], env)).toMatchObject({ code: 1, err: expect.stringMatching(/heading.*\n.*colour/) });
    expect(await coolback(['import', path])).toMatchObject({ code: 1, err: expect.stringMatching(/--key/) });
    expect(await coolback(['import', path], { ...env, COOLBACK_URL: 'http://127.0.0.1:9' })).toMatchObject({
      code: 1,
      err: expect.stringMatching(/coolback start/),
    });
    expect(await coolback(['import', file('orders.xls', '')], env)).toMatchObject({ code: 1, err: expect.stringMatching(/\.ndjson/) });
    expect(await coolback(['import', path], { COOLBACK_KEY: org.keys.director })).toMatchObject({
      code: 1,
      err: expect.stringMatching(/cases:write/),
    });
  });
});

describe('coolback rebuild', () => {
  it('says whether what is derived follows from the cases, and puts it right', async () => {
    const env = { COOLBACK_KEY: org.keys.administrator };
    const { orgId } = org;
    const { data } = (await request(api, org.keys.administrator, 'GET', '/v1/cases')).body;
    const repair = { fault: 'undercharge', action: 'top-up', intent: 'temporary', day: '2026-07-01' };
    const nothing = { parts: [], recoveredG: null, chargedG: 150, labourHours: null, cost: null, note: null };
    const path = `/v1/cases/${data[0].id}/repairs`;
    expect((await request(api, org.keys.administrator, 'POST', path, { ...repair, ...nothing })).status).toBe(201);
    const episodes = (text: string) =>
      api.casebook.context.inTenant(orgId, (tx) => tx.query({ name: `test.${text.slice(0, 6)}`, text, values: [orgId] }));
    expect(await coolback(['rebuild'], env)).toMatchObject({ code: 0, out: expect.stringMatching(/Boards folded/) });
    expect(await coolback(['rebuild', '--check'], env)).toMatchObject({
      code: 0,
      out: expect.stringMatching(/every episode was as derived/),
    });
    await episodes(`update episode set end_kind = 'left' where org_id = $1`);
    expect(await coolback(['rebuild', '--check'], env)).toMatchObject({ code: 2, out: expect.stringMatching(/1 episodes differ/) });
    expect(await coolback(['rebuild'], env)).toMatchObject({ code: 0, out: expect.stringMatching(/1 episodes were put right/) });
    expect((await episodes(`select from episode where org_id = $1 and end_kind = 'running'`)).rowCount).toBe(1);
    expect(await coolback(['rebuild'], { COOLBACK_KEY: org.keys.director })).toMatchObject({
      code: 1,
      err: expect.stringMatching(/shops:write/),
    });
  });
});

describe('coolback export, found-from, erase', () => {
  it('take an organisation along and leave nothing behind', async () => {
    const path = join(folder, 'all.ndjson');
    const env = { COOLBACK_KEY: org.keys.administrator, PASSPHRASE: 'a long way from home' };
    const exported = await coolback(['export', path, '--passphrase-env', 'PASSPHRASE', '--json'], env);
    expect(exported).toMatchObject({ code: 0 });
    expect(JSON.parse(exported.out).rows.shop_case).toBe(2);
    expect(existsSync(`${path}.part`)).toBe(false);
    const founded = await coolback(['found-from', path, '--passphrase-env', 'PASSPHRASE', '--json'], env);
    expect(founded.code).toBe(0);
    const { organisation, key } = JSON.parse(founded.out) as { organisation: string; key: string };
    expect((await request(api, key, 'GET', '/v1/cases')).body.data).toHaveLength(2);
    expect(await coolback(['erase', organisation])).toMatchObject({ code: 1, err: expect.stringMatching(/--yes/) });
    expect(await coolback(['erase', organisation, '--yes'])).toMatchObject({ code: 1, err: expect.stringMatching(/DATABASE_OWNER_URL/) });
    const owner = { DATABASE_OWNER_URL: api.database.superUrl };
    expect(await coolback(['erase', organisation, '--yes'], owner)).toMatchObject({ code: 0, out: expect.stringMatching(/rows erased/) });
    expect(await coolback(['erase', organisation, '--yes'], owner)).toMatchObject({
      code: 1,
      err: expect.stringMatching(/no organisation/),
    });
  });
});

describe('coolback diagnose', () => {
  const psi = (place: string, phase: string, value: number) => ({
    quantity: 'pressure',
    place,
    phase,
    instrument: 'manifold-gauge',
    reference: 'vented-gauge',
    value,
    unit: '[psi]',
  });
  const question = {
    elevationM: 200,
    system: { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' },
    evidence: {
      conditions: { outsideAir: { value: 30, unit: 'Cel' } },
      readings: [psi('low-side-port', 'running', 30), psi('high-side-port', 'running', 200)],
    },
  };

  it('judges lines without a server or a database, the bad ones with what is wrong', async () => {
    const offline = { COOLBACK_URL: 'http://127.0.0.1:9', DATABASE_URL: 'postgresql://nobody@127.0.0.1:9/none' };
    const input = `${JSON.stringify(question)}\n{"evidence":{}}\n${JSON.stringify({ ...question, evidence: { readings: [psi('low-side-prt', 'running', 30)] } })}\n`;
    const { code, out } = await coolback(['diagnose', '-', '--json'], offline, input);
    expect(code).toBe(1);
    const [good, unknown, mistyped] = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    const online = await request(api, org.keys.technician, 'POST', '/v1/diagnoses', question);
    expect(good).toEqual({ line: 1, result: online.body });
    expect(unknown).toMatchObject({ line: 2, problem: { code: 'diagnosis/system_unknown' } });
    expect(mistyped).toMatchObject({ line: 3, problem: { errors: [{ remedy: expect.stringMatching(/low-side-port/) }] } });
    const short = await coolback(['diagnose', file('one.ndjson', JSON.stringify(question))], offline);
    expect(short).toMatchObject({ code: 0, out: expect.stringMatching(/^line 1: /) });
  });
});

describe('coolback rediagnose', () => {
  it('judges history again, follows the worker to its end, and says what changed; doctor says whether cases wait', async () => {
    const key = org.keys.administrator;
    const shop = (await request(api, key, 'GET', '/v1/shops')).body.data[0].id;
    const platform = (await request(api, key, 'GET', '/v1/platforms')).body.data[0].id;
    for (const value of [30, 31, 32]) {
      const opened = await request(api, key, 'POST', '/v1/cases', {
        shopId: shop,
        vehicle: { platformId: platform },
        complaint: 'cools-poorly',
        diagnose: true,
        evidence: {
          readings: [{ quantity: 'pressure', place: 'low-side-port', phase: 'running', reference: 'vented-gauge', value, unit: '[psi]' }],
        },
      });
      expect(opened.status).toBe(201);
    }
    await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query({ name: 'test.older', text: `update diagnosis set engine_version = 'engine-0' where org_id = $1`, values: [org.orgId] }),
    );
    writeFileSync(join(folder, 'first-keys.json'), JSON.stringify({ home: { orgId: org.orgId, keys: org.keys } }));
    const owner = { DATABASE_OWNER_URL: api.database.ownerUrl };
    const behind = await coolback(['doctor'], owner);
    expect(behind).toMatchObject({
      code: 1,
      out: expect.stringMatching(/FAIL engine: .*3 cases were answered by another engine\n.*coolback rediagnose/),
    });
    const run = await coolback(['rediagnose'], { COOLBACK_KEY: key });
    expect(run).toMatchObject({ code: 0, out: expect.stringMatching(/3 cases judged, 3 of them answered before \(by engine-0: 3\)/) });
    expect(run.err).toMatch(/judging .*3\/3/);
    const idle = await coolback(['rediagnose', '--json'], { COOLBACK_KEY: key });
    expect(JSON.parse(idle.out)).toMatchObject({ state: 'done', done: 0 });
    expect(await coolback(['doctor'], owner)).toMatchObject({ code: 0, out: expect.stringMatching(/ok {3}engine: .*no case waits/) });
    const refused = await coolback(['rediagnose'], { COOLBACK_KEY: org.keys.technician });
    expect(refused).toMatchObject({ code: 1, err: expect.stringMatching(/platforms:write/) });
  });
});
