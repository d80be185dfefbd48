import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { splitStatements } from './statements.js';

describe('splitting a script into statements', () => {
  // Lexical cases of the PostgreSQL manual, sections 4.1.2 (strings, dollar quotes) and 4.1.5 (comments).
  it.each([
    ['two statements', 'select 1; select 2', ['select 1', 'select 2']],
    ['nothing', ' \n ; ;; -- only a comment\n/* and; another */', []],
    ['a doubled quote', "select 'it''s; one'; select 2", ["select 'it''s; one'", 'select 2']],
    ['a backslash in a plain string', "select 'a\\'; select 2", ["select 'a\\'", 'select 2']],
    ['a backslash in an escape string', "select E'a\\'; b'; select 2", ["select E'a\\'; b'", 'select 2']],
    ['an identifier that ends in e before a string', "select typ'a\\'; select 2", ["select typ'a\\'", 'select 2']],
    ['a quoted name', 'select 1 as "a;""b"; select 2', ['select 1 as "a;""b"', 'select 2']],
    ['a dollar-quoted body', 'do $$ begin; end $$; select 2', ['do $$ begin; end $$', 'select 2']],
    ['a tagged body with another inside', 'do $a$ x; $b$ ; $b$ $$ $a$; select 2', ['do $a$ x; $b$ ; $b$ $$ $a$', 'select 2']],
    ['a parameter, which opens no body', 'select $1; select $2', ['select $1', 'select $2']],
    ['dollars inside a name', 'select a$b$c; select 2', ['select a$b$c', 'select 2']],
    ['a line comment', 'select 1 -- a; b\n + 1; select 2', ['select 1 -- a; b\n + 1', 'select 2']],
    ['a nested block comment', 'select /* a; /* b; */ c; */ 1; select 2', ['select /* a; /* b; */ c; */ 1', 'select 2']],
    ['a quote inside a comment', "select 1 -- don't\n; select 2", ["select 1 -- don't", 'select 2']],
    ['a comment inside a string', "select '--'; select '/*'; select 3", ["select '--'", "select '/*'", 'select 3']],
  ])('%s', (_name, script, expected) => {
    expect(splitStatements(script)).toEqual(expected);
  });

  it.each(["select 'a", 'select "a', 'do $x$ begin', 'select /* 1'])('refuses what is not closed: %s', (script) => {
    expect(() => splitStatements(script)).toThrow(SyntaxError);
  });

  it('gives back the statements a script was joined from', () => {
    const quoted = fc.string().map((text) => `'${text.replaceAll("'", "''")}'`);
    const named = fc.string({ minLength: 1 }).map((text) => `"${text.replaceAll('"', '""')}"`);
    const body = fc.string().map((text) => `$tag$${text.replaceAll('$', '')}$tag$`);
    const comment = fc.string().map((text) => `/*${text.replaceAll(/[*/]/g, '')}*/`);
    const statement = fc
      .array(fc.oneof(fc.constantFrom('select', 'a1', '$1', ',', '=', '1.5'), quoted, named, body, comment), { maxLength: 6 })
      .map((parts) => ['do', ...parts].join(' '));
    fc.assert(
      fc.property(fc.array(statement, { maxLength: 5 }), (statements) => {
        expect(splitStatements(statements.join(';\n'))).toEqual(statements);
      }),
    );
  });
});
