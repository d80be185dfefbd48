import { randomBytes } from 'node:crypto';
import { basename } from 'node:path';
import pg from 'pg';
import { createPool, migrate, migrateQueue, type Pool, type PoolOptions, provisionRoles } from '#libs/database/index.js';
import { rolePassword, runFolder, type TestServer, testServer } from './server.js';

export interface TestDatabase {
  readonly name: string;
  readonly server: TestServer['kind'];
  /** Administrator, in this database. */
  readonly superUrl: string;
  readonly ownerUrl: string;
  readonly appUrl: string;
  readonly queueUrl: string;
  /** A pool as the application role. */
  readonly pool: Pool;
  /** Ends the pool and drops the database. */
  close(): Promise<void>;
}

export interface TestDatabaseOptions {
  /** False for a database with roles and grants but without tables. */
  readonly migrated?: boolean;
  readonly pool?: PoolOptions;
}

const at = (url: string, database: string, role?: string, password?: string): string => {
  const changed = new URL(url);
  changed.pathname = `/${database}`;
  if (role !== undefined) changed.username = role;
  if (password !== undefined) changed.password = password;
  return changed.toString();
};

/** A database of its own for one test file: a clone of the migrated template, which the first who asks builds. */
export async function testDatabase(options: TestDatabaseOptions = {}): Promise<TestDatabase> {
  const { superUrl, kind } = await testServer();
  // Names tell runs apart: several may share a server.
  const run = basename(runFolder()).replace(/\W/g, '_').toLowerCase();
  const name = `${run}_${randomBytes(4).toString('hex')}`;
  if (options.migrated !== false) await cloneTemplate(superUrl, `${run}_template`, name);
  await provisionRoles(at(superUrl, name), {});
  const urlOf = (role: string) => at(superUrl, name, role, rolePassword(superUrl, role));
  if (options.migrated === false) await provisionRoles(at(superUrl, name), passwordsFor(superUrl));
  const pool = createPool(urlOf('coolback_app'), { max: 5, ...options.pool });
  return {
    name,
    server: kind,
    superUrl: at(superUrl, name),
    ownerUrl: urlOf('coolback_owner'),
    appUrl: urlOf('coolback_app'),
    queueUrl: urlOf('coolback_queue'),
    pool,
    close: async () => {
      await pool.end();
      await withAdmin(superUrl, (admin) => admin.query(`drop database if exists ${name} with (force)`));
    },
  };
}

const passwordsFor = (superUrl: string) => ({
  owner: rolePassword(superUrl, 'coolback_owner'),
  app: rolePassword(superUrl, 'coolback_app'),
  queue: rolePassword(superUrl, 'coolback_queue'),
});

async function withAdmin<T>(superUrl: string, work: (admin: pg.Client) => Promise<T>): Promise<T> {
  const admin = new pg.Client({ connectionString: at(superUrl, 'postgres') });
  await admin.connect();
  try {
    return await work(admin);
  } finally {
    await admin.end();
  }
}

const TEMPLATE_LOCK = 72707371;

async function cloneTemplate(superUrl: string, template: string, name: string): Promise<void> {
  await withAdmin(superUrl, async (admin) => {
    const exists = async () => (await admin.query('select from pg_database where datname = $1', [template])).rowCount === 1;
    if (!(await exists())) {
      await admin.query('select pg_advisory_lock($1)', [TEMPLATE_LOCK]);
      if (!(await exists())) await buildTemplate(admin, superUrl, template);
      await admin.query('select pg_advisory_unlock($1)', [TEMPLATE_LOCK]);
    }
    await admin.query(`create database ${name} template ${template} owner coolback_owner`);
  });
}

/** Built under another name and renamed when complete, so that nobody clones half a template. */
async function buildTemplate(admin: pg.Client, superUrl: string, template: string): Promise<void> {
  const draft = `${template}_draft`;
  await admin.query(`drop database if exists ${draft} with (force)`);
  const { ownerUrl, queueUrl } = await provisionRoles(at(superUrl, draft), passwordsFor(superUrl));
  await migrate({ ownerUrl: ownerUrl! });
  await migrateQueue(queueUrl!);
  // Sessions just closed may still be leaving.
  for (let attempt = 0; ; attempt += 1) {
    try {
      await admin.query(`alter database ${draft} rename to ${template}`);
      return;
    } catch (error) {
      if ((error as { code?: string }).code !== '55006' || attempt === 100) throw error;
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  }
}
