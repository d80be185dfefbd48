import { createHash } from 'node:crypto';
import { pipeline, Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';
import { type CsvError, parse } from 'csv-parse';
import type { ImportFormat, ImportMapping } from '#libs/contracts/index.js';
import { detectDialect } from './dialect.js';
import { type ColumnUse, readHeading } from './heading.js';
import { FileTooLarge, FileUnreadable, HeadingRefused } from './imports.errors.js';
import { storable } from './storable.js';

/** One order as it stands in the file: a line of NDJSON, or the records of a delimited file that belong together. */
export interface Entry {
  readonly line: number;
  readonly raw: string | readonly (readonly string[])[];
  readonly fault?: 'too-long' | 'encoding';
}

export interface ReadLimits {
  readonly maxInflatedBytes: number;
  readonly maxLineBytes: number;
  /** Inflated bytes a compressed byte may become, beyond the first megabytes: no honest text comes near it. */
  readonly maxRatio: number;
}
export const READ_LIMITS: ReadLimits = { maxInflatedBytes: 8 * 2 ** 30, maxLineBytes: 2 ** 20, maxRatio: 200 };
const HEAD_BYTES = 64 * 1024;
const MAX_GROUP = 200;

export interface FileBody {
  readonly bytes: AsyncIterable<Buffer>;
  readonly gzip: boolean;
}

export interface OpenedFile {
  /** Headings of a delimited file. */
  readonly columns: readonly string[];
  readonly entries: AsyncGenerator<Entry>;
  /** SHA-256 of the bytes as they were received; complete once the entries are. */
  digest(): Buffer;
}

/**
 * Opens a file for reading once, from front to back, in bounded memory.
 * @throws HeadingRefused, FileUnreadable, FileTooLarge; the last two also while entries are read.
 */
export async function openFile(body: FileBody, format: ImportFormat, mapping: ImportMapping, limits = READ_LIMITS): Promise<OpenedFile> {
  const hash = createHash('sha256');
  const bytes = plainBytes(body, hash, limits);
  const digest = () => hash.copy().digest();
  if (format === 'ndjson') return { columns: [], entries: ndjsonEntries(bytes, limits), digest };
  const { head, rest } = await takeHead(bytes);
  if (head.length >= 2 && ((head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff)))
    throw new FileUnreadable('it is UTF-16. Save it as UTF-8.');
  const { delimiter, encoding } = detectDialect(head, mapping.delimiter);
  const parser = parse({
    delimiter,
    bom: true,
    info: true,
    relax_column_count: true,
    relax_quotes: true,
    skip_empty_lines: true,
    skip_records_with_empty_values: true,
    max_record_size: limits.maxLineBytes,
  });
  pipeline(Readable.from(encoding === 'utf-8' ? rest : inUtf8(rest)), parser, () => {});
  const records = csvRecords(parser);
  const first = await records.next();
  if (first.done) throw new FileUnreadable('it is empty.');
  const columns = first.value.record.map((heading) => storable(heading.trim()));
  const { uses, issues } = readHeading(columns, mapping);
  if (issues.length > 0) {
    parser.destroy();
    throw new HeadingRefused(issues);
  }
  return { columns, entries: grouped(records, uses), digest };
}

async function* plainBytes(body: FileBody, hash: ReturnType<typeof createHash>, limits: ReadLimits): AsyncGenerator<Buffer> {
  let received = 0;
  async function* counted() {
    for await (const chunk of body.bytes) {
      received += chunk.length;
      hash.update(chunk);
      yield chunk;
    }
  }
  const source = body.gzip ? pipeline(Readable.from(counted()), createGunzip(), () => {}) : counted();
  let inflated = 0;
  try {
    for await (const chunk of source as AsyncIterable<Buffer>) {
      inflated += chunk.length;
      if (inflated > limits.maxInflatedBytes) throw new FileTooLarge(`The file is larger than ${limits.maxInflatedBytes} bytes.`);
      if (body.gzip && inflated > 2 ** 23 + received * limits.maxRatio)
        throw new FileTooLarge(`The file inflates to more than ${limits.maxRatio} times its size, as no honest file does.`);
      yield chunk;
    }
  } catch (error) {
    const code = (error as { code?: string }).code;
    if (code?.startsWith('Z_')) throw new FileUnreadable(`its compression is damaged (${code}).`, { cause: error });
    throw error;
  }
}

async function takeHead(bytes: AsyncGenerator<Buffer>): Promise<{ head: Buffer; rest: AsyncGenerator<Buffer> }> {
  const parts: Buffer[] = [];
  let length = 0;
  while (length < HEAD_BYTES) {
    const next = await bytes.next();
    if (next.done) break;
    parts.push(next.value);
    length += next.value.length;
  }
  async function* rest() {
    yield* parts;
    yield* bytes;
  }
  return { head: Buffer.concat(parts).subarray(0, HEAD_BYTES), rest: rest() };
}

async function* inUtf8(bytes: AsyncGenerator<Buffer>): AsyncGenerator<Buffer> {
  const decoder = new TextDecoder('windows-1252');
  for await (const chunk of bytes) yield Buffer.from(decoder.decode(chunk, { stream: true }));
}

/** Lines between line feeds; a carriage return before one is not part of the line, and blank lines are none. */
async function* ndjsonEntries(bytes: AsyncGenerator<Buffer>, limits: ReadLimits): AsyncGenerator<Entry> {
  const decoder = new TextDecoder('utf-8', { fatal: true });
  let line = 0;
  let parts: Buffer[] = [];
  let length = 0;
  const take = (): Entry | null => {
    line++;
    const whole = parts.length === 1 ? parts[0]! : Buffer.concat(parts);
    const tooLong = length > limits.maxLineBytes;
    parts = [];
    length = 0;
    if (tooLong) return { line, raw: '', fault: 'too-long' };
    try {
      const text = decoder.decode(whole).trim();
      return text === '' ? null : { line, raw: text };
    } catch {
      return { line, raw: whole.toString('latin1'), fault: 'encoding' };
    }
  };
  for await (const chunk of bytes) {
    let start = 0;
    for (;;) {
      const end = chunk.indexOf(10, start);
      const part = chunk.subarray(start, end < 0 ? chunk.length : end);
      length += part.length;
      if (length <= limits.maxLineBytes && part.length > 0) parts.push(part);
      if (end < 0) break;
      start = end + 1;
      const entry = take();
      if (entry) yield entry;
    }
  }
  if (length > 0) {
    const entry = take();
    if (entry) yield entry;
  }
}

interface CsvRecord {
  readonly record: string[];
  readonly line: number;
}

async function* csvRecords(parser: AsyncIterable<unknown>): AsyncGenerator<CsvRecord> {
  try {
    for await (const { record, info } of parser as AsyncIterable<{ record: string[]; info: { lines: number } }>) {
      // `lines` counts to the record's last line; a cell may hold line breaks of its own.
      const breaks = record.reduce((sum, cell) => sum + (cell.match(/\r\n|\r|\n/g)?.length ?? 0), 0);
      yield { record, line: Math.max(1, info.lines - breaks) };
    }
  } catch (error) {
    const code = (error as CsvError).code;
    if (typeof code === 'string' && code.startsWith('CSV_')) throw new FileUnreadable(`${(error as Error).message}.`, { cause: error });
    throw error;
  }
}

/** Records that follow each other with the same order number (and system and revision) are lines of one order. */
async function* grouped(records: AsyncGenerator<CsvRecord>, uses: readonly ColumnUse[]): AsyncGenerator<Entry> {
  const at = (field: string) => uses.findIndex((use) => use.field === field);
  const keyColumns = [at('reference'), at('system'), at('revision')];
  const keyOf = (record: readonly string[]) =>
    keyColumns[0]! < 0 || (record[keyColumns[0]!] ?? '').trim() === ''
      ? null
      : JSON.stringify(keyColumns.map((i) => (i < 0 ? '' : (record[i] ?? '').trim())));
  let open: { key: string | null; line: number; records: string[][] } | null = null;
  const entryOf = ({ line, records: raw }: { line: number; records: string[][] }): Entry => ({
    line,
    raw,
    ...(raw.some((record) => record.some((cell) => cell.includes('\ufffd'))) ? { fault: 'encoding' as const } : {}),
  });
  for await (const { record, line } of records) {
    const key = keyOf(record);
    if (open && key !== null && open.key === key && open.records.length < MAX_GROUP) {
      open.records.push(record);
      continue;
    }
    if (open) yield entryOf(open);
    open = { key, line, records: [record] };
  }
  if (open) yield entryOf(open);
}
