#!/usr/bin/env node
// Stands in for Prisma's native `schema-engine` executable: the same newline-delimited JSON-RPC on stdin and stdout, answered by the
// WebAssembly build of the same engine over @prisma/adapter-pg. The version of @prisma/schema-engine-wasm has to be exactly that of
// @prisma/engines-version of the installed Prisma: look both up at every upgrade.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { PrismaPg } from '@prisma/adapter-pg';
import { bindMigrationAwareSqlAdapterFactory } from '@prisma/driver-adapter-utils';
import * as wasm from '@prisma/schema-engine-wasm/schema_engine_bg';
import pg from 'pg';

const wasmFolder = dirname(createRequire(import.meta.url).resolve('@prisma/schema-engine-wasm/schema_engine_bg'));

function parseArguments(argv) {
  const parsed = { datamodels: [], datasource: undefined, command: [] };
  for (let i = 0; i < argv.length; i += 1) {
    if (argv[i] === '--datamodels') parsed.datamodels.push(argv[++i]);
    else if (argv[i] === '--datasource') parsed.datasource = JSON.parse(argv[++i]);
    else if (argv[i] === '--enabled-preview-features' || argv[i] === '--extension-types') i += 1;
    else parsed.command.push(argv[i]);
  }
  return parsed;
}
const { datamodels, datasource, command } = parseArguments(process.argv.slice(2));
const databaseUrl = datasource?.url ?? process.env['DATABASE_OWNER_URL'] ?? 'postgresql://127.0.0.1:1/none';

const PRISMA_ONLY_PARAMETERS = ['schema', 'connection_limit', 'pool_timeout', 'pgbouncer', 'socket_timeout', 'statement_cache_size'];
function targetOf(url) {
  const parsed = new URL(url);
  const database = decodeURIComponent(parsed.pathname.slice(1)) || 'postgres';
  const schema = parsed.searchParams.get('schema') ?? undefined;
  for (const name of PRISMA_ONLY_PARAMETERS) parsed.searchParams.delete(name);
  return {
    url: parsed.toString(),
    database,
    schema,
    host: parsed.hostname,
    port: parsed.port || '5432',
    user: decodeURIComponent(parsed.username),
  };
}
function inDatabase(url, database) {
  const changed = new URL(url);
  changed.pathname = `/${encodeURIComponent(database)}`;
  return changed.toString();
}
async function withClient(url, work) {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}

class EngineError extends Error {
  constructor(code, message) {
    super(message);
    this.error_code = code;
  }
}
function connectionError(error, target) {
  if (error.code === '3D000') return new EngineError('P1003', `Database \`${target.database}\` does not exist`);
  if (error.code === '28P01' || error.code === '28000')
    return new EngineError(
      'P1000',
      `Authentication failed against database server, the provided database credentials for \`${target.user}\` are not valid.`,
    );
  return new EngineError('P1001', `Can't reach database server at \`${target.host}:${target.port}\` (${error.code ?? error.message})`);
}
async function createDatabase(url) {
  const target = targetOf(url);
  await withClient(inDatabase(target.url, 'postgres'), async (client) => {
    const { rowCount } = await client.query('select 1 from pg_database where datname = $1', [target.database]);
    if (rowCount) throw new EngineError('P1009', `Database \`${target.database}\` already exists`);
    await client.query(`create database ${client.escapeIdentifier(target.database)}`);
  });
  return target.database;
}

/** The two `cli` subcommands and `--version`: answered by exit code, errors as one JSON line of log. */
async function runCommand([name, subcommand]) {
  if (name !== 'cli') {
    console.log(`schema-engine-cli ${JSON.parse(readFileSync(join(wasmFolder, 'package.json'), 'utf8')).version} (wasm)`);
    return 0;
  }
  process.stderr.write('schema-engine\n'); // the caller drops the first line
  const target = targetOf(databaseUrl);
  try {
    if (subcommand === 'can-connect-to-database') await withClient(target.url, (client) => client.query('select 1'));
    else if (subcommand === 'create-database') await createDatabase(databaseUrl);
    else throw new EngineError('P0000', `unsupported command ${subcommand}`);
    return 0;
  } catch (error) {
    const { error_code, message } = error.error_code ? error : connectionError(error, target);
    const line = { timestamp: new Date().toISOString(), level: 'ERROR', fields: { error_code, message }, target: 'schema_engine::logger' };
    process.stderr.write(`${JSON.stringify(line)}\n`);
    return 1;
  }
}

