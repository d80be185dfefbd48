import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from '@jest/globals';

const ROOT = process.cwd();
const ROOT_ENTRIES = [
  'README.md',
  'DEVELOPERS.md',
  'LICENSE',
  'package.json',
  'package-lock.json',
  'tsconfig.json',
  'docker-compose.yml',
  'apps',
  'libs',
  'prisma',
  'tests',
  'docs',
];
const BANNED_FOLDERS = ['utils', 'util', 'helpers', 'common', 'shared', 'types', 'misc', 'core'];
const MAX_LINES = 400;
/** Tables of coefficients and words: data, not logic. */
const LONG_DATA = /^libs\/(refrigerant\/r\d+\w*|engine\/calibration\/.*|engine\/catalogue\/.*)\.ts$/;

/** Files git tracks or would track: what a reader of the repository sees. */
function files(): string[] {
  return execFileSync('git', ['ls-files', '--cached', '--others', '--exclude-standard'], { cwd: ROOT, encoding: 'utf8' })
    .split('\n')
    .filter(Boolean);
}

function rootBreaches(paths: readonly string[]): string[] {
  const entries = new Set(paths.map((path) => path.split('/')[0]!));
  return [...entries].filter((entry) => !entry.startsWith('.') && !ROOT_ENTRIES.includes(entry));
}

function folderBreaches(paths: readonly string[]): string[] {
  return paths.filter(
    (path) =>
      /^(apps|libs)\//.test(path) &&
      path
        .split('/')
        .slice(0, -1)
        .some((part) => BANNED_FOLDERS.includes(part)),
  );
}

function lengthBreaches(paths: readonly string[], read: (path: string) => string): string[] {
  return paths
    .filter(
      (path) =>
        /^(apps|libs)\/.*\.tsx?$/.test(path) &&
        !/\.test\.tsx?$/.test(path) &&
        !LONG_DATA.test(path) &&
        !path.startsWith('apps/console/client/'),
    )
    .filter((path) => read(path).split('\n').length > MAX_LINES);
}

function barrelBreaches(paths: readonly string[]): string[] {
  return paths.filter((path) => /^libs\/[^/]+\/.+\/index\.ts$/.test(path));
}

/** A record is answered when it is made and when it is read again: both must spell its instants alike (`instantText`). Parameters of a statement may differ. */
function instantBreaches(paths: readonly string[], read: (path: string) => string): string[] {
  return paths
    .filter((path) => /^libs\/casebook\/.*\.ts$/.test(path) && !/\.(test|queries)\.ts$/.test(path))
    .filter((path) => /toISOString\(\)(?!\.slice\(0, 10\))/.test(read(path)));
}

const read = (path: string) => readFileSync(join(ROOT, path), 'utf8');

describe('the tree', () => {
  const paths = files().filter((path) => {
    try {
      read(path);
      return true;
    } catch {
      return false;
    }
  });

  it('has the agreed entries in its root, and only those', () => {
    expect(rootBreaches(paths)).toEqual([]);
    expect(rootBreaches(['scripts/x.ts', 'notes.txt', '.ci/run'])).toEqual(['scripts', 'notes.txt']);
  });

  it('has no folder that is named for nothing', () => {
    expect(folderBreaches(paths)).toEqual([]);
    expect(folderBreaches(['libs/casebook/utils/date.ts'])).toHaveLength(1);
  });

  it('has no source file over 400 lines', () => {
    expect(lengthBreaches(paths, read)).toEqual([]);
    expect(lengthBreaches(['libs/x/long.ts'], () => '\n'.repeat(401))).toHaveLength(1);
  });

  it('has one index a lib and no other barrel', () => {
    expect(barrelBreaches(paths)).toEqual([]);
    expect(barrelBreaches(['libs/x/deep/index.ts'])).toHaveLength(1);
  });

  it('spells the instants of answers in one way', () => {
    expect(instantBreaches(paths, read)).toEqual([]);
    expect(instantBreaches(['libs/casebook/x/x.service.ts'], () => 'createdAt: at.toISOString(),')).toHaveLength(1);
  });

  it('has a lock file without addresses, so that it works with any registry', () => {
    expect(read('package-lock.json')).not.toMatch(/"resolved": "http/);
  });
});
