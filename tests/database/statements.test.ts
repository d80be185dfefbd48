import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from '@jest/globals';
import { migrationsDirectory, splitStatements } from '#libs/database/index.js';
import type { TableClasses } from './catalogue.js';
import { faultsOf, statementsIn } from './statements.js';

const CASEBOOK = join(migrationsDirectory(), '..', '..', 'libs', 'casebook');
const { classes } = JSON.parse(readFileSync(new URL('./tables.json', import.meta.url), 'utf8')) as TableClasses;
const tenantTables = Object.keys(classes).filter((table) => classes[table] === 'tenant');
const files = readdirSync(CASEBOOK, { recursive: true, encoding: 'utf8' }).map((name) => join(CASEBOOK, name));
const sources = files.filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts')).map((name) => statementsIn(name));
const statements = [
  ...sources.flatMap((source) => source.statements),
  ...files
    .filter((name) => name.endsWith('.sql'))
    .map((name) => ({
      file: name,
      line: 1,
      names: [
        name
          .split('/')
          .pop()!
          .replace(/\.sql$/, ''),
      ],
      texts: splitStatements(readFileSync(name, 'utf8')),
    })),
];
/** A name with a part for each filter in use: as many texts as there are combinations of filters. */
const isPutTogether = (names: readonly string[]) => names.some((name) => /\.$|\.\./.test(name));
const place = ({ file, line }: { file: string; line: number }) => `${file.slice(CASEBOOK.length + 1)}:${line}`;

describe('the statements of the casebook', () => {
  it('are found: their number is at least that of the calls a plain search sees', () => {
    const calls = files
      .filter((name) => name.endsWith('.queries.ts'))
      .reduce((sum, name) => sum + (readFileSync(name, 'utf8').match(/\btx\.query[<(]/g)?.length ?? 0), 0);
    expect(calls).toBeGreaterThan(30);
    expect(statements.length).toBeGreaterThanOrEqual(calls);
    expect(statements.filter(({ texts }) => texts.every((text) => text.trim() === '')).map(place)).toEqual([]);
  });

  it('tie every tenant table they name to the organisation', () => {
    const faults = statements.flatMap((one) =>
      one.texts.flatMap((text) => faultsOf(text, tenantTables).map((fault) => `${place(one)} ${fault}`)),
    );
    expect([...new Set(faults)]).toEqual([]);
  });

  it('are all handed to a tenant transaction: no SQL lies about', () => {
    expect(sources.flatMap(({ stray }) => stray)).toEqual([]);
  });

  it('have names, and one name stands for one text', () => {
    expect(statements.filter(({ names }) => names.length === 0 || names.some((name) => name === '')).map(place)).toEqual([]);
    const fixed = statements.filter(({ names, texts }) => names.length === 1 && texts.length === 1 && !isPutTogether(names));
    const textByName = new Map<string, string>();
    const doubled = fixed.filter(({ names: [name], texts: [text] }) => {
      const before = textByName.get(name!);
      textByName.set(name!, text!);
      return before !== undefined && before !== text;
    });
    expect(doubled.map(place)).toEqual([]);
    // One of several names with one of several texts: as many of each, or a name would stand for two texts.
    expect(statements.filter(({ names, texts }) => !isPutTogether(names) && names.length < texts.length).map(place)).toEqual([]);
  });
});

describe('a statement that breaks a rule is found', () => {
  it.each([
    ['select id from shop where id = $2', /no org_id = \$1/],
    ['select id from shop where org_id = $2', /no org_id = \$1/],
    ['select c.id from shop_case c join shop s on s.id = c.shop_id where c.org_id = $1', /shop s: its org_id is tied to nothing/],
    ['select c.id from shop_case c where c.org_id = $1 and exists (select from repair where case_id = c.id)', /repair: no org_id/],
    ['update shop set name = $2 where id = $3', /no org_id/],
    ['delete from "shop" where id = $2', /no org_id/],
    ['insert into shop (id, org_id) values ($1, $2)', /org_id is not its first column/],
    ['insert into shop (org_id, id) values ($2, $1)', /org_id is not \$1/],
    ['insert into shop (org_id, id) select $2, id from unnest($1::uuid[]) as id', /org_id is not \$1/],
    ['with old as (select id from task) delete from shop where org_id = $1', /no org_id/],
    ['select id from shop -- where org_id = $1', /no org_id/],
    ['select a.id from shop a, task b where a.org_id = $1', /task b: its org_id is tied to nothing/],
    ['update task set id = gen_random_uuid() where org_id = $1', /volatile/],
    ['insert into task (org_id, id) values ($1, $2) on conflict (org_id, id) do update set updated_at = now()', /volatile/],
    [`select set_config('app.org_id', $1, true)`, /set_config/],
    ['set app.org_id = 1', /session/],
    ['set enable_bitmapscan = off', /session/],
    [`set local app.org_id = '1'`, /tenant/],
    ['set local enable_bitmapscan = off; set app.org_id = 1', /session/],
    [`select id from shop_case where org_id = $1 and notes like '%x%'`, /operator/],
  ])('%s', (text, fault) => {
    expect(faultsOf(text, tenantTables).join('; ')).toMatch(fault);
  });

  it.each([
    'select id from shop where org_id = $1 and id = $2',
    'select s.id from shop s where s.org_id = $1',
    'select c.id from shop_case c left join shop s on s.org_id = c.org_id and s.id = c.shop_id where c.org_id = $1',
    'insert into shop (org_id, id) values ($1, $2) on conflict (org_id, id) do update set name = excluded.name',
    'select shop, task from unnest($1::text[]) as shop',
    'select pg_advisory_xact_lock(hashtextextended($1, 0))',
  ])('and a good one is not: %s', (text) => {
    expect(faultsOf(text, tenantTables)).toEqual([]);
  });

  it('also when it is put together', () => {
    const source = `
      const COLUMNS = 'id, name';
      const listed = async (tx, open) => {
        const where = open ? ['org_id = $1'] : ['true'];
        return await tx.query({ name: 'a', text: \`select \${COLUMNS} from shop where \${where.join(' and ')}\`, values: [] });
      };
      const stray = 'delete from shop';`;
    const found = statementsIn('planted.ts', source);
    expect(found.statements[0]!.texts.map((text) => faultsOf(text, tenantTables).length === 0)).toEqual([true, false]);
    expect(found.stray).toEqual(['delete from shop']);
  });
});
