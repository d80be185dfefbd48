import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { expect, it } from '@jest/globals';
import { checkSync } from 'recheck';
import ts from 'typescript';
import { SEARCHED_WITH } from '#libs/casebook/cases/text-readings.js';

interface Found {
  readonly where: string;
  readonly source: string;
  readonly flags: string;
}

const AT_RUN_TIME = 'put together at run time';
/** Of the paths of our own routes; of the headings every statement's file must have; of the trade's words, which are judged as they are once put together. */
const TRADE_WORDS = 'libs/casebook/cases/text-readings.ts';
const MADE_OF_OUR_OWN = ['apps/api/http/allowed-methods.ts', 'libs/database/sql-file.ts', TRADE_WORDS];

/** Every regular expression written in the sources, by the syntax tree: literals, and `new RegExp` of a literal text. */
function regexesOf(path: string): Found[] {
  const file = ts.createSourceFile(path, readFileSync(path, 'utf8'), ts.ScriptTarget.ESNext, true);
  const found: Found[] = [];
  const visit = (node: ts.Node): void => {
    const where = `${path}:${file.getLineAndCharacterOfPosition(node.getStart()).line + 1}`;
    if (ts.isRegularExpressionLiteral(node)) {
      const end = node.text.lastIndexOf('/');
      found.push({ where, source: node.text.slice(1, end), flags: node.text.slice(end + 1) });
    }
    if (ts.isNewExpression(node) && node.expression.getText() === 'RegExp') {
      const [source, flags] = node.arguments ?? [];
      // One that is put together at run time cannot be judged here: it would have to be shown why it holds no text of a user.
      if (!source || !ts.isStringLiteralLike(source)) found.push({ where, source: '', flags: AT_RUN_TIME });
      else found.push({ where, source: source.text, flags: flags && ts.isStringLiteralLike(flags) ? flags.text : '' });
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return found;
}

const files = execFileSync('git', ['ls-files', 'apps', 'libs'], { encoding: 'utf8' })
  .split('\n')
  .filter((path) => /\.tsx?$/.test(path) && !path.endsWith('.test.ts'));

it('no regular expression takes longer than its text is long, and none is made from text at run time', () => {
  const found = [...files.flatMap(regexesOf), ...SEARCHED_WITH.map(({ source, flags }) => ({ where: TRADE_WORDS, source, flags }))];
  expect(found.length).toBeGreaterThan(50);
  const faults = found.flatMap(({ where, source, flags }) => {
    if (flags === AT_RUN_TIME) return MADE_OF_OUR_OWN.some((path) => where.startsWith(`${path}:`)) ? [] : [`${where}: ${flags}`];
    const { status } = checkSync(source, flags, { timeout: 20_000 });
    return status === 'safe' ? [] : [`${where}: /${source}/${flags} is ${status}`];
  });
  console.log(`${found.length} regular expressions in ${files.length} files`);
  expect(faults).toEqual([]);
}, 1_200_000);
