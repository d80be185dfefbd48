import pg from 'pg';
import type { Pool } from './pool.js';
import { scramVerifier } from './scram.js';

export const OWNER_ROLE = 'coolback_owner';
export const APP_ROLE = 'coolback_app';
export const QUEUE_ROLE = 'coolback_queue';

/** Advisory locks are per database; roles are per cluster. All provisioning therefore takes this lock in the database `postgres`. */
export const PROVISION_LOCK = 72707370;

export interface RoleSecrets {
  readonly owner?: string;
  readonly app?: string;
  readonly queue?: string;
}

async function withClient<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: url, application_name: 'coolback provision' });
  client.on('error', () => {});
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end().catch(() => {});
  }
}

export function withDatabase(url: string, database: string): string {
  const changed = new URL(url);
  changed.pathname = `/${encodeURIComponent(database)}`;
  return changed.toString();
}

export function withRole(url: string, role: string, password: string): string {
  const changed = new URL(url);
  changed.username = role;
  changed.password = encodeURIComponent(password);
  return changed.toString();
}

/** The database an address names; the maintenance database stands for none. */
export const databaseOf = (url: string): string => {
  const name = decodeURIComponent(new URL(url).pathname.slice(1));
  return name === '' || name === 'postgres' ? 'coolback' : name;
};

/** Limits of the application's sessions: a statement or a forgotten transaction must not hold a connection or a lock for long. */
const APP_SETTINGS: Readonly<Record<string, string>> = {
  statement_timeout: '15s',
  lock_timeout: '5s',
  idle_in_transaction_session_timeout: '30s',
  timezone: 'UTC',
};

async function ensureRole(client: pg.Client, role: string, password: string | undefined): Promise<void> {
  const { rowCount } = await client.query('select 1 from pg_roles where rolname = $1', [role]);
  if (!rowCount) await client.query(`create role ${role} login`);
  // BYPASSRLS and REPLICATION may only be touched, even to deny them, by who has them; a new role has neither.
  const { rows } = await client.query<{ unsafe: boolean }>(
    'select rolsuper or rolbypassrls or rolcreaterole or rolreplication as unsafe from pg_roles where rolname = $1',
    [role],
  );
  if (rows[0]?.unsafe) await client.query(`alter role ${role} nosuperuser nobypassrls nocreaterole noreplication`);
  await client.query(`alter role ${role} login nocreatedb`);
  if (password !== undefined) await client.query(`alter role ${role} password '${scramVerifier(password)}'`);
}

/** What a role without CREATEROLE can do: see that somebody else has provisioned. */
async function checkProvisioned(client: pg.Client, database: string): Promise<void> {
  const { rows } = await client.query<{ missing: string }>(
    `select wanted as missing from unnest($1::text[]) as wanted where not exists (select from pg_roles where rolname = wanted)
     union all select 'database ' || $2 where not exists (select from pg_database where datname = $2)`,
    [[OWNER_ROLE, APP_ROLE, QUEUE_ROLE], database],
  );
  if (rows.length > 0) {
    throw new Error(
      `missing: ${rows.map(({ missing }) => missing).join(', ')}. DATABASE_OWNER_URL names a role that may not create roles: give one that may, once`,
    );
  }
}

/**
 * Creates, or brings to the wanted state, the three roles, the database and the queue's schema. `url` belongs to a superuser, or to a role
 * with CREATEROLE and CREATEDB; its path names the database (`coolback` where it names none or `postgres`). Only given passwords are set.
 * Safe to repeat and to run from several processes at once. Returns the addresses of those roles whose passwords were given.
 */
export async function provisionRoles(
  url: string,
  secrets: RoleSecrets,
): Promise<{ database: string; ownerUrl: string | null; appUrl: string | null; queueUrl: string | null }> {
  const database = databaseOf(url);
  await withClient(withDatabase(url, 'postgres'), async (client) => {
    await client.query(`select pg_advisory_lock(${PROVISION_LOCK})`);
    const { rows } = await client.query<{ superuser: boolean; creator: boolean }>(
      'select rolsuper as superuser, rolcreaterole as creator from pg_roles where rolname = current_user',
    );
    if (!rows[0]?.superuser && !rows[0]?.creator) return await checkProvisioned(client, database);
    await ensureRole(client, OWNER_ROLE, secrets.owner);
    await ensureRole(client, APP_ROLE, secrets.app);
    await ensureRole(client, QUEUE_ROLE, secrets.queue);
    // The definer function `enqueue` belongs to the owner and calls the queue's add_job.
    await client.query(`grant ${QUEUE_ROLE} to ${OWNER_ROLE}`);
    for (const [setting, value] of Object.entries(APP_SETTINGS)) await client.query(`alter role ${APP_ROLE} set ${setting} = '${value}'`);
    // Only a member of a role may give objects to it; a superuser always may.
    if (!rows[0]?.superuser) await client.query(`grant ${OWNER_ROLE}, ${QUEUE_ROLE} to current_user`);
    const { rowCount } = await client.query('select 1 from pg_database where datname = $1', [database]);
    if (!rowCount)
      await client.query(`create database ${client.escapeIdentifier(database)} owner ${OWNER_ROLE} template template0 encoding 'UTF8'`);
    await withClient(withDatabase(url, database), async (inside) => await provisionDatabase(inside, database));
  });
  const address = (role: string, password: string | undefined) =>
    password === undefined ? null : withDatabase(withRole(url, role, password), database);
  return {
    database,
    ownerUrl: address(OWNER_ROLE, secrets.owner),
    appUrl: address(APP_ROLE, secrets.app),
    queueUrl: address(QUEUE_ROLE, secrets.queue),
  };
}

