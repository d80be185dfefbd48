import { stringify } from 'csv-stringify/sync';

/** Lines of a delimited file (RFC 4180); what a spreadsheet would compute is kept as text by a leading apostrophe. */
export async function* csvLines<T>(rows: AsyncIterable<T>, columns: readonly (keyof T & string)[]): AsyncGenerator<string> {
  yield csvLine(columns);
  for await (const row of rows) yield csvLine(columns.map((column) => cellOf(row[column])));
}

export const csvLine = (cells: readonly string[]): string =>
  stringify([cells as string[]], { escape_formulas: true, record_delimiter: 'windows' });

const cellOf = (value: unknown): string =>
  value === null || value === undefined ? '' : Array.isArray(value) ? value.join('|') : String(value);
