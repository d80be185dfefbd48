// Ends what the run started: its embedded server, its container, or its databases on a server that was given.
import { existsSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';

export default async function tearDown() {
  const server = await clearUp(process.env.COOLBACK_TEST_RUN);
  if (server !== null) console.log(`tests ran on ${server.described}`);
}

export async function clearUp(folder) {
  const record = join(folder, 'server.json');
  const server = existsSync(record) ? JSON.parse(readFileSync(record, 'utf8')) : null;
  if (server?.kind === 'embedded') await endProcess(server.pid, folder);
  else if (server?.kind === 'container') await endContainer(server.container);
  else if (server?.kind === 'given') await dropDatabases(server.superUrl, server.run);
  rmSync(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
  return server;
}

/** A process counts as ours when its command line names the run's folder: numbers are used again, and the dead have no command line. */
function isOurs(pid, folder) {
  try {
    process.kill(pid, 0);
    return !existsSync('/proc/self/cmdline') || readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes(folder);
  } catch {
    return false;
  }
}

async function endProcess(pid, folder) {
  if (!isOurs(pid, folder)) return;
  process.kill(pid, 'SIGQUIT'); // the postmaster's immediate shutdown: its files are thrown away next
  for (let waited = 0; waited < 10_000 && isOurs(pid, folder); waited += 20) await sleep(20);
}

async function endContainer(id) {
  const { getContainerRuntimeClient } = await import('testcontainers');
  const client = await getContainerRuntimeClient();
  await client.container.getById(id).remove({ force: true, v: true });
}

async function dropDatabases(superUrl, run) {
  const client = new pg.Client({ connectionString: superUrl });
  await client.connect();
  const { rows } = await client.query('select datname from pg_database where starts_with(datname, $1)', [`coolback_test_${run}_`]);
  for (const { datname } of rows) await client.query(`drop database ${client.escapeIdentifier(datname)} with (force)`);
  await client.end();
}