async function provisionDatabase(client: pg.Client, database: string): Promise<void> {
  const name = client.escapeIdentifier(database);
  await client.query(`revoke all on database ${name} from public`);
  await client.query(`grant connect, create on database ${name} to ${OWNER_ROLE}`);
  await client.query(`grant connect on database ${name} to ${APP_ROLE}, ${QUEUE_ROLE}`);
  await client.query('revoke all on schema public from public');
  await client.query(`grant usage, create on schema public to ${OWNER_ROLE}`);
  await client.query(`grant usage on schema public to ${APP_ROLE}`);
  await client.query(`create schema if not exists graphile_worker authorization ${QUEUE_ROLE}`);
  // The queue's own bootstrap says CREATE SCHEMA IF NOT EXISTS, which wants CREATE on the database even where the schema exists;
  // it is skipped where its table of migrations is there. Columns as in graphile-worker 0.17.
  await client.query(`create table if not exists graphile_worker.migrations (
    id int primary key, ts timestamptz default now() not null, breaking boolean not null default false)`);
  await client.query(`alter table graphile_worker.migrations owner to ${QUEUE_ROLE}`);
}

/** Installs or upgrades the job queue's tables and functions, as the role that owns them whoever's address is given. */
export async function migrateQueue(url: string): Promise<void> {
  const { Logger, runMigrations } = await import('graphile-worker');
  const asQueue = new URL(url);
  asQueue.searchParams.set('options', `-c role=${QUEUE_ROLE}`);
  await runMigrations({ connectionString: asQueue.toString(), logger: new Logger(() => () => {}) });
}

/** Takes on the owner's role where the connection belongs to an administrator, so that everything created has the right owner. */
export async function actAsOwner(client: pg.Client): Promise<void> {
  const { rows } = await client.query<{ user: string }>('select current_user as user');
  if (rows[0]?.user !== OWNER_ROLE) await client.query(`set role ${OWNER_ROLE}`);
}

/** The role the service was given could see across organisations; it must not start. */
export class UnsafeRole extends Error {
  override readonly name = 'UnsafeRole';
  constructor(
    readonly role: string,
    readonly reasons: readonly string[],
  ) {
    super(`the database role ${role} is not safe to serve with: ${reasons.join('; ')}. DATABASE_URL must name ${APP_ROLE}`);
  }
}

/** Refuses a role that row-level security does not bind: superuser, BYPASSRLS, (member of) the owner of a table, or a table not forced. */
export async function assertSafeRole(pool: Pool): Promise<void> {
  const { rows } = await pool.query<{ role: string; superuser: boolean; bypass: boolean; owned: string[]; open: string[] }>(
    `select current_user as role, r.rolsuper as superuser, r.rolbypassrls as bypass,
            array(select c.relname::text from pg_class c
                   where c.relkind in ('r', 'p') and c.relnamespace = 'public'::regnamespace and pg_has_role(c.relowner, 'USAGE')) as owned,
            array(select c.relname::text from pg_class c join pg_attribute a on a.attrelid = c.oid and a.attname = 'org_id'
                   where c.relkind in ('r', 'p') and c.relnamespace = 'public'::regnamespace and not row_security_active(c.oid)) as open
       from pg_roles r where r.rolname = current_user`,
  );
  const [{ role, superuser, bypass, owned, open }] = rows as [(typeof rows)[number]];
  const reasons = [
    ...(superuser ? ['it is a superuser'] : []),
    ...(bypass ? ['it has BYPASSRLS'] : []),
    ...(owned.length > 0 ? [`it owns ${owned.slice(0, 3).join(', ')}${owned.length > 3 ? ` and ${owned.length - 3} more` : ''}`] : []),
    ...(open.length > 0
      ? [`row-level security is not active for it on ${open.slice(0, 3).join(', ')}${open.length > 3 ? ' and more' : ''}`]
      : []),
  ];
  if (reasons.length > 0) throw new UnsafeRole(role, reasons);
}
