import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import {
  assertSafeRole,
  createPool,
  type EmbeddedServer,
  migrate,
  migrateQueue,
  provisionRoles,
  startEmbedded,
  stopEmbedded,
  UnsafeRole,
} from '#libs/database/index.js';
import { asAdministrator, inDatabase } from '../support/database.js';

// A server of its own: roles belong to a whole server, and these tests change them.
let directory: string;
let server: EmbeddedServer;
beforeAll(async () => {
  directory = mkdtempSync(join(tmpdir(), 'coolback-roles-'));
  chmodSync(directory, 0o755);
  server = await startEmbedded({ directory, settings: { fsync: 'off', full_page_writes: 'off' } });
});
afterAll(async () => {
  await stopEmbedded(directory, { mode: 'immediate' });
  rmSync(directory, { recursive: true, force: true });
});

const SECRETS = { owner: 'owner-secret', app: 'app-secret', queue: 'queue-secret' };
const run = async (url: string, ...statements: string[]): Promise<void> =>
  await asAdministrator(url, async (client) => {
    for (const statement of statements) await client.query(statement);
  });
const ask = async (url: string, text: string): Promise<unknown[][]> =>
  await asAdministrator(url, async (client) => (await client.query({ text, rowMode: 'array' })).rows);
const asRole = (url: string, role: string, password: string): string => {
  const changed = new URL(url);
  changed.username = role;
  changed.password = password;
  return changed.toString();
};

describe('provisioning', () => {
  it('gives one service what it needs, from many processes at once, and again', async () => {
    const target = inDatabase(server.superUrl, 'shared');
    const urls = await Promise.all(Array.from({ length: 6 }, () => provisionRoles(target, SECRETS)));
    expect(new Set(urls.map((each) => JSON.stringify(each))).size).toBe(1);
    const { ownerUrl, appUrl, queueUrl, database } = await provisionRoles(target, SECRETS);
    expect(database).toBe('shared');
    expect(await migrate({ ownerUrl: ownerUrl! })).not.toEqual([]);
    await migrateQueue(queueUrl!);
    await migrateQueue(server.superUrl.replace(/\/postgres$/, '/shared'));
    expect(await ask(appUrl!, 'select current_user::text, count(*)::int from shop')).toEqual([['coolback_app', 0]]);
    // Limits of a session of the service: none of them is PostgreSQL's default, which is "for ever".
    expect(
      await ask(
        appUrl!,
        `select bool_and(setting::int > 0) from pg_settings
          where name in ('statement_timeout', 'lock_timeout', 'idle_in_transaction_session_timeout')`,
      ),
    ).toEqual([[true]]);
    await expect(run(appUrl!, 'create table mine (n int)')).rejects.toMatchObject({ code: '42501' });
    await expect(run(appUrl!, 'create schema mine')).rejects.toMatchObject({ code: '42501' });
    await expect(run(appUrl!, 'set role coolback_owner')).rejects.toMatchObject({ code: '42501' });
  });

  it('works for an administrator who may only create roles and databases', async () => {
    await run(server.superUrl, `create role operator login createrole createdb password 'operator-secret'`);
    // Roles somebody else made cannot be given to an operator who is not their administrator; here there are none yet.
    await run(server.superUrl, 'drop database shared with (force)', 'drop database coolback with (force)');
    await run(server.superUrl, 'drop role coolback_app, coolback_owner, coolback_queue');
    const target = inDatabase(asRole(server.superUrl, 'operator', 'operator-secret'), 'managed');
    const { ownerUrl, appUrl, queueUrl } = await provisionRoles(target, SECRETS);
    await migrate({ ownerUrl: ownerUrl! });
    await migrateQueue(queueUrl!);
    await provisionRoles(target, SECRETS);
    expect(await migrate({ ownerUrl: target })).toEqual([]);
    const pool = createPool(appUrl!);
    await assertSafeRole(pool);
    await pool.end();
  });

  it('takes every unsafe right back', async () => {
    await run(server.superUrl, 'alter role coolback_app bypassrls createdb createrole');
    const { appUrl } = await provisionRoles(inDatabase(server.superUrl, 'managed'), SECRETS);
    expect(await ask(appUrl!, 'select rolbypassrls, rolcreatedb, rolcreaterole from pg_roles where rolname = current_user')).toEqual([
      [false, false, false],
    ]);
  });

  it('says what is missing when it may not create it', async () => {
    await run(server.superUrl, `create role nobody_much login password 'x'`);
    const target = inDatabase(asRole(server.superUrl, 'nobody_much', 'x'), 'elsewhere');
    await expect(provisionRoles(target, {})).rejects.toThrow(/missing: database elsewhere.*DATABASE_OWNER_URL/);
  });

  it('sends no password: what the server could log does not contain it', async () => {
    await run(server.superUrl, `alter system set log_statement = 'all'`, 'select pg_reload_conf()');
    await provisionRoles(inDatabase(server.superUrl, 'managed'), { ...SECRETS, app: 'never-in-a-log' });
    await run(server.superUrl, 'alter system reset log_statement', 'select pg_reload_conf()');
    const [[log]] = (await ask(server.superUrl, `select string_agg(pg_read_file('log/' || name), '') from pg_ls_logdir()`)) as [[string]];
    expect(log).toContain('alter role coolback_app password');
    expect(log).not.toContain('never-in-a-log');
  });
});

describe('a role the service may not start with', () => {
  const managed = (role: string, password: string) => inDatabase(asRole(server.superUrl, role, password), 'managed');
  const refusal = async (url: string): Promise<UnsafeRole | null> => {
    const pool = createPool(url);
    try {
      return await assertSafeRole(pool).then(
        () => null,
        (error: unknown) => error as UnsafeRole,
      );
    } finally {
      await pool.end();
    }
  };
  beforeAll(async () => {
    const { ownerUrl } = await provisionRoles(inDatabase(server.superUrl, 'managed'), SECRETS);
    await migrate({ ownerUrl: ownerUrl! });
  });

  it('is not the one made for it', async () => {
    expect(await refusal(managed('coolback_app', 'app-secret'))).toBeNull();
  });

  it.each([
    ['a superuser', () => inDatabase(server.superUrl, 'managed'), [], 'superuser'],
    ['the owner', () => managed('coolback_owner', 'owner-secret'), [], 'owns'],
    ['a member of the owner', () => managed('sneaky', 'x'), [`create role sneaky login password 'x' in role coolback_owner`], 'owns'],
    [
      'one that bypasses',
      () => managed('sneaky', 'x'),
      [`create role sneaky login bypassrls password 'x' in role coolback_app`],
      'BYPASSRLS',
    ],
    [
      'any, when a tenant table is open',
      () => managed('coolback_app', 'app-secret'),
      ['alter table shop disable row level security'],
      'shop',
    ],
  ])('%s', async (_name, url, statements, reason) => {
    const admin = inDatabase(server.superUrl, 'managed');
    await run(admin, ...statements);
    try {
      const error = await refusal(url());
      expect(error?.name).toBe('UnsafeRole');
      expect(error?.message).toContain(reason);
      expect(error?.message).toContain('DATABASE_URL must name coolback_app');
    } finally {
      await run(admin, 'drop role if exists sneaky', 'alter table shop enable row level security');
    }
  });
});
