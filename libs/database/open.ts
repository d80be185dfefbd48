import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { dataDirectory } from './embedded/folder.js';
import { type EmbeddedServer, startEmbeddedAnd, stopEmbedded } from './embedded/server.js';
import { migrate } from './migrate.js';
import { APP_ROLE, databaseOf, migrateQueue, provisionRoles, QUEUE_ROLE, withDatabase } from './roles.js';

export interface OpenedDatabase {
  readonly appUrl: string;
  /** Address with which the schema can be changed; null where only the service's own role is known. */
  readonly ownerUrl: string | null;
  readonly queueUrl: string | null;
  readonly embedded: boolean;
  /** The data folder; also holds the server secret where none is given. */
  readonly directory: string;
  /** Call after the pools are closed. The embedded server stops with its last user. */
  close(): Promise<void>;
}

/**
 * The database the environment names, ready to serve.
 * DATABASE_URL (role coolback_app) with an optional DATABASE_OWNER_URL, which provisions the roles and migrates, and DATABASE_QUEUE_URL
 * (role coolback_queue); without DATABASE_URL the embedded server of COOLBACK_DATA_DIR.
 */
export async function openDatabase(env: NodeJS.ProcessEnv, log: (line: string) => void = () => {}): Promise<OpenedDatabase> {
  const directory = dataDirectory(env);
  return env['DATABASE_URL'] ? await openGiven(env, directory, log) : await openEmbedded(directory, log);
}

async function openGiven(env: NodeJS.ProcessEnv, directory: string, log: (line: string) => void): Promise<OpenedDatabase> {
  const appUrl = env['DATABASE_URL']!;
  const queueUrl = env['DATABASE_QUEUE_URL'] || null;
  const administrator = env['DATABASE_OWNER_URL'] || null;
  const ownerUrl = administrator === null ? null : withDatabase(administrator, databaseOf(appUrl));
  if (ownerUrl !== null) {
    await provisionRoles(ownerUrl, { app: passwordFor(APP_ROLE, appUrl), queue: passwordFor(QUEUE_ROLE, queueUrl) });
    await migrate({ ownerUrl, log });
    await migrateQueue(ownerUrl);
  }
  return { appUrl, ownerUrl, queueUrl, embedded: false, directory, close: async () => {} };
}

/** The password an address carries, if it is that role's; a role of another name keeps the password it has. */
function passwordFor(role: string, url: string | null): string | undefined {
  if (url === null) return undefined;
  const { username, password } = new URL(url);
  return username === role && password !== '' ? decodeURIComponent(password) : undefined;
}

async function openEmbedded(directory: string, log: (line: string) => void): Promise<OpenedDatabase> {
  const { server, keeper } = await attach(directory, log);
  log(`database ${server.reused ? 'found running' : 'started'} on port ${server.port} (process ${server.pid}), files in ${directory}`);
  try {
    await migrate({ ownerUrl: server.ownerUrl, log });
    await migrateQueue(server.queueUrl);
  } catch (error) {
    await leave(directory, keeper);
    throw error;
  }
  const supervision = supervise(directory, server, keeper, log);
  const { appUrl, ownerUrl, queueUrl } = server;
  return { appUrl, ownerUrl, queueUrl, embedded: true, directory, close: async () => await leave(directory, await supervision.end()) };
}

/** A session that shows others that somebody uses the server, and us when the server dies. */
interface Keeper {
  readonly client: pg.Client;
  readonly lost: Promise<void>;
}

async function attach(
  directory: string,
  log: (line: string) => void,
  onlyAfterCrash = false,
): Promise<{ server: EmbeddedServer; keeper: Keeper }> {
  return await startEmbeddedAnd({ directory, log, onlyAfterCrash }, async (server) => {
    const client = new pg.Client({ connectionString: server.superUrl, application_name: 'coolback keeper', keepAlive: true });
    client.on('error', () => {}); // `end` follows
    const lost = new Promise<void>((resolve) => client.once('end', resolve));
    await client.connect();
    return { server, keeper: { client, lost } };
  });
}

const LONGEST_PAUSE_MS = 10_000;

/**
 * Starts the server again when it died under its users: killed, or gone because the disk was full, after which PostgreSQL does not come
 * back by itself. One that somebody stopped stays stopped, and is joined when somebody starts it. `end` gives the last session.
 */
function supervise(directory: string, { port }: EmbeddedServer, first: Keeper, log: (line: string) => void): { end(): Promise<Keeper> } {
  let keeper = first;
  let recovery: Promise<void> = Promise.resolve();
  const ending = new AbortController();
  const recover = async (): Promise<void> => {
    let said = '';
    for (let pauseMs = 100; !ending.signal.aborted; pauseMs = Math.min(2 * pauseMs, LONGEST_PAUSE_MS)) {
      try {
        const { server, keeper: next } = await attach(directory, log, true);
        log(`database ${server.reused ? 'found running' : 'started again'} on port ${server.port} (process ${server.pid})`);
        if (server.port !== port) log(`it was on port ${port}, which is taken: restart this service`);
        watch(next);
        return;
      } catch (error) {
        const { message } = error as Error;
        if (message !== said) log(`the database is gone and does not come back: ${message}`);
        said = message;
        await sleep(pauseMs, undefined, { signal: ending.signal, ref: false }).catch(() => {});
      }
    }
  };
  const watch = (next: Keeper): void => {
    keeper = next;
    void next.lost.then(() => {
      if (!ending.signal.aborted) recovery = recover();
    });
  };
  watch(first);
  return {
    end: async () => {
      ending.abort();
      await recovery;
      return keeper;
    },
  };
}

/** Stops the server unless another process still uses it. */
async function leave(directory: string, { client: keeper }: Keeper): Promise<void> {
  try {
    await stopEmbedded(directory, { when: async () => await isAlone(keeper) });
  } finally {
    await keeper.end().catch(() => {});
  }
}

async function isAlone(keeper: pg.Client): Promise<boolean> {
  // Sessions of pools just closed are gone within milliseconds.
  for (let attempt = 0; attempt < 10; attempt += 1) {
    try {
      const { rowCount } = await keeper.query(
        `select from pg_stat_activity where backend_type = 'client backend' and pid <> pg_backend_pid()`,
      );
      if (rowCount === 0) return true;
    } catch {
      return false; // the server is gone already, or restarted by somebody who now uses it
    }
    await sleep(50);
  }
  return false;
}
