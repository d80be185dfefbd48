import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from '@jest/globals';
import { onceFile, serverSecret } from './secret.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'coolback-secret-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('the server secret', () => {
  it('is made once, kept for this account only, and read back', () => {
    const first = serverSecret({}, join(folder, 'data'));
    expect(first).toHaveLength(32);
    expect(serverSecret({}, join(folder, 'data')).equals(first)).toBe(true);
    expect(statSync(join(folder, 'data', 'server-secret')).mode & 0o777).toBe(0o600);
  });

  it('is the one given, in either notation, and then nothing is written', () => {
    const bytes = Buffer.from(Array.from({ length: 32 }, (_, i) => i * 7));
    for (const COOLBACK_SECRET of [bytes.toString('hex'), bytes.toString('base64'), ` ${bytes.toString('hex')}\n`]) {
      expect(serverSecret({ COOLBACK_SECRET }, folder).equals(bytes)).toBe(true);
    }
    expect(readdirSync(folder)).toEqual([]);
  });

  it.each(['short', 'x'.repeat(64), 'ab'.repeat(31), Buffer.alloc(33).toString('base64')])('refuses %s', (COOLBACK_SECRET) => {
    expect(() => serverSecret({ COOLBACK_SECRET }, folder)).toThrow(/32 bytes/);
  });

  it('is never replaced when its file is damaged', () => {
    writeFileSync(join(folder, 'server-secret'), 'damaged');
    expect(() => serverSecret({}, folder)).toThrow(/damaged/);
    expect(readFileSync(join(folder, 'server-secret'), 'utf8')).toBe('damaged');
  });
});

describe('a file made once', () => {
  it('keeps the content of the first, and leaves no drafts', () => {
    const path = join(folder, 'once');
    const answers = [
      onceFile(path, () => {
        // another process finishes between our look and our writing
        onceFile(path, () => 'second');
        return 'first';
      }),
      onceFile(path, () => 'third'),
    ];
    expect(answers).toEqual(['second', 'second']);
    expect(readdirSync(folder)).toEqual(['once']);
  });
});
