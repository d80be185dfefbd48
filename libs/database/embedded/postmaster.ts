import { existsSync, readFileSync, readlinkSync, realpathSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { endianness } from 'node:os';
import { join } from 'node:path';

/** What a running (or once running) server wrote about itself into postmaster.pid. */
export interface Postmaster {
  readonly pid: number;
  readonly port: number;
}

export function readPostmaster(cluster: string): Postmaster | null {
  try {
    const [pid, , , port] = readFileSync(join(cluster, 'postmaster.pid'), 'utf8').split('\n');
    return Number(pid) > 0 ? { pid: Number(pid), port: Number(port) } : null;
  } catch {
    return null;
  }
}

/**
 * Whether the process of that number is the postmaster of this cluster. After a crash the number may belong to another program by now
 * (also to another PostgreSQL), or to a dead process whose parent has not collected it yet; where /proc exists it tells these apart.
 */
export function isPostmaster(pid: number, cluster: string): boolean {
  try {
    process.kill(pid, 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ESRCH') return false;
  }
  if (!existsSync('/proc/self/stat')) return true;
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'utf8');
    const state = stat.slice(stat.lastIndexOf(')') + 2)[0];
    if (state === 'Z' || state === 'X') return false;
    return workingFolder(pid) === realpathSync(cluster) || readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0').includes(cluster);
  } catch {
    return false;
  }
}

/** A postmaster's working folder is its cluster, wherever that has been moved to. Not every account may read it. */
function workingFolder(pid: number): string | null {
  try {
    return readlinkSync(`/proc/${pid}/cwd`);
  } catch {
    return null;
  }
}

/**
 * Marks the lock file of a dead server as dead when its process number is in use by somebody else, which PostgreSQL would take for a
 * running server. The file stays: from it PostgreSQL finds the old shared memory and waits for children that still use it.
 */
export function disownLockFile(cluster: string): void {
  const file = join(cluster, 'postmaster.pid');
  const [, ...rest] = readFileSync(file, 'utf8').split('\n');
  writeFileSync(file, [2 ** 31 - 2, ...rest].join('\n')); // above every system's highest process number
}

// ControlFileData of PostgreSQL's catalog/pg_control.h: a 64-bit identifier, two 32-bit versions, then the state.
const STATE_OFFSET = 16;
const SHUT_DOWN = 1;

/** Whether the last server of this cluster ended in an orderly way: with every change on disk, because somebody told it to. */
export function wasShutDown(cluster: string): boolean {
  try {
    const control = readFileSync(join(cluster, 'global', 'pg_control'));
    return (endianness() === 'LE' ? control.readInt32LE(STATE_OFFSET) : control.readInt32BE(STATE_OFFSET)) === SHUT_DOWN;
  } catch {
    return false;
  }
}

export const freePort = (): Promise<number> => listenOn(0);

/** The port asked for if it is free, else a free one. */
export async function freePortNear(wanted: number | null): Promise<number> {
  if (wanted === null) return await freePort();
  return await listenOn(wanted).catch(freePort);
}

function listenOn(port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer().once('error', reject);
    server.listen(port, '127.0.0.1', () => {
      const address = server.address();
      server.close(() => (typeof address === 'object' && address !== null ? resolve(address.port) : reject(new Error('no port'))));
    });
  });
}
