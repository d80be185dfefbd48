// The folder of one test run, in plain JavaScript because jest loads its global set-up untransformed. It holds the database server the run
// may start, and names the process it belongs to, so that a run killed half-way is cleared up by the next.
import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

const PREFIX = 'coolback-test-';

export function makeRunFolder() {
  const folder = mkdtempSync(join(tmpdir(), PREFIX));
  chmodSync(folder, 0o755); // the server's account passes through
  writeFileSync(join(folder, 'run.pid'), String(process.pid));
  return folder;
}

function isAlive(pid) {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error.code === 'EPERM';
  }
}

/** A process only counts as ours when its command line names the run's folder: numbers are used again. */
function isOurs(pid, folder) {
  if (!(pid > 1) || !isAlive(pid)) return false;
  if (!existsSync('/proc/self/cmdline')) return true;
  try {
    return readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes(folder);
  } catch {
    return false;
  }
}

async function end(pid, folder, signal) {
  if (!isOurs(pid, folder)) return;
  process.kill(pid, signal);
  for (let i = 0; i < 400 && isOurs(pid, folder); i += 1) await sleep(25);
}

export async function removeRunFolder(folder) {
  try {
    const { kind, pid } = JSON.parse(readFileSync(join(folder, 'server.json'), 'utf8'));
    // Nothing of a test server is kept, so it stops without a checkpoint; the keeper of a container stops that before it ends.
    if (kind === 'embedded') await end(pid, folder, 'SIGQUIT');
    if (kind === 'container') await end(pid, folder, 'SIGTERM');
  } catch (error) {
    if (error.code !== 'ENOENT') throw error; // no test asked for a database
  }
  rmSync(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
}

export async function removeAbandonedRuns() {
  for (const name of readdirSync(tmpdir()).filter((entry) => entry.startsWith(PREFIX))) {
    const folder = join(tmpdir(), name);
    try {
      const pid = Number(readFileSync(join(folder, 'run.pid'), 'utf8'));
      if (!isAlive(pid)) await removeRunFolder(folder);
    } catch {
      // just being made or removed by another run
    }
  }
}
