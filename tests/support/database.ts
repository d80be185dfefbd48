import { createHash, randomBytes } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import pg from 'pg';
import { withStartLock } from '#libs/database/embedded/start-lock.js';
import {
  createPool,
  migrate,
  migrateQueue,
  migrationsDirectory,
  type Pool,
  type PoolOptions,
  provisionRoles,
} from '#libs/database/index.js';
import { rolePasswords, runFolder, type TestServer, testServer } from './server.js';

export interface TestDatabase {
  readonly name: string;
  readonly appUrl: string;
  readonly ownerUrl: string;
  readonly queueUrl: string;
  /** Administrator of the server, in this database. For planting violations; tests of behaviour use the application role. */
  readonly superUrl: string;
  /** As the application role. */
  readonly pool: Pool;
  close(): Promise<void>;
}

/** A database of the calling test file alone: a clone of one migrated template. Close it when done. */
export async function testDatabase(options: PoolOptions = {}): Promise<TestDatabase> {
  const { server, template } = await withStartLock(join(runFolder(), 'lock'), async () => {
    const server = await testServer();
    return { server, template: await templateOn(server) };
  });
  const name = `coolback_test_${server.run}_${randomBytes(5).toString('hex')}`;
  // A database being cloned admits no other clone of it.
  await withStartLock(join(runFolder(), 'clone.lock'), () =>
    asAdministrator(server.superUrl, (client) => client.query(`create database ${name} template ${template} owner coolback_owner`)),
  );
  const superUrl = inDatabase(server.superUrl, name);
  const { appUrl, ownerUrl, queueUrl } = await provisionRoles(superUrl, rolePasswords(server.superUrl));
  const pool = createPool(appUrl!, { max: 5, ...options });
  const close = async () => {
    if (!pool.ended) await pool.end();
    await asAdministrator(server.superUrl, (client) => client.query(`drop database if exists ${name} with (force)`));
  };
  return { name, appUrl: appUrl!, ownerUrl: ownerUrl!, queueUrl: queueUrl!, superUrl, pool, close };
}

export async function asAdministrator<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}

export function inDatabase(url: string, name: string): string {
  const changed = new URL(url);
  changed.pathname = `/${name}`;
  return changed.toString();
}

/** The migrated template of these very migrations, made when the server has none. It gets its name when complete. */
async function templateOn(server: TestServer): Promise<string> {
  const digest = createHash('sha256');
  for (const entry of readdirSync(migrationsDirectory(), { withFileTypes: true })) {
    if (entry.isDirectory()) digest.update(entry.name).update(readFileSync(join(migrationsDirectory(), entry.name, 'migration.sql')));
  }
  const name = `coolback_template_${digest.digest('hex').slice(0, 16)}`;
  return await asAdministrator(server.superUrl, async (client) => {
    const { rowCount } = await client.query('select from pg_database where datname = $1', [name]);
    if (rowCount) return name;
    const draft = `coolback_test_${server.run}_template`;
    await client.query(`drop database if exists ${draft} with (force)`);
    const { ownerUrl, queueUrl } = await provisionRoles(inDatabase(server.superUrl, draft), rolePasswords(server.superUrl));
    await migrate({ ownerUrl: ownerUrl! });
    await migrateQueue(queueUrl!);
    await client.query(`alter database ${draft} rename to ${name}`);
    return name;
  });
}
