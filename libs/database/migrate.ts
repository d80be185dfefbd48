import { createHash, randomUUID } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import pg from 'pg';
import { APP_ROLE, actAsOwner } from './roles.js';
import { splitStatements } from './statements.js';

/** The table, the checksum and the lock are those of `prisma migrate deploy`, so that either may follow the other. */
const MIGRATIONS_TABLE = `CREATE TABLE IF NOT EXISTS _prisma_migrations (
    id                      VARCHAR(36) PRIMARY KEY NOT NULL,
    checksum                VARCHAR(64) NOT NULL,
    finished_at             TIMESTAMPTZ,
    migration_name          VARCHAR(255) NOT NULL,
    logs                    TEXT,
    rolled_back_at          TIMESTAMPTZ,
    started_at              TIMESTAMPTZ NOT NULL DEFAULT now(),
    applied_steps_count     INTEGER NOT NULL DEFAULT 0
)`;
const ADVISORY_LOCK = 72707369;

/** First line of a migration whose statements cannot run in a transaction, such as CREATE INDEX CONCURRENTLY. */
const STEPWISE = /^--\s*stepwise\b/;

export interface MigrateOptions {
  readonly ownerUrl: string;
  readonly directory?: string;
  readonly log?: (line: string) => void;
}

/** The schema is in a state that only a person can judge; the message says which and what to do. */
export class MigrationBlocked extends Error {
  override readonly name = 'MigrationBlocked';
  constructor(
    readonly migration: string,
    message: string,
    options?: { cause?: unknown },
  ) {
    super(`migration ${migration}: ${message}`, options);
  }
}

interface Migration {
  readonly name: string;
  readonly checksum: string;
  readonly statements: readonly string[];
  readonly stepwise: boolean;
}
interface Recorded {
  readonly id: string;
  readonly migration_name: string;
  readonly checksum: string;
  readonly finished_at: Date | null;
  readonly applied_steps_count: number;
  readonly logs: string | null;
}

/** The migrations that came with this program, whether it runs from source or from its build. */
export function migrationsDirectory(): string {
  for (let folder = dirname(fileURLToPath(import.meta.url)); ; folder = dirname(folder)) {
    const candidate = join(folder, 'prisma', 'migrations');
    if (existsSync(candidate)) return candidate;
    if (dirname(folder) === folder) throw new Error('prisma/migrations is not part of this installation');
  }
}

function readMigrations(directory: string): Migration[] {
  return readdirSync(directory, { withFileTypes: true })
    .filter((entry) => entry.isDirectory() && existsSync(join(directory, entry.name, 'migration.sql')))
    .map(({ name }) => {
      const script = readFileSync(join(directory, name, 'migration.sql'), 'utf8');
      return {
        name,
        checksum: createHash('sha256').update(script).digest('hex'),
        statements: splitStatements(script),
        stepwise: STEPWISE.test(script),
      };
    })
    .sort((a, b) => (a.name < b.name ? -1 : 1));
}

async function readRecorded(client: Pick<pg.ClientBase, 'query'>): Promise<Map<string, Recorded>> {
  const { rows } = await client.query<Recorded>(
    `select id, migration_name, checksum, finished_at, applied_steps_count, logs
       from _prisma_migrations where rolled_back_at is null order by started_at`,
  );
  return new Map(rows.map((row) => [row.migration_name, row]));
}

async function connected<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: url, application_name: 'coolback migrate' });
  client.on('error', () => {}); // a lost connection rejects the running query; unheard here it would end the process
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end().catch(() => {});
  }
}

/** Names of the migrations the database has not finished, in order. Readable by any role that may read the migrations table. */
export async function pendingMigrations(source: string | pg.Pool, directory = migrationsDirectory()): Promise<string[]> {
  const pending = async (client: Pick<pg.ClientBase, 'query'>) => {
    const { rows } = await client.query<{ present: boolean }>(`select to_regclass('_prisma_migrations') is not null as present`);
    const recorded = rows[0]?.present ? await readRecorded(client) : new Map<string, Recorded>();
    return readMigrations(directory)
      .map(({ name }) => name)
      .filter((name) => !recorded.get(name)?.finished_at);
  };
  return typeof source === 'string' ? await connected(source, pending) : await pending(source);
}

