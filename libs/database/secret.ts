import { randomBytes } from 'node:crypto';
import { chmodSync, linkSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/**
 * Content of a file only this account may read, made once: of several processes that come first at once, one wins and all read its value.
 * The file appears whole or not at all (a hard link to a finished temporary file).
 */
export function onceFile(path: string, make: () => string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
  const draft = `${path}.${process.pid}.${randomBytes(4).toString('hex')}`;
  writeFileSync(draft, make(), { mode: 0o600, flag: 'wx' });
  try {
    chmodSync(draft, 0o600);
    linkSync(draft, path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  } finally {
    rmSync(draft, { force: true });
  }
  return readFileSync(path, 'utf8');
}

const SECRET_BYTES = 32;

function decode(text: string): Buffer | null {
  const trimmed = text.trim();
  const bytes = /^[0-9a-f]{64}$/i.test(trimmed) ? Buffer.from(trimmed, 'hex') : Buffer.from(trimmed, 'base64');
  return bytes.length === SECRET_BYTES ? bytes : null;
}

/** 32 bytes that seal each organisation's hash key: COOLBACK_SECRET in hex or base64, else a file made once in the data folder. */
export function serverSecret(env: NodeJS.ProcessEnv, dataDirectory: string): Buffer {
  const given = env['COOLBACK_SECRET'];
  if (given !== undefined && given !== '') {
    const bytes = decode(given);
    if (bytes === null) throw new Error('COOLBACK_SECRET must be 32 bytes in hexadecimal (64 digits) or base64 (44 characters)');
    return bytes;
  }
  mkdirSync(dataDirectory, { recursive: true });
  const file = join(dataDirectory, 'server-secret');
  const bytes = decode(onceFile(file, () => randomBytes(SECRET_BYTES).toString('hex')));
  if (bytes === null) throw new Error(`${file} is damaged: put it back from a backup, or the sealed hash keys cannot be opened`);
  return bytes;
}
