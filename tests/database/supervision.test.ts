import { chmodSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it, jest } from '@jest/globals';
import { createPool, inTenant, type OpenedDatabase, openDatabase, type Pool, stopEmbedded, unavailability } from '#libs/database/index.js';

const ORG = '0190a0a0-0000-7000-8000-00000000000a';
/** How long the test waits, far beyond the second a restart takes: a connection that was being made meanwhile is given up only after its own limit. */
const WITHIN_MS = 60_000;
jest.setTimeout(300_000);
let parent: string;
let opened: OpenedDatabase;
let pool: Pool;
const said: string[] = [];

const postmaster = (): number => Number(readFileSync(join(opened.directory, 'cluster', 'postmaster.pid'), 'utf8').split('\n')[0]);
const write = async (n: number): Promise<void> => {
  await inTenant(pool, ORG, (tx) =>
    tx.query({
      name: 'test.write',
      text: `insert into task (org_id, id, kind, state, done, total, created_at, updated_at)
             values ($1, gen_random_uuid(), 'test', 'done', $2, $2, now(), now())`,
      values: [ORG, n],
    }),
  );
};

const restarts = (): number => said.filter((line) => line.includes('started again')).length;

beforeAll(async () => {
  parent = mkdtempSync(join(tmpdir(), 'coolback-supervision-'));
  chmodSync(parent, 0o755);
  opened = await openDatabase({ COOLBACK_DATA_DIR: join(parent, 'data') }, (line) => said.push(line));
  pool = createPool(opened.appUrl, { max: 2 });
});
afterAll(async () => {
  await pool.end();
  await opened.close();
  await stopEmbedded(join(parent, 'data'), { mode: 'immediate' });
  rmSync(parent, { recursive: true, force: true });
});

it('a server killed under its users is back by itself, with every row that was committed', async () => {
  const committed: number[] = [];
  let n = 0;
  for (let round = 0; round < 3; round += 1) {
    for (let i = 0; i < 20; i += 1) {
      n += 1;
      await write(n);
      committed.push(n);
    }
    process.kill(postmaster(), 'SIGKILL');
    const killedAt = performance.now();
    for (let done = false; !done; ) {
      n += 1;
      try {
        await write(n);
        committed.push(n);
        // The first write may still reach a session that has not noticed the death of its parent.
        done = performance.now() - killedAt > 500;
      } catch (error) {
        expect(unavailability(error)).not.toBeNull();
        expect(performance.now() - killedAt).toBeLessThan(WITHIN_MS);
        await sleep(25);
      }
    }
    // Users may be back before the supervision says so; a server killed in between is one restart, not two.
    for (let waited = 0; restarts() < round + 1 && waited < WITHIN_MS; waited += 50) await sleep(50);
    expect(restarts()).toBe(round + 1);
  }
  const { rows } = await inTenant(pool, ORG, (tx) =>
    tx.query<{ done: number }>({ name: 'test.read', text: 'select done from task where org_id = $1 order by done', values: [ORG] }),
  );
  const found = rows.map(({ done }) => done);
  expect(new Set(found).size).toBe(found.length);
  expect(committed.filter((each) => !found.includes(each))).toEqual([]);
});

it('one that somebody stopped stays stopped until somebody starts it', async () => {
  await stopEmbedded(opened.directory);
  await sleep(1_000);
  await expect(write(0)).rejects.toThrow();
  expect(said.at(-1)).toMatch(/somebody stopped it/);
  const other = await openDatabase({ COOLBACK_DATA_DIR: join(parent, 'data') });
  await write(0);
  await other.close();
  // The other did not stop it: this one, whose pool uses it, has joined it or will.
  await write(0);
});
