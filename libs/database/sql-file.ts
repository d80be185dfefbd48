import { readFileSync } from 'node:fs';
import { basename } from 'node:path';
import { fileURLToPath } from 'node:url';
import { splitStatements } from './statements.js';

/** What the header comment of a statement file has to say before anything reads the file. */
const HEADINGS = ['question', 'parameters', 'grain'] as const;

/**
 * The one statement of an .sql file that lies beside the feature asking the question: `sqlFile(import.meta.url, './sql/tally.sql')`.
 * Its name is the file's. Its header says the question, the parameters and what one row stands for, a line each:
 * `-- question: …`, `-- parameters: …`, `-- grain: …`.
 */
export function sqlFile(module: string, path: string): { readonly name: string; readonly text: string } {
  const file = fileURLToPath(new URL(path, module));
  const script = readFileSync(file, 'utf8');
  for (const heading of HEADINGS) {
    if (!new RegExp(`^--\\s*${heading}:\\s*\\S`, 'im').test(script))
      throw new Error(`${basename(file)}: the header has no line "-- ${heading}:"`);
  }
  const [text, ...more] = splitStatements(script);
  if (text === undefined || more.length > 0) throw new Error(`${basename(file)}: one file holds one statement`);
  return Object.freeze({ name: basename(file, '.sql'), text });
}