// Types adapter-pg 7.10.0 knows. The engine's own catalogue queries return others ("char", name[], regtype …), which are relabelled.
const KNOWN_TYPES = new Set([
  16, 17, 19, 20, 21, 23, 25, 26, 114, 199, 600, 650, 651, 700, 701, 790, 791, 829, 869, 1000, 1001, 1002, 1005, 1007, 1009, 1014, 1015,
  1016, 1021, 1022, 1028, 1041, 1042, 1043, 1082, 1083, 1114, 1115, 1182, 1183, 1184, 1185, 1231, 1266, 1270, 1560, 1561, 1562, 1563, 1700,
  2950, 2951, 3802, 3807,
]);
const FIRST_USER_TYPE = 16384;
function knownType(type) {
  if (type === 18) return 1042; // "char" as bpchar
  if (type === 1003) return 1009; // name[] as text[]
  return type < FIRST_USER_TYPE && !KNOWN_TYPES.has(type) ? 25 : type;
}
function adapted(connection) {
  const performIO = connection.performIO.bind(connection);
  connection.performIO = async (query) => {
    const result = await performIO(query);
    for (const field of result.fields ?? []) field.dataTypeID = knownType(field.dataTypeID);
    return result;
  };
  // adapter-pg cuts scripts at every ';', also inside function bodies; the native engine sends a script as one simple query.
  if (connection.executeScript) {
    connection.executeScript = async (script) => {
      try {
        await connection.client.query(script);
      } catch (error) {
        connection.onError(error);
      }
    };
  }
  if (connection.startTransaction) {
    const startTransaction = connection.startTransaction.bind(connection);
    connection.startTransaction = async (...args) => adapted(await startTransaction(...args));
  }
  return connection;
}

class MigrationAdapter extends PrismaPg {
  constructor(target) {
    super({ connectionString: target.url }, { schema: target.schema });
    this.target = target;
  }
  async connect() {
    return adapted(await super.connect());
  }
  // adapter-pg passes { connectionString, database }, of which pg takes the former: its "shadow" would be the real database.
  async connectToShadowDb() {
    const name = `prisma_migrate_shadow_db_${globalThis.crypto.randomUUID()}`;
    const admin = inDatabase(this.target.url, 'postgres');
    await withClient(admin, (client) => client.query(`create database ${client.escapeIdentifier(name)} template template0`));
    const shadow = adapted(
      await new PrismaPg({ connectionString: inDatabase(this.target.url, name) }, { schema: this.target.schema }).connect(),
    );
    const dispose = shadow.dispose.bind(shadow);
    shadow.dispose = async () => {
      await dispose();
      await withClient(admin, (client) => client.query(`drop database if exists ${client.escapeIdentifier(name)} with (force)`));
    };
    return shadow;
  }
}

let lastPanic = '';
let started;
function engine() {
  started ??= (async () => {
    globalThis.PRISMA_WASM_PANIC_REGISTRY = { set_message: (message) => (lastPanic = message) };
    const module = new WebAssembly.Module(readFileSync(join(wasmFolder, 'schema_engine_bg.wasm')));
    const instance = new WebAssembly.Instance(module, { './schema_engine_bg.js': wasm });
    wasm.__wbg_set_wasm(instance.exports);
    instance.exports.__wbindgen_start();
    const files = datamodels.map((file) => [file, readFileSync(file, 'utf8')]);
    const factory = bindMigrationAwareSqlAdapterFactory(new MigrationAdapter(targetOf(databaseUrl)));
    return await wasm.SchemaEngine.new({ datamodels: files.length > 0 ? files : undefined }, () => {}, factory);
  })();
  return started;
}

const send = (message) => process.stdout.write(`${JSON.stringify({ jsonrpc: '2.0', ...message })}\n`);
let prints = 0;
async function answer({ id, method, params }) {
  try {
    let result;
    if (method === 'createDatabase') result = { databaseName: await createDatabase(params?.datasource?.url ?? databaseUrl) };
    else {
      const running = await engine();
      const name = method === 'getDatabaseVersion' ? 'version' : method;
      if (typeof running[name] !== 'function') throw new EngineError('P0000', `method ${method} is not in the engine`);
      result = await running[name](params ?? {});
      if (method === 'diff' && result?.stdout != null) {
        prints += 1;
        send({ id: `print-${prints}`, method: 'print', params: { content: result.stdout.replace(/\n$/, '') } });
      }
    }
    send({ id, result: result ?? null });
  } catch (error) {
    const panicked = error instanceof WebAssembly.RuntimeError;
    const message = panicked ? lastPanic || String(error) : (error?.message ?? String(error));
    const code = error?.error_code ?? error?.code;
    const data = { is_panic: panicked, message, meta: null, error_code: /^P\d+/.test(String(code)) ? code : null };
    const panic = panicked ? { error: { message } } : {};
    send({ id, error: { code: 4466, message: 'An error happened. Check the data field for details.', data: { ...data, ...panic } } });
  }
}

if (command.length > 0) process.exit(await runCommand(command));
const pending = new Set();
const requests = createInterface({ input: process.stdin, crlfDelay: Number.POSITIVE_INFINITY });
requests.on('line', (line) => {
  const message = line.trim() === '' ? {} : JSON.parse(line);
  if (!message.method) return; // the answer to a `print`
  const work = answer(message).finally(() => pending.delete(work));
  pending.add(work);
});
requests.on('close', async () => {
  await Promise.allSettled(pending);
  process.exit(0);
});