/**
 * Applies what is pending, in order, as the owner of the schema. Several processes may call it at once: one works, the others wait.
 * A migration is one transaction together with its record, so a process killed inside leaves nothing behind and the next run starts it
 * again. A stepwise one is recorded after each statement and taken up there; the one statement that may or may not have happened is
 * tried again, and if it then fails the error names it.
 */
export async function migrate({ ownerUrl, directory = migrationsDirectory(), log = () => {} }: MigrateOptions): Promise<string[]> {
  const migrations = readMigrations(directory);
  return await connected(ownerUrl, async (client) => {
    await actAsOwner(client);
    // So that the lock of a killed process is free soon and not when its statement ends. Not every system can look (then: unset).
    await client.query(`set client_connection_check_interval = '2s'`).catch(() => {});
    await client.query(`select pg_advisory_lock(${ADVISORY_LOCK})`);
    await client.query(MIGRATIONS_TABLE);
    await client.query(`grant select on _prisma_migrations to ${APP_ROLE}`); // the service asks whether it fits the schema
    const recorded = await readRecorded(client);
    const known = new Set(migrations.map(({ name }) => name));
    for (const name of recorded.keys()) if (!known.has(name)) log(`the database has ${name}, which this release does not know`);
    const applied: string[] = [];
    for (const migration of migrations) {
      const record = recorded.get(migration.name);
      if (record !== undefined && record.checksum !== migration.checksum) {
        throw new MigrationBlocked(
          migration.name,
          'the file is not the one that was applied (its checksum differs): restore the file, and put the change into a new migration',
        );
      }
      if (record?.finished_at) continue;
      if (record !== undefined && !migration.stepwise) {
        throw new MigrationBlocked(
          migration.name,
          `it was started by another tool and not finished${record.logs ? ` (${record.logs})` : ''}: see what it left, then mark it with ` +
            '`node prisma/cli.mjs migrate resolve --applied` or `--rolled-back`',
        );
      }
      const started = Date.now();
      if (migration.stepwise) await applyStepwise(client, migration, record);
      else await applyWhole(client, migration);
      log(`applied ${migration.name} in ${Date.now() - started} ms`);
      applied.push(migration.name);
    }
    return applied;
  });
}

const shortened = (statement: string): string =>
  statement
    .replace(/^(?:--.*\n|\s)+/, '')
    .replace(/\s+/g, ' ')
    .slice(0, 120);

async function applyWhole(client: pg.Client, migration: Migration): Promise<void> {
  await client.query('BEGIN');
  try {
    await client.query(
      `insert into _prisma_migrations (id, checksum, migration_name, started_at, finished_at, applied_steps_count)
       values ($1, $2, $3, clock_timestamp(), clock_timestamp(), 1)`,
      [randomUUID(), migration.checksum, migration.name],
    );
    for (const statement of migration.statements) {
      await client.query(statement).catch((cause: unknown) => {
        throw new MigrationBlocked(
          migration.name,
          `nothing was changed, because this failed: ${shortened(statement)}: ${(cause as Error).message}`,
          {
            cause,
          },
        );
      });
    }
    await client.query('COMMIT');
  } catch (error) {
    await client.query('ROLLBACK').catch(() => {});
    throw error;
  }
}

async function applyStepwise(client: pg.Client, migration: Migration, record: Recorded | undefined): Promise<void> {
  const id = record?.id ?? randomUUID();
  if (record === undefined) {
    await client.query('insert into _prisma_migrations (id, checksum, migration_name) values ($1, $2, $3)', [
      id,
      migration.checksum,
      migration.name,
    ]);
  }
  const total = migration.statements.length;
  for (let step = record?.applied_steps_count ?? 0; step < total; step += 1) {
    try {
      await client.query(migration.statements[step]!);
    } catch (cause) {
      const message = (cause as Error).message;
      await client
        .query('update _prisma_migrations set logs = $2 where id = $1', [id, `statement ${step + 1} of ${total}: ${message}`])
        .catch(() => {});
      throw new MigrationBlocked(
        migration.name,
        `statement ${step + 1} of ${total} failed, those before it stand: ${shortened(migration.statements[step]!)}: ${message}. Remove what stands ` +
          'in its way (after a broken CREATE INDEX CONCURRENTLY an invalid index of that name) and migrate again',
        { cause },
      );
    }
    await client.query('update _prisma_migrations set applied_steps_count = $2, logs = null where id = $1', [id, step + 1]);
  }
  await client.query('update _prisma_migrations set finished_at = clock_timestamp() where id = $1', [id]);
}
