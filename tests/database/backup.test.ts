import { chmodSync, closeSync, existsSync, mkdtempSync, openSync, readdirSync, readFileSync, rmSync, statSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import pg from 'pg';
import {
  type Backup,
  backup,
  type EmbeddedServer,
  migrate,
  restore,
  serverSecret,
  startEmbedded,
  stopEmbedded,
} from '#libs/database/index.js';
import { asAdministrator } from '../support/database.js';

let parent: string;
let server: EmbeddedServer;
const folder = (name: string): string => join(parent, name);
const ask = async (url: string, text: string): Promise<unknown[][]> =>
  await asAdministrator(url, async (client) => (await client.query({ text, rowMode: 'array' })).rows);
const filesUnder = (place: string): string[] =>
  readdirSync(place, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name));

beforeAll(async () => {
  parent = mkdtempSync(join(tmpdir(), 'coolback backup '));
  chmodSync(parent, 0o755);
  server = await startEmbedded({ directory: folder('home') });
  await migrate({ ownerUrl: server.ownerUrl });
  serverSecret({}, folder('home'));
  await ask(server.ownerUrl, 'create table written (n int primary key, filler text not null)');
});
afterAll(async () => {
  for (const name of readdirSync(parent)) {
    if (existsSync(join(parent, name, 'cluster', 'postmaster.pid'))) await stopEmbedded(join(parent, name), { mode: 'immediate' });
  }
  rmSync(parent, { recursive: true, force: true });
});

/** Commits 1, 2, 3 … one transaction each until told to stop; knows at any time what is committed. */
async function writer(): Promise<{ committed: () => number; stop: () => Promise<void> }> {
  const client = new pg.Client({ connectionString: server.ownerUrl });
  await client.connect();
  let committed = 0;
  let going = true;
  const loop = (async () => {
    while (going) {
      await client.query('insert into written values ($1::int, repeat(md5($1::int::text), 60))', [committed + 1]);
      committed += 1;
    }
  })();
  return {
    committed: () => committed,
    stop: async () => {
      going = false;
      await loop;
      await client.end();
    },
  };
}

describe('a backup', () => {
  let report: Backup;
  let before: number;
  let after: number;

  it('is taken while rows are being written, and proves itself', async () => {
    const { committed, stop } = await writer();
    await sleep(300);
    before = committed();
    report = await backup(folder('home'), folder('copy'));
    after = committed();
    await stop();
    expect(before).toBeGreaterThan(0);
    expect(after).toBeGreaterThan(before);
    expect(report.verifiedRows['written']).toBeGreaterThanOrEqual(before);
    expect(report.verifiedRows['written']).toBeLessThanOrEqual(after);
    expect(Object.keys(report.verifiedRows)).toContain('shop_case');
    expect(JSON.parse(readFileSync(join(folder('copy'), 'backup.json'), 'utf8'))).toEqual(report);
  });

  it('can be read by this account only, and leaves nothing else behind', () => {
    expect(statSync(folder('copy')).mode & 0o777).toBe(0o700);
    for (const file of filesUnder(folder('copy'))) expect([file, statSync(file).mode & 0o077]).toEqual([file, 0]);
    expect(readdirSync(parent).sort()).toEqual(['copy', 'home']);
  });

  it('restores to a prefix of the commits, every row whole, and may be restored twice', async () => {
    for (const home of ['second', 'third']) {
      expect(await restore(folder('copy'), folder(home))).toEqual(report.verifiedRows);
      const restored = await startEmbedded({ directory: folder(home) });
      expect(
        await ask(
          restored.ownerUrl,
          'select count(*)::int, max(n), bool_and(filler = repeat(md5(n::text), 60)), pg_is_in_recovery() from written',
        ),
      ).toEqual([[report.verifiedRows['written'], report.verifiedRows['written'], true, false]]);
      expect(await ask(restored.appUrl, 'select count(*)::int from shop_case')).toEqual([[0]]);
      await ask(restored.ownerUrl, 'insert into written values (-1, 1)');
      expect(serverSecret({}, folder(home)).equals(serverSecret({}, folder('home')))).toBe(true);
      await stopEmbedded(folder(home));
    }
  });

  it('goes into no folder that exists, and comes back into none that holds a database', async () => {
    await expect(backup(folder('home'), folder('copy'))).rejects.toThrow(/exists/);
    await expect(restore(folder('copy'), folder('second'))).rejects.toThrow(/holds a database/);
    await expect(restore(folder('home'), folder('fourth'))).rejects.toThrow(/backup\.json/);
  });

  it('with one flipped byte in a table is refused, and no database is left', async () => {
    const [[path]] = (await ask(server.ownerUrl, `select pg_relation_filepath('written')`)) as [[string]];
    const file = join(folder('copy'), 'cluster', path);
    const descriptor = openSync(file, 'r+');
    const original = readFileSync(file).subarray(4000, 4001);
    writeSync(descriptor, Buffer.from([original[0]! ^ 0xff]), 0, 1, 4000);
    await expect(restore(folder('copy'), folder('fifth'))).rejects.toThrow(/invalid page/);
    expect(existsSync(join(folder('fifth'), 'cluster'))).toBe(false);
    writeSync(descriptor, original, 0, 1, 4000);
    closeSync(descriptor);
    expect(await restore(folder('copy'), folder('fifth'))).toEqual(report.verifiedRows);
  });

  it('is not taken of a server that does not run', async () => {
    await stopEmbedded(folder('home'));
    await expect(backup(folder('home'), folder('another'))).rejects.toThrow(/does not run/);
    expect(existsSync(folder('another'))).toBe(false);
  });
});
