import { randomUUID } from 'node:crypto';
import { createReadStream, createWriteStream, statSync } from 'node:fs';
import { extname } from 'node:path';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { ImportRowPage, ImportRun } from '#libs/contracts/index.js';
import { progressBar } from './progress.js';
import { answerOf, type ServerAddress, type ServerOptions, serverOf } from './server.js';

interface ImportOptions extends ServerOptions {
  readonly map?: string;
  readonly dryRun?: boolean;
  readonly backfill?: boolean;
  readonly shop?: string;
  readonly system?: string;
  readonly errors?: string;
  readonly json?: boolean;
}

const TYPES: Readonly<Record<string, string>> = {
  '.ndjson': 'application/x-ndjson',
  '.jsonl': 'application/x-ndjson',
  '.csv': 'text/csv',
  '.tsv': 'text/tab-separated-values',
  '.txt': 'text/csv',
};
const SHOWN = 10;
/** Exit code when the file was worked through, but rows were refused. */
const SOME_REFUSED = 2;

/** Sends a file and waits for its end. Interrupted, it can be started again: orders that are there already change nothing. */
export async function importCommand(file: string, options: ImportOptions): Promise<void> {
  const server = serverOf(options, 'integrator');
  const sent = await upload(server, file, options);
  const run = await waitFor(server, sent);
  const refused = run.rejected > 0 ? await rejectedRows(server, run.id) : [];
  if (options.errors !== undefined && run.rejected > 0) await writeErrorFile(server, run, options.errors);
  if (options.json) console.log(JSON.stringify({ ...run, firstRejected: refused }));
  else say(run, refused, options.errors);
  if (run.state === 'failed') process.exitCode = 1;
  else if (run.rejected > 0) process.exitCode = SOME_REFUSED;
}

async function upload(server: ServerAddress, file: string, options: ImportOptions): Promise<ImportRun> {
  const gzip = file.endsWith('.gz');
  const type = TYPES[extname(gzip ? file.slice(0, -3) : file).toLowerCase()];
  if (!type) throw new Error(`What is ${file}? Name it .ndjson, .csv or .tsv, with .gz behind when it is compressed.`);
  const size = statSync(file).size;
  const query = new URLSearchParams();
  const add = (name: string, value: string | undefined) => value !== undefined && query.set(name, value);
  add('mapping', options.map);
  add('shopCode', options.shop);
  add('system', options.system);
  if (options.dryRun) query.set('dryRun', 'true');
  if (options.backfill) query.set('backfill', 'true');
  const bar = progressBar('sending', size);
  let done = 0;
  const counted = new Transform({
    transform(chunk: Buffer, _encoding, next) {
      done += chunk.length;
      bar.update(done);
      next(null, chunk);
    },
  });
  try {
    const body = Readable.toWeb(createReadStream(file).pipe(counted)) as never;
    const request = {
      method: 'POST',
      headers: {
        authorization: `Bearer ${server.key}`,
        'content-type': type,
        'idempotency-key': randomUUID(),
        ...(gzip ? { 'content-encoding': 'gzip' } : {}),
      },
      body,
      duplex: 'half',
    } as RequestInit;
    const text = query.toString();
    const response = await answerOf(fetch(`${server.url}/v1/imports${text === '' ? '' : `?${text}`}`, request), server.url);
    return ImportRun.parse(await response.json());
  } finally {
    bar.stop();
  }
}

async function waitFor(server: ServerAddress, sent: ImportRun): Promise<ImportRun> {
  const bar = progressBar(sent.dryRun ? 'judging' : 'storing', sent.received);
  let run = sent;
  try {
    while (run.state !== 'done' && run.state !== 'failed') {
      await sleep(400);
      run = ImportRun.parse(await (await get(server, `/v1/imports/${sent.id}`)).json());
      bar.update(run.done);
    }
  } finally {
    bar.stop();
  }
  return run;
}

const get = (server: ServerAddress, path: string): Promise<Response> =>
  answerOf(fetch(`${server.url}${path}`, { headers: { authorization: `Bearer ${server.key}` } }), server.url);

async function rejectedRows(server: ServerAddress, id: string): Promise<ImportRowPage['data']> {
  return ImportRowPage.parse(await (await get(server, `/v1/imports/${id}/rows?outcome=rejected&first=${SHOWN}`)).json()).data;
}

async function writeErrorFile(server: ServerAddress, run: ImportRun, file: string): Promise<void> {
  const response = await get(server, `/v1/imports/${run.id}/errors?format=${run.format}`);
  await pipeline(Readable.fromWeb(response.body as never), createWriteStream(file));
}

function say(run: ImportRun, refused: ImportRowPage['data'], errors: string | undefined): void {
  const would = run.dryRun ? 'would be ' : '';
  console.log(
    `${run.received} rows: ${run.opened} ${would}opened, ${run.revised} ${would}revised, ${run.unchanged} unchanged, ${run.rejected} refused.`,
  );
  if (run.detail) console.log(run.detail);
  for (const row of refused) {
    console.log(`line ${row.line}${row.reference === null ? '' : ` (${row.reference})`}`);
    for (const { column, pointer, detail, remedy } of row.problems)
      console.log(`  ${column ?? pointer}: ${detail} ${remedy ?? ''}`.trimEnd());
  }
  if (run.rejected > refused.length) console.log(`… and ${run.rejected - refused.length} more.`);
  if (run.rejected > 0)
    console.log(
      errors === undefined
        ? `All of them: --errors FILE, or GET /v1/imports/${run.id}/errors.`
        : `All of them, with what was sent: ${errors}`,
    );
}
