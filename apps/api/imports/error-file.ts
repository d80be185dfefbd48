import type { Casebook } from '#libs/casebook/index.js';
import { csvLine } from '../leaving/csv-lines.js';

type Rejected = ReturnType<Casebook['imports']['rejectedRows']>;

/** The rejected rows as a file: what was sent, and beside it why each was refused. A delimited one can be mended and sent again as it is. */
export async function* errorFile(rows: Rejected, format: 'ndjson' | 'csv', columns: readonly string[]): AsyncGenerator<string> {
  if (format === 'csv') yield csvLine([...columns, 'line_in_file', 'why_refused']);
  for await (const { row, entry } of rows) {
    const why = row.problems
      .map(({ pointer, column, detail, remedy }) => [column ?? pointer, detail, remedy].filter(Boolean).join(' '))
      .join(' | ');
    if (format === 'ndjson') {
      yield `${JSON.stringify({ line: row.line, reference: row.reference, sent: sent(entry), problems: row.problems })}\n`;
      continue;
    }
    const records = typeof entry?.raw === 'object' ? entry.raw : [[typeof entry?.raw === 'string' ? entry.raw : '']];
    for (const record of records)
      yield csvLine([...columns.map((_, i) => record[i] ?? ''), ...(columns.length === 0 ? record : []), String(row.line), why]);
  }
}

function sent(entry: { raw: string | readonly (readonly string[])[] } | null): unknown {
  if (entry === null || typeof entry.raw !== 'string') return entry?.raw ?? null;
  try {
    return JSON.parse(entry.raw);
  } catch {
    return entry.raw;
  }
}
