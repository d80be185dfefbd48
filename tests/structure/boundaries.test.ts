import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';

const ROOT = process.cwd();

/** One breach of each rule: the file that commits it, and what it imports. */
const BREACHES: Readonly<Record<string, readonly [path: string, imported: string]>> = {
  'science-is-pure': ['libs/outcomes/reads-files.ts', 'node:fs'],
  'psychrolib-only-in-air': ['libs/casebook/humid.ts', 'psychrolib'],
  'science-stays-below': ['libs/engine/asks.ts', '#libs/contracts/index.js'],
  'numeric-knows-no-physics': ['libs/numeric/hot.ts', '#libs/refrigerant/index.js'],
  'properties-below-system': ['libs/air/looks-up.ts', '#libs/system/index.js'],
  'system-below-engine': ['libs/system/looks-up.ts', '#libs/engine/index.js'],
  'outcomes-beside-physics': ['libs/outcomes/physical.ts', '#libs/refrigerant/index.js'],
  'contracts-know-only-units-and-words': ['libs/contracts/knows-too-much.ts', '#libs/database/index.js'],
  'database-knows-no-feature': ['libs/database/knows-too-much.ts', '#libs/casebook/index.js'],
  'libs-never-import-apps': ['libs/casebook/climbs.ts', '#apps/api/server.js'],
  'apps-are-islands': ['apps/worker/borrows.ts', '#apps/api/server.js'],
  'transports-never-touch-sql': ['apps/api/asks-directly.ts', '../../libs/casebook/thing.queries.js'],
  'own-index-never-imported-inside': ['libs/units/round.ts', './index.js'],
  'libs-meet-at-their-index': ['libs/casebook/peeks.ts', '../outcomes/inner.js'],
  'no-cycles': ['libs/casebook/circle-a.ts', './circle-b.js'],
  'no-orphans': ['libs/casebook/alone.ts', ''],
};
const INDEXED = ['units', 'numeric', 'refrigerant', 'air', 'system', 'engine', 'outcomes', 'contracts', 'database', 'casebook'];

describe('the directions of the architecture', () => {
  let directory: string;
  let broken: Set<string>;

  beforeAll(() => {
    directory = mkdtempSync(join(tmpdir(), 'boundaries-'));
    const write = (path: string, text: string) => {
      mkdirSync(dirname(join(directory, path)), { recursive: true });
      writeFileSync(join(directory, path), text);
    };
    for (const file of ['.dependency-cruiser.mjs', 'tsconfig.json', 'package.json']) copyFileSync(join(ROOT, file), join(directory, file));
    symlinkSync(join(ROOT, 'node_modules'), join(directory, 'node_modules'));
    for (const lib of INDEXED) write(`libs/${lib}/index.ts`, `export const ${lib} = 1;\n`);
    write('apps/api/server.ts', 'export const server = 1;\n');
    write('libs/casebook/thing.queries.ts', 'export const thing = 1;\n');
    write('libs/outcomes/inner.ts', 'export const inner = 1;\n');
    write('libs/casebook/circle-b.ts', "import * as a from './circle-a.js';\nexport const b = a;\n");
    for (const [path, imported] of Object.values(BREACHES)) {
      write(path, imported === '' ? 'export const alone = 1;\n' : `import * as found from '${imported}';\nexport const used = found;\n`);
    }
    const run = spawnSync(
      process.execPath,
      [
        join(ROOT, 'node_modules/dependency-cruiser/bin/dependency-cruise.mjs'),
        'apps',
        'libs',
        '--config',
        '.dependency-cruiser.mjs',
        '--output-type',
        'json',
      ],
      { cwd: directory, encoding: 'utf8', maxBuffer: 64 * 1024 * 1024 },
    );
    const { summary } = JSON.parse(run.stdout) as { summary: { violations: { rule: { name: string } }[] } };
    broken = new Set(summary.violations.map((violation) => violation.rule.name));
  });
  afterAll(() => rmSync(directory, { recursive: true, force: true }));

  it.each(Object.keys(BREACHES))('%s is found when it is broken', (rule) => {
    expect([...broken]).toContain(rule);
  });

  it('has a planted breach for every rule there is', async () => {
    const { default: config } = (await import(join(ROOT, '.dependency-cruiser.mjs'))) as { default: { forbidden: { name: string }[] } };
    expect(config.forbidden.map((rule) => rule.name).sort()).toEqual(Object.keys(BREACHES).sort());
  });
});
