import { stringify } from 'csv-stringify/sync';

/** Lines of a delimited file (RFC 4180); what a spreadsheet would compute is kept as text by a leading apostrophe. */
export async function* csvLines<T>(rows: AsyncIterable<T>, columns: readonly (keyof T & string)[]): AsyncGenerator<string> {
  yield csvLine(columns);
  for await (const row of rows) yield csvLine(columns.map((column) => cellOf(row[column])));
}

export const csvLine = (cells: readonly string[]): string => stringify([cells.map(asText)], { record_delimiter: 'windows' });

/** A cell that has an apostrophe before its formula already gets another: imports take one away, and what was meant is left. */
const asText = (cell: string): string => (/^'*[=+\-@\t\r]/.test(cell) ? `'${cell}` : cell);

const cellOf = (value: unknown): string =>
  value === null || value === undefined ? '' : Array.isArray(value) ? value.join('|') : String(value);
