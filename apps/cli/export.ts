import { createReadStream, createWriteStream } from 'node:fs';
import { rename } from 'node:fs/promises';
import { createInterface } from 'node:readline';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { openCasebook } from '#libs/casebook/index.js';
import { createPool, openDatabase, serverSecret } from '#libs/database/index.js';
import { answerOf, type ServerOptions, serverOf } from './server.js';

interface ExportOptions extends ServerOptions {
  readonly passphraseEnv?: string;
  readonly json?: boolean;
}

/** The passphrase from the variable that is named: one given as an option would stand in the list of processes. */
function passphraseFrom(variable: string | undefined): string | null {
  if (variable === undefined) return null;
  const passphrase = process.env[variable];
  if (!passphrase) throw new Error(`The variable ${variable} is not set.`);
  return passphrase;
}

/** Writes the whole organisation into a file, which is there when it is whole. */
export async function exportCommand(file: string, options: ExportOptions): Promise<void> {
  const server = serverOf(options, 'administrator');
  const passphrase = passphraseFrom(options.passphraseEnv);
  const headers = { authorization: `Bearer ${server.key}`, ...(passphrase === null ? {} : { 'export-passphrase': passphrase }) };
  const response = await answerOf(fetch(`${server.url}/v1/export`, { headers }), server.url);
  let bytes = 0;
  let tail = '';
  let said = Date.now();
  const counted = new Transform({
    transform(chunk: Buffer, _encoding, next) {
      bytes += chunk.length;
      tail = (tail + chunk.toString('latin1')).slice(-4_000);
      if (Date.now() - said > 1_000) {
        said = Date.now();
        process.stderr.write(`\r${(bytes / 1e6).toFixed(1)} MB`);
      }
      next(null, chunk);
    },
  });
  const draft = `${file}.part`;
  await pipeline(Readable.fromWeb(response.body as never), counted, createWriteStream(draft, { mode: 0o600 }));
  const last = JSON.parse(tail.trimEnd().split('\n').at(-1) ?? '{}') as { end?: boolean; rows?: Record<string, number> };
  if (last.end !== true) throw new Error('The export was cut. Try again.');
  await rename(draft, file);
  const rows = Object.values(last.rows!).reduce((sum, count) => sum + count, 0);
  if (process.stderr.isTTY) process.stderr.write('\r');
  console.log(options.json ? JSON.stringify({ file, bytes, rows: last.rows }) : `${rows} rows, ${(bytes / 1e6).toFixed(1)} MB in ${file}`);
  if (passphrase === null && !options.json)
    console.log(
      'Without a passphrase the key of the hashes stays here: cars of this file will not be known again elsewhere. See --passphrase-env.',
    );
}

/** Opened when the first line is asked for: readline loses lines that come before anyone listens. */
async function* linesOf(file: string): AsyncGenerator<string> {
  yield* createInterface({ input: createReadStream(file), crlfDelay: Number.POSITIVE_INFINITY });
}

/** Founds an organisation from an export, directly in the database. */
export async function foundFromCommand(file: string, options: { readonly passphraseEnv?: string; readonly json?: boolean }): Promise<void> {
  const passphrase = passphraseFrom(options.passphraseEnv);
  const database = await openDatabase(process.env);
  const pool = createPool(database.appUrl, { max: 1 });
  try {
    const casebook = openCasebook(pool, serverSecret(process.env, database.directory));
    const { orgId, secret, rows } = await casebook.leaving.restoreOrganisation(linesOf(file), passphrase);
    console.log(
      options.json
        ? JSON.stringify({ organisation: orgId, key: secret, rows })
        : `${rows} rows\norganisation ${orgId}\nadministrator key (shown this once) ${secret}`,
    );
  } finally {
    await pool.end();
    await database.close();
  }
}

/** Erases an organisation with everything it has. Needs the owner's role, which alone may delete from the audit trail. */
export async function eraseCommand(organisation: string, options: { readonly yes?: boolean; readonly json?: boolean }): Promise<void> {
  if (!options.yes) throw new Error('This cannot be undone. Export first ("coolback export"), then say --yes.');
  const database = await openDatabase(process.env);
  if (database.ownerUrl === null) throw new Error('Erasing needs DATABASE_OWNER_URL.');
  const pool = createPool(database.ownerUrl, { max: 1 });
  try {
    const erased = await openCasebook(pool, serverSecret(process.env, database.directory)).leaving.eraseOrganisation(organisation);
    const rows = Object.values(erased).reduce((sum, count) => sum + count, 0);
    if (erased['organisation'] === 0) throw new Error(`There is no organisation ${organisation}.`);
    console.log(options.json ? JSON.stringify({ organisation, erased }) : `${rows} rows erased. Backups made before still hold them.`);
  } finally {
    await pool.end();
    await database.close();
  }
}
