import { spawn, spawnSync } from 'node:child_process';
import { chownSync, readFileSync } from 'node:fs';

/** The account the server runs as: our own, or, since PostgreSQL refuses to run as root, an unprivileged one. */
export interface Account {
  readonly uid?: number;
  readonly gid?: number;
  readonly name: string | null;
}

export function serverAccount(): Account {
  if (process.getuid?.() !== 0) return { name: null };
  const lines = readFileSync('/etc/passwd', 'utf8').split('\n');
  for (const name of ['postgres', 'nobody']) {
    const [, , uid, gid] = lines.find((line) => line.startsWith(`${name}:`))?.split(':') ?? [];
    if (uid !== undefined && gid !== undefined) return { uid: Number(uid), gid: Number(gid), name };
  }
  throw new Error('PostgreSQL does not run as root, and there is neither a user postgres nor nobody: start Coolback as an ordinary user');
}

export const isOther = (account: Account): boolean => account.uid !== undefined;

/** Whether the server's account can enter a folder. Asked of the operating system, which also knows access lists and mounts. */
export function canEnter(account: Account, folder: string): boolean {
  if (!isOther(account)) return true;
  return (
    spawnSync('/bin/sh', ['-c', 'cd "$1"', 'sh', folder], { uid: account.uid, gid: account.gid, cwd: '/', stdio: 'ignore' }).status === 0
  );
}

export function giveTo(account: Account, path: string): void {
  if (account.uid !== undefined && account.gid !== undefined) chownSync(path, account.uid, account.gid);
}

export interface Outcome {
  readonly code: number | null;
  readonly output: string;
}

/** Runs a program as the server's account. Its output goes to a file or is collected; a daemon it leaves behind keeps no pipe of ours. */
export function runAs(account: Account, program: string, args: readonly string[], options: { collect: boolean }): Promise<Outcome> {
  return new Promise((resolve, reject) => {
    const child = spawn(program, args, {
      uid: account.uid,
      gid: account.gid,
      cwd: '/',
      stdio: options.collect ? ['ignore', 'pipe', 'pipe'] : 'ignore',
      env: { PATH: process.env['PATH'], TZ: 'UTC', LC_ALL: 'C' },
      windowsHide: true,
    });
    let output = '';
    for (const stream of [child.stdout, child.stderr]) stream?.setEncoding('utf8').on('data', (text: string) => (output += text));
    child.once('error', reject);
    child.once('close', (code) => resolve({ code, output }));
  });
}
