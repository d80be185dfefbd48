import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { describe, expect, it } from '@jest/globals';

const ROOT = process.cwd();
const bin = (path: string) => join(ROOT, 'node_modules', path);

/** Each tool's own verdict on the whole tree; its complaints are the failure message. */
describe('the tools that hold the rules', () => {
  it.each([
    ['biome: format, imports, lint', '@biomejs/biome/bin/biome', ['check', '--config-path=.biome.json', '--error-on-warnings']],
    ['TypeScript, strict', 'typescript/bin/tsc', ['-p', 'tsconfig.json']],
    ['TypeScript of the console', 'typescript/bin/tsc', ['-p', 'apps/console/tsconfig.json']],
    ['dependency directions', 'dependency-cruiser/bin/dependency-cruise.mjs', ['apps', 'libs', '--config', '.dependency-cruiser.mjs']],
    ['knip: nothing unused', 'knip/bin/knip.js', ['--config', 'tests/knip.json']],
  ])(
    '%s',
    (_name, path, args) => {
      const run = spawnSync(process.execPath, [bin(path), ...args], { cwd: ROOT, encoding: 'utf8', maxBuffer: 64 * 1024 * 1024 });
      expect(run.status === 0 ? '' : `${run.stdout}\n${run.stderr}`).toBe('');
    },
    180_000,
  );
});
