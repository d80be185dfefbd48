import { createHash, randomBytes } from 'node:crypto';
import { existsSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { startEmbedded } from '#libs/database/index.js';

/** The server of this run: found or started once, known to all test files through a record in the run's folder. */
export interface TestServer {
  readonly kind: 'given' | 'container' | 'embedded';
  readonly superUrl: string;
  readonly described: string;
  /** Part of the names of this run's databases. */
  readonly run: string;
  readonly pid?: number;
  readonly container?: string;
}

export const runFolder = (): string => {
  const folder = process.env['COOLBACK_TEST_RUN'];
  if (folder === undefined) throw new Error('no folder of this run: use tests/jest.config.mjs');
  return folder;
};

/** Call under the run's lock. */
export async function testServer(): Promise<TestServer> {
  const record = join(runFolder(), 'server.json');
  if (existsSync(record)) return JSON.parse(readFileSync(record, 'utf8')) as TestServer;
  const server = (await given()) ?? (await container()) ?? (await embedded());
  writeFileSync(`${record}.draft`, JSON.stringify(server), { mode: 0o600 });
  renameSync(`${record}.draft`, record);
  process.stderr.write(`test database: ${server.described}\n`);
  return server;
}

const runName = (): string => randomBytes(4).toString('hex');

async function versionOf(url: string): Promise<string> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    const { rows } = await client.query<{ version: string }>(`select current_setting('server_version') as version`);
    return rows[0]!.version;
  } finally {
    await client.end();
  }
}

async function given(): Promise<TestServer | null> {
  const superUrl = process.env['COOLBACK_TEST_DATABASE_URL'];
  if (!superUrl) return null;
  const { host } = new URL(superUrl);
  return {
    kind: 'given',
    superUrl,
    run: runName(),
    described: `PostgreSQL ${await versionOf(superUrl)} at ${host} (COOLBACK_TEST_DATABASE_URL)`,
  };
}

/** Data of a test run need not survive a crash. */
const FAST = { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off', max_connections: 200 } as const;

function dockerAnswers(): Promise<boolean> {
  const host = process.env['DOCKER_HOST'] ?? 'unix:///var/run/docker.sock';
  const target = host.startsWith('unix://')
    ? { socketPath: host.slice('unix://'.length), path: '/_ping' }
    : new URL('/_ping', host.replace(/^tcp:/, 'http:'));
  if ('socketPath' in target && !existsSync(target.socketPath)) return Promise.resolve(false);
  return new Promise((resolve) => {
    const ping = request(target, (response) => {
      response.resume();
      resolve(response.statusCode === 200);
    });
    ping.setTimeout(2_000, () => ping.destroy());
    ping.once('error', () => resolve(false)).end();
  });
}

async function container(): Promise<TestServer | null> {
  if (!(await dockerAnswers())) return null;
  const image = process.env['COOLBACK_TEST_IMAGE'] ?? 'postgres:17';
  const run = runName();
  const password = randomBytes(12).toString('hex');
  // A run that is itself inside a container finds published ports on its own loopback interface.
  if (existsSync('/.dockerenv')) process.env['TESTCONTAINERS_HOST_OVERRIDE'] ??= '127.0.0.1';
  const { GenericContainer, Wait } = await import('testcontainers');
  const start = () =>
    new GenericContainer(image)
      .withEnvironment({ POSTGRES_PASSWORD: password })
      .withCommand(['postgres', ...Object.entries(FAST).flatMap(([name, value]) => ['-c', `${name}=${value}`])])
      .withExposedPorts(5432)
      .withLabels({ [RUN_LABEL]: run })
      .withWaitStrategy(Wait.forListeningPorts())
      .start();
  try {
    const started = await start().catch(async (error: unknown) => {
      if (process.env['TESTCONTAINERS_RYUK_DISABLED']) throw error;
      // Where the reaper's image cannot be had the container still can; the run's tear-down removes it.
      process.env['TESTCONTAINERS_RYUK_DISABLED'] = 'true';
      return await start();
    });
    const superUrl = `postgresql://postgres:${password}@${started.getHost()}:${started.getMappedPort(5432)}/postgres`;
    const version = await readyVersion(superUrl);
    return { kind: 'container', superUrl, run, container: started.getId(), described: `PostgreSQL ${version} in a container of ${image}` };
  } catch (error) {
    process.stderr.write(
      `a Docker engine answers, but a container of ${image} does not start (${(error as Error).message}): using the embedded server\n`,
    );
    await removeFailedContainers(run);
    return null;
  }
}

const RUN_LABEL = 'coolback.test-run';

/** A container that was made but did not come up stays. */
async function removeFailedContainers(run: string): Promise<void> {
  const { getContainerRuntimeClient } = await import('testcontainers');
  const { container: containers } = await getContainerRuntimeClient();
  const made = await containers.dockerode.listContainers({ all: true, filters: { label: [`${RUN_LABEL}=${run}`] } });
  for (const { Id } of made) await containers.getById(Id).remove({ force: true, v: true });
}

/** The port may be published a moment before the server in the container listens. */
async function readyVersion(url: string): Promise<string> {
  for (let attempt = 0; ; attempt += 1) {
    try {
      return await versionOf(url);
    } catch (error) {
      if (attempt >= 100) throw error;
      await sleep(100);
    }
  }
}

async function embedded(): Promise<TestServer> {
  const { superUrl, pid } = await startEmbedded({ directory: join(runFolder(), 'server'), settings: FAST });
  return { kind: 'embedded', superUrl, pid, run: runName(), described: `embedded PostgreSQL ${await versionOf(superUrl)}` };
}

/** Passwords of the three roles on a test server: the same for every run on it, since roles belong to the whole server. */
export function rolePasswords(superUrl: string): { owner: string; app: string; queue: string } {
  const derive = (role: string) =>
    createHash('sha256')
      .update(`${role} ${new URL(superUrl).password}`)
      .digest('hex')
      .slice(0, 32);
  return { owner: derive('owner'), app: derive('app'), queue: derive('queue') };
}
