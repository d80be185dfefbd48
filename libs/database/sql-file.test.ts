import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterEach, beforeEach, expect, it } from '@jest/globals';
import { sqlFile } from './sql-file.js';

const HEADER = '-- question: how many are open?\n-- parameters: $1 organisation\n-- grain: one row\n';
let folder: string;
const load = (script: string) => {
  writeFileSync(join(folder, 'tally.sql'), script);
  return sqlFile(pathToFileURL(join(folder, 'feature.js')).href, './tally.sql');
};
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'coolback sql '));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

it('is one statement, named as its file, from a place with blanks in its path', () => {
  expect(load(`${HEADER}select count(*) from shop_case where org_id = $1;\n`)).toEqual({
    name: 'tally',
    text: `${HEADER}select count(*) from shop_case where org_id = $1`,
  });
});

it.each(['question', 'parameters', 'grain'])('is refused without its %s', (heading) => {
  const header = HEADER.split('\n')
    .filter((line) => !line.includes(`${heading}:`))
    .join('\n');
  expect(() => load(`${header}select 1`)).toThrow(`no line "-- ${heading}:"`);
});

it.each([`${HEADER}select 1; select 2`, HEADER])('is refused when it is not exactly one statement', (script) => {
  expect(() => load(script)).toThrow(/one statement/);
});
