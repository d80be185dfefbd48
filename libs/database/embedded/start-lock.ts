import { randomBytes } from 'node:crypto';
import { readFileSync, renameSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { setTimeout as sleep } from 'node:timers/promises';

const HEARTBEAT_MS = 1_000;
/** A holder that has not touched its lock for this long is dead or hangs. */
const STALE_MS = 15_000;
const PATIENCE_MS = 120_000;

/**
 * One process at a time starts, stops, copies or restores the server of a data folder. The lock is a file whose holder keeps touching it; the lock of a
 * dead process is taken over. It saves work and makes waiting orderly; that two servers never write one cluster is PostgreSQL's own lock.
 */
export async function withStartLock<T>(path: string, work: () => Promise<T>): Promise<T> {
  const token = `${hostname()} ${process.pid} ${randomBytes(8).toString('hex')}`;
  const patience = Date.now() + PATIENCE_MS;
  while (!take(path, token)) {
    if (Date.now() > patience) throw new Error(`another process has been starting or stopping the database for two minutes (${path})`);
    await sleep(50 + Math.random() * 50);
  }
  const heartbeat = setInterval(() => {
    try {
      utimesSync(path, new Date(), new Date());
    } catch {
      // taken over after this process was asleep for long; PostgreSQL's own lock decides then
    }
  }, HEARTBEAT_MS);
  try {
    return await work();
  } finally {
    clearInterval(heartbeat);
    if (read(path) === token) rmSync(path, { force: true });
  }
}

function read(path: string): string | null {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return null;
  }
}

function take(path: string, token: string): boolean {
  try {
    writeFileSync(path, token, { flag: 'wx', mode: 0o600 });
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  }
  const holder = read(path);
  if (holder !== null && isDead(path, holder)) {
    // Moving it away is atomic: of several that found it dead, one moves it.
    const away = `${path}.${randomBytes(4).toString('hex')}`;
    try {
      renameSync(path, away);
    } catch {
      return false;
    }
    rmSync(away, { force: true });
  }
  return false;
}

function isDead(path: string, holder: string): boolean {
  const [host, pid] = holder.split(' ');
  try {
    if (Date.now() - statSync(path).mtimeMs > STALE_MS) return true;
  } catch {
    return false;
  }
  if (host !== hostname() || pid === undefined) return false;
  try {
    process.kill(Number(pid), 0);
    return false;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'ESRCH';
  }
}
