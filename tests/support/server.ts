import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, openSync, readFileSync, renameSync, rmdirSync, statSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import pg from 'pg';
import { startEmbedded } from '#libs/database/index.js';

/** The PostgreSQL server of this test run; `superUrl` belongs to a role that may make roles and databases. */
export interface TestServer {
  readonly kind: 'given' | 'container' | 'embedded';
  readonly superUrl: string;
  /** Process that ends with the run: the embedded postmaster, or the keeper of the container. */
  readonly pid: number | null;
}

export function runFolder(): string {
  const folder = process.env['COOLBACK_TEST_RUN'];
  if (!folder) throw new Error("the run has no folder: jest's global set-up did not run");
  return folder;
}

/** The server of the run, started by whoever asks first: runs that need no database start none. */
export async function testServer(): Promise<TestServer> {
  const file = join(runFolder(), 'server.json');
  for (const deadline = Date.now() + 120_000; Date.now() < deadline; await sleep(50)) {
    if (existsSync(file)) return JSON.parse(readFileSync(file, 'utf8')) as TestServer;
    const lock = join(runFolder(), 'server.lock');
    if (!takeLock(lock)) continue;
    try {
      if (existsSync(file)) continue;
      const server = (await given()) ?? (await container()) ?? (await embedded());
      writeFileSync(`${file}.draft`, JSON.stringify(server), { mode: 0o600 });
      renameSync(`${file}.draft`, file);
      await announce(server);
      return server;
    } finally {
      rmdirSync(lock);
    }
  }
  throw new Error('no database server came up within two minutes');
}

/** A folder is made by one process only. A holder that died leaves it; no start takes as long as this. */
function takeLock(path: string): boolean {
  try {
    mkdirSync(path);
    return true;
  } catch {
    try {
      if (Date.now() - statSync(path).mtimeMs > 100_000) rmdirSync(path);
    } catch {
      // released just now
    }
    return false;
  }
}

async function announce(server: TestServer): Promise<void> {
  const client = new pg.Client({ connectionString: server.superUrl });
  await client.connect();
  const { rows } = await client.query<{ version: string }>(`select current_setting('server_version') as version`);
  await client.end();
  const where = { given: 'COOLBACK_TEST_DATABASE_URL', container: 'a container (testcontainers)', embedded: 'the embedded server' }[
    server.kind
  ];
  process.stderr.write(`test database: PostgreSQL ${rows[0]?.version}, ${where}\n`);
}

async function given(): Promise<TestServer | null> {
  const superUrl = process.env['COOLBACK_TEST_DATABASE_URL'];
  return superUrl ? { kind: 'given', superUrl, pid: null } : null;
}

async function embedded(): Promise<TestServer> {
  const { superUrl, pid } = await startEmbedded({
    directory: join(runFolder(), 'data'),
    settings: { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off', max_connections: 200, autovacuum: 'off' },
  });
  return { kind: 'embedded', superUrl, pid };
}

/** Whether a Docker engine answers, asked directly: loading testcontainers alone takes longer than this. */
function dockerAnswers(): Promise<boolean> {
  const host = process.env['DOCKER_HOST'] ?? 'unix:///var/run/docker.sock';
  const url = new URL(host);
  if (url.protocol === 'unix:' && !existsSync(url.pathname)) return Promise.resolve(false);
  return new Promise((resolve) => {
    const target =
      url.protocol === 'unix:'
        ? { socketPath: url.pathname, path: '/_ping' }
        : { host: url.hostname, port: url.port || 2375, path: '/_ping' };
    const ping = request({ ...target, timeout: 1_000 }, (answer) => {
      answer.resume();
      resolve(answer.statusCode === 200);
    });
    ping.once('timeout', () => ping.destroy());
    ping.once('error', () => resolve(false));
    ping.end();
  });
}

async function container(): Promise<TestServer | null> {
  if (!(await dockerAnswers())) return null;
  const answer = join(runFolder(), 'container.json');
  const log = openSync(join(runFolder(), 'container.log'), 'a');
  const keeper = spawn(process.execPath, [fileURLToPath(new URL('./container.mjs', import.meta.url)), runFolder()], {
    detached: true,
    stdio: ['ignore', log, log],
    env: { ...process.env, NODE_OPTIONS: '', ...insideContainer() },
  });
  keeper.unref();
  let ended = false;
  keeper.once('exit', () => {
    ended = true;
  });
  while (!existsSync(answer) && !ended) await sleep(100);
  const { superUrl, pid, problem } = existsSync(answer)
    ? (JSON.parse(readFileSync(answer, 'utf8')) as { superUrl?: string; pid?: number; problem?: string })
    : { problem: 'its keeper ended' };
  if (superUrl !== undefined && pid !== undefined) return { kind: 'container', superUrl, pid };
  process.stderr.write(`test database: Docker answers but the container did not start (${problem}); using the embedded server\n`);
  return null;
}

/** A run that is itself inside a container reaches published ports on its own loopback only when it says so. */
const insideContainer = (): Record<string, string> =>
  existsSync('/.dockerenv') && !process.env['TESTCONTAINERS_HOST_OVERRIDE'] ? { TESTCONTAINERS_HOST_OVERRIDE: '127.0.0.1' } : {};

/** The same for every run on one server, since roles belong to the server and several runs may share it. */
export function rolePassword(superUrl: string, role: string): string {
  return createHash('sha256').update(`${role} ${superUrl}`).digest('hex').slice(0, 32);
}
