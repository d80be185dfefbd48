import { createHash, randomBytes } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, realpathSync } from 'node:fs';
import { isAbsolute, join, resolve } from 'node:path';
import { onceFile } from '../secret.js';
import { type Account, canEnter, isOther } from './account.js';
import { SYSTEM_FOLDER } from './binaries.js';

export const DEFAULT_FOLDER = '.coolback';

export function dataDirectory(env: NodeJS.ProcessEnv, workingDirectory: string = process.cwd()): string {
  return resolve(workingDirectory, env['COOLBACK_DATA_DIR'] || DEFAULT_FOLDER);
}

export interface Passwords {
  readonly superuser: string;
  readonly owner: string;
  readonly app: string;
  readonly queue: string;
}

/** The generated passwords of a data folder, in a file only this account may read. */
export function passwords(directory: string): Passwords {
  const make = () => randomBytes(24).toString('base64url');
  const text = onceFile(join(directory, 'passwords.json'), () =>
    JSON.stringify({ superuser: make(), owner: make(), app: make(), queue: make() }),
  );
  return JSON.parse(text) as Passwords;
}

/** Makes the data folder. Another account's server has to pass through it, though not to read it. */
export function openFolder(directory: string, account: Account): string {
  mkdirSync(directory, { recursive: true, mode: 0o700 });
  if (isOther(account)) chmodSync(directory, 0o711);
  return realpathSync(directory);
}

/**
 * Where the cluster of a data folder lies: inside it, or, when the server's account cannot enter the folder, at a place of the system.
 * The choice is made once and written down, so that a later change of permissions never makes an empty cluster appear.
 */
export function clusterOf(directory: string, account: Account, log: (line: string) => void): string {
  const chosen = onceFile(join(directory, 'cluster-place'), () => {
    if (existsSync(join(directory, 'cluster', 'PG_VERSION')) || canEnter(account, directory)) return 'cluster';
    const place = join(SYSTEM_FOLDER, `cluster-${createHash('sha256').update(directory).digest('hex').slice(0, 12)}`);
    log(
      `the database runs as the user ${account.name}, who cannot enter ${directory}; its files go to ${place}. ` +
        'To keep them together set COOLBACK_DATA_DIR to a folder every user may pass through',
    );
    return place;
  });
  return isAbsolute(chosen) ? chosen : join(directory, chosen);
}
