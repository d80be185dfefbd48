import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from '@jest/globals';
import type pg from 'pg';
import { MigrationBlocked, migrate, pendingMigrations } from '#libs/database/index.js';
import { removeCompiled, startChild } from '../support/child.js';
import { asAdministrator, type TestDatabase, testDatabase } from '../support/database.js';

let database: TestDatabase;
let directory: string;

beforeAll(async () => {
  database = await testDatabase();
  // The clone is migrated already; these tests start from the record of nothing, with migrations of their own.
  await asAdministrator(database.superUrl, (client) => client.query('delete from _prisma_migrations'));
});
afterAll(async () => {
  removeCompiled();
  await database.close();
});
beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), 'coolback-migrations-'));
});
afterEach(async () => {
  rmSync(directory, { recursive: true, force: true });
  await asAdministrator(database.superUrl, async (client) => {
    await client.query('drop table if exists planted_a, planted_b');
    await client.query('delete from _prisma_migrations');
  });
});

function write(name: string, script: string): void {
  mkdirSync(join(directory, name), { recursive: true });
  writeFileSync(join(directory, name, 'migration.sql'), script);
}
const run = () => migrate({ ownerUrl: database.ownerUrl, directory });
const ask = async <Row extends pg.QueryResultRow>(text: string): Promise<Row[]> =>
  await asAdministrator(database.superUrl, async (client) => (await client.query<Row>(text)).rows);
const exists = async (table: string): Promise<boolean> =>
  (await ask<{ is: boolean }>(`select to_regclass('${table}') is not null as is`))[0]!.is;

describe('migrations at run time', () => {
  it('apply what is pending, in order, once, as the owner', async () => {
    write('2_b', 'alter table planted_a add column b int;');
    write('1_a', 'create table planted_a (a int);');
    expect(await pendingMigrations(database.appUrl, directory)).toEqual(['1_a', '2_b']);
    expect(await run()).toEqual(['1_a', '2_b']);
    expect(await run()).toEqual([]);
    expect(await pendingMigrations(database.appUrl, directory)).toEqual([]);
    expect(await ask(`select tableowner from pg_tables where tablename = 'planted_a'`)).toEqual([{ tableowner: 'coolback_owner' }]);
  });

  it('give everything to the owner when an administrator runs them', async () => {
    write('1_a', 'create table planted_a (a int);');
    await migrate({ ownerUrl: database.superUrl, directory });
    expect(await ask(`select tableowner from pg_tables where tablename = 'planted_a'`)).toEqual([{ tableowner: 'coolback_owner' }]);
  });

  it('send one statement a query, whatever is quoted in it', async () => {
    write(
      '1_a',
      `create table planted_a (a text default ';''; --'); /* ; /* ; */ */ insert into planted_a select $x$;$$;$x$; create index on planted_a (a)`,
    );
    await run();
    expect(await ask('select a from planted_a')).toEqual([{ a: ';$$;' }]);
  });

  it('leave nothing of one that fails, say which statement, and go on when it is mended', async () => {
    write('1_a', 'create table planted_a (a int);\n-- the broken one\nalter table nowhere add column b int;');
    const failed = run();
    await expect(failed).rejects.toThrow(MigrationBlocked);
    await expect(failed).rejects.toThrow(/alter table nowhere.*does not exist/);
    expect(await exists('planted_a')).toBe(false);
    write('1_a', 'create table planted_a (a int);');
    expect(await run()).toEqual(['1_a']);
  });

  it('refuse a file that was changed after it was applied', async () => {
    write('1_a', 'create table planted_a (a int);');
    await run();
    write('1_a', 'create table planted_a (a int, b int);');
    await expect(run()).rejects.toThrow(/checksum differs/);
  });

  it('are done once by several processes that come at once', async () => {
    write('1_a', 'create table planted_a (a int);');
    const applied = await Promise.all([run(), run(), run(), run()]);
    expect(applied.flat()).toEqual(['1_a']);
  });

  it('take up a stepwise one at the statement it got to', async () => {
    write('1_a', 'create table planted_a (a int);');
    await run();
    const stepwise = '-- stepwise: concurrently needs it\ncreate index concurrently planted_1 on planted_a (a);\n';
    write('2_b', `${stepwise}create index concurrently planted_2 on nowhere (a);`);
    await expect(run()).rejects.toThrow(/statement 2 of 2 failed, those before it stand/);
    expect(await exists('planted_1')).toBe(true);
    // The file may not change under its record, so what it needs is put in its way.
    await asAdministrator(database.superUrl, (client) =>
      client.query('set role coolback_owner').then(() => client.query('create table nowhere (a int)')),
    );
    try {
      expect(await run()).toEqual(['2_b']);
      expect(await exists('planted_2')).toBe(true);
    } finally {
      await asAdministrator(database.superUrl, (client) => client.query('drop table nowhere'));
    }
  });

  it('point at one that another tool left unfinished', async () => {
    write('1_a', 'create table planted_a (a int);');
    await run();
    await asAdministrator(database.superUrl, (client) => client.query(`update _prisma_migrations set finished_at = null, logs = 'broke'`));
    await expect(run()).rejects.toThrow(/not finished \(broke\).*migrate resolve/);
  });

  it('survive the death of their process in the middle', async () => {
    write('1_a', 'create table planted_a (a int);\nselect pg_sleep(30);\ncreate table planted_b (b int);');
    const child = startChild('await database.migrate({ ownerUrl: process.env.URL, directory: process.env.DIRECTORY });', {
      URL: database.ownerUrl,
      DIRECTORY: directory,
    });
    const asleep = `select pid from pg_stat_activity where application_name = 'coolback migrate' and query like '%pg_sleep%' and state = 'active'`;
    while ((await ask(asleep)).length === 0) await sleep(50);
    child.process.kill('SIGKILL');
    await child.ended;
    expect(await exists('planted_a')).toBe(false);
    write('1_a', 'create table planted_a (a int);\ncreate table planted_b (b int);');
    const begun = Date.now();
    expect(await run()).toEqual(['1_a']);
    expect(await exists('planted_b')).toBe(true);
    // The server looks after its client now and then; without that the lock would be held until the dead one's statement ends.
    expect(Date.now() - begun).toBeLessThan(15_000);
  });
});
