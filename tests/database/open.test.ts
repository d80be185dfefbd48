import { chmodSync, existsSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import {
  assertSafeRole,
  createPool,
  inTenant,
  type OpenedDatabase,
  openDatabase,
  pendingMigrations,
  stopEmbedded,
} from '#libs/database/index.js';
import { removeCompiled, startChild } from '../support/child.js';
import { asAdministrator, inDatabase, type TestDatabase, testDatabase } from '../support/database.js';

const ORG = '0190a0a0-0000-7000-8000-00000000000a';
const enqueue = { name: 'test.enqueue', text: 'select enqueue($2, $1, $1)', values: [ORG, 'tally'] } as const;
const jobsIn = async (queueUrl: string): Promise<unknown[]> =>
  await asAdministrator(queueUrl, async (client) => (await client.query('select payload from graphile_worker._private_jobs')).rows);

/** What every way of opening must give: a migrated schema, a safe role, and a queue the service can hand work to. */
async function serve({ appUrl, queueUrl }: OpenedDatabase): Promise<void> {
  expect(await pendingMigrations(appUrl)).toEqual([]);
  const pool = createPool(appUrl, { max: 1 });
  try {
    await assertSafeRole(pool);
    await inTenant(pool, ORG, (tx) => tx.query(enqueue));
  } finally {
    await pool.end();
  }
  expect(await jobsIn(queueUrl!)).toEqual([{ payload: { orgId: ORG, subjectId: ORG } }]);
}

describe('a given server', () => {
  let database: TestDatabase;
  let name: string;
  beforeAll(async () => {
    database = await testDatabase();
    name = `${database.name}_given`;
  });
  afterAll(async () => {
    await asAdministrator(database.superUrl, (client) => client.query(`drop database if exists ${name} with (force)`));
    await database.close();
  });

  it('is provisioned and migrated where the owner is known, and then serves', async () => {
    const env = {
      DATABASE_URL: inDatabase(database.appUrl, name),
      DATABASE_OWNER_URL: inDatabase(database.superUrl, 'postgres'),
      DATABASE_QUEUE_URL: inDatabase(database.queueUrl, name),
    };
    const lines: string[] = [];
    const opened = await openDatabase(env, (line) => lines.push(line));
    expect(opened).toMatchObject({ appUrl: env.DATABASE_URL, queueUrl: env.DATABASE_QUEUE_URL, embedded: false });
    expect(lines.join()).toMatch(/^applied /);
    await serve(opened);
    await opened.close();

    lines.length = 0;
    await (await openDatabase(env, (line) => lines.push(line))).close();
    expect(lines).toEqual([]);
    expect(await openDatabase({ DATABASE_URL: env.DATABASE_URL })).toMatchObject({ ownerUrl: null, queueUrl: null, embedded: false });
  });
});

describe('no server given', () => {
  let parent: string;
  beforeAll(() => {
    parent = mkdtempSync(join(tmpdir(), 'coolback open '));
    chmodSync(parent, 0o755);
  });
  afterAll(async () => {
    await stopEmbedded(join(parent, 'data'), { mode: 'immediate' });
    rmSync(parent, { recursive: true, force: true });
    removeCompiled();
  });

  it('means the embedded one in COOLBACK_DATA_DIR, which lives as long as somebody uses it', async () => {
    const directory = join(parent, 'data');
    const OPEN = `const opened = await database.openDatabase({ COOLBACK_DATA_DIR: process.env.FOLDER });
      say({ appUrl: opened.appUrl });
      process.stdin.once('data', async () => { await opened.close(); say('closed'); process.exit(0); });`;
    const first = await openDatabase({ COOLBACK_DATA_DIR: directory });
    expect(first).toMatchObject({ embedded: true, directory });
    await serve(first);
    expect(statSync(join(directory, 'passwords.json')).mode & 0o777).toBe(0o600);

    // A second process finds it; the first leaves, and the second still has its database.
    const second = startChild(OPEN, { FOLDER: directory });
    expect(await second.next()).toEqual({ appUrl: first.appUrl });
    await first.close();
    expect(await jobsIn(first.queueUrl!)).toHaveLength(1);

    // The second dies without a word: the server stays, and is found again by the third, who is then the last.
    second.process.kill('SIGKILL');
    await second.ended;
    const third = await openDatabase({ COOLBACK_DATA_DIR: directory });
    expect(third.appUrl).toBe(first.appUrl);
    expect(await jobsIn(third.queueUrl!)).toHaveLength(1);
    await third.close();
    await expect(jobsIn(third.queueUrl!)).rejects.toMatchObject({ code: 'ECONNREFUSED' });
    expect(existsSync(join(directory, 'cluster', 'postmaster.pid'))).toBe(false);

    // And what was written is there after a start from nothing running.
    const fourth = await openDatabase({ COOLBACK_DATA_DIR: directory });
    expect(await jobsIn(fourth.queueUrl!)).toHaveLength(1);
    await fourth.close();
  });
});
