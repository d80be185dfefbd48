#!/usr/bin/env node
// Drop-in stand-in for Prisma's native `schema-engine` executable.
// Speaks the same newline-delimited JSON-RPC on stdio, but runs the WebAssembly build of the
// very same engine (npm: @prisma/schema-engine-wasm, version == @prisma/engines-version) over
// @prisma/adapter-pg. Use: PRISMA_SCHEMA_ENGINE_BINARY=<abs path of this file> prisma migrate ...
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { PrismaPg } from '@prisma/adapter-pg';
import { bindMigrationAwareSqlAdapterFactory } from '@prisma/driver-adapter-utils';
import * as wasm from '@prisma/schema-engine-wasm/schema_engine_bg';
import pg from 'pg';

const wasmDir = dirname(createRequire(import.meta.url).resolve('@prisma/schema-engine-wasm/schema_engine_bg'));
const wasmVersion = () => JSON.parse(readFileSync(join(wasmDir, 'package.json'), 'utf8')).version;
const argv = process.argv.slice(2);
const opts = { datamodels: [] };
const rest = [];
for (let i = 0; i < argv.length; i++) {
  if (argv[i] === '--datamodels') opts.datamodels.push(argv[++i]);
  else if (argv[i] === '--datasource') opts.datasource = JSON.parse(argv[++i]);
  else if (argv[i] === '--enabled-preview-features' || argv[i] === '--extension-types') i++;
  else rest.push(argv[i]);
}
const url = opts.datasource?.url ?? process.env.DATABASE_URL ?? 'postgresql://invalid.invalid/none';
const log = (level, fields) =>
  process.stderr.write(`${JSON.stringify({ timestamp: new Date().toISOString(), level, fields, target: 'schema_engine::logger' })}\n`);

function split(u) {
  const p = new URL(u);
  const db = decodeURIComponent(p.pathname.slice(1)) || 'postgres';
  const schema = p.searchParams.get('schema') ?? undefined;
  for (const k of ['schema', 'connection_limit', 'pool_timeout', 'pgbouncer', 'socket_timeout', 'statement_cache_size'])
    p.searchParams.delete(k);
  return { url: p.toString(), db, schema, host: p.hostname, port: p.port || '5432', user: decodeURIComponent(p.username) };
}
function mapPgError(e, t) {
  if (e.code === '3D000') return { error_code: 'P1003', message: `Database \`${t.db}\` does not exist` };
  if (e.code === '28P01' || e.code === '28000')
    return {
      error_code: 'P1000',
      message: `Authentication failed against database server, the provided database credentials for \`${t.user}\` are not valid.`,
    };
  return { error_code: 'P1001', message: `Can't reach database server at \`${t.host}:${t.port}\` (${e.code ?? e.message})` };
}
async function withClient(u, fn) {
  const c = new pg.Client({ connectionString: u });
  await c.connect();
  try {
    return await fn(c);
  } finally {
    await c.end();
  }
}
async function createDatabase(u) {
  const t = split(u);
  const admin = new URL(t.url);
  admin.pathname = '/postgres';
  await withClient(admin.toString(), async (c) => {
    const { rowCount } = await c.query('select 1 from pg_database where datname = $1', [t.db]);
    if (rowCount) throw Object.assign(new Error(`Database \`${t.db}\` already exists`), { error_code: 'P1009' });
    await c.query(`create database ${c.escapeIdentifier(t.db)}`);
  });
  return t.db;
}

if (rest[0] === '--version' || rest[0] === '-V') {
  console.log(`schema-engine-cli ${wasmVersion()} (wasm)`);
  process.exit(0);
}
if (rest[0] === 'cli') {
  const t = split(url);
  process.stderr.write('schema-engine (wasm shim)\n'); // the CLI drops the first stderr line
  try {
    if (rest[1] === 'can-connect-to-database') await withClient(t.url, (c) => c.query('select 1'));
    else if (rest[1] === 'create-database') await createDatabase(url);
    else throw new Error(`unsupported cli command ${rest[1]}`);
    process.exit(0);
  } catch (e) {
    log('ERROR', e.error_code ? { error_code: e.error_code, message: e.message } : mapPgError(e, t));
    process.exit(1);
  }
}

let lastPanic = '';
globalThis.PRISMA_WASM_PANIC_REGISTRY = {
  set_message: (m) => {
    lastPanic = m;
  },
};
const mod = new WebAssembly.Module(readFileSync(join(wasmDir, 'schema_engine_bg.wasm')));
const inst = new WebAssembly.Instance(mod, { './schema_engine_bg.js': wasm });
wasm.__wbg_set_wasm(inst.exports);
inst.exports.__wbindgen_start();

// adapter-pg refuses catalog types it never meets in user tables; the engine's introspection
// queries return some ("char" = 18, regtype, name[] ...). Relabel them as types it knows.
const KNOWN = new Set([
  16, 17, 18, 19, 20, 21, 23, 25, 26, 114, 199, 600, 650, 651, 700, 701, 790, 791, 829, 869, 1000, 1001, 1002, 1005, 1007, 1009, 1014, 1015,
  1016, 1021, 1022, 1028, 1041, 1042, 1043, 1082, 1083, 1114, 1115, 1182, 1183, 1184, 1185, 1231, 1266, 1270, 1560, 1561, 1562, 1563, 1700,
  2950, 2951, 3802, 3807,
]);
function relabel(queryable) {
  const io = queryable.performIO.bind(queryable);
  queryable.performIO = async (q) => {
    const r = await io(q);
    for (const f of r.fields ?? []) {
      if (f.dataTypeID === 18) f.dataTypeID = 1042;
      else if (f.dataTypeID === 1003) f.dataTypeID = 1009;
      else if (f.dataTypeID < 16384 && !KNOWN.has(f.dataTypeID)) f.dataTypeID = 25;
    }
    return r;
  };
  // Upstream splits scripts on every ';' (breaks DO $$ ... $$ and function bodies); the native engine sends
  // the whole script as one simple query, so do the same.
  if (queryable.executeScript)
    queryable.executeScript = async (sql) => {
      try {
        await queryable.client.query(sql);
      } catch (e) {
        queryable.onError(e);
      }
    };
  if (queryable.startTransaction) {
    const st = queryable.startTransaction.bind(queryable);
    queryable.startTransaction = async (...a) => relabel(await st(...a));
  }
  return queryable;
}
class MigrationPg extends PrismaPg {
  constructor(target) {
    super({ connectionString: target.url }, { schema: target.schema });
    this.target = target;
  }
  async connect() {
    return relabel(await super.connect());
  }
  // Upstream passes { connectionString, database }, and pg lets connectionString win, so its "shadow"
  // database is the real one (adapter-pg 7.10.0). Build a truly separate, throw-away database.
  async connectToShadowDb() {
    const name = `prisma_migrate_shadow_db_${globalThis.crypto.randomUUID()}`;
    const u = new URL(this.target.url);
    u.pathname = '/postgres';
    const admin = u.toString();
    await withClient(admin, (c) => c.query(`create database ${c.escapeIdentifier(name)} template template0`));
    const shadow = new URL(this.target.url);
    shadow.pathname = `/${name}`;
    const adapter = relabel(await new PrismaPg({ connectionString: shadow.toString() }, { schema: this.target.schema }).connect());
    const dispose = adapter.dispose.bind(adapter);
    adapter.dispose = async () => {
      await dispose();
      await withClient(admin, (c) => c.query(`drop database if exists ${c.escapeIdentifier(name)} with (force)`));
    };
    return adapter;
  }
}

let opening;
function engine() {
  opening ??= (async () => {
    const t = split(url);
    const factory = bindMigrationAwareSqlAdapterFactory(new MigrationPg(t));
    const datamodels = opts.datamodels.map((f) => [f, readFileSync(f, 'utf8')]);
    return wasm.SchemaEngine.new(
      { datamodels: datamodels.length ? datamodels : undefined },
      (m) => {
        if (process.env.PRISMA_SHIM_DEBUG) process.stderr.write(`${String(m)}\n`);
      },
      factory,
    );
  })();
  return opening;
}
const send = (o) => process.stdout.write(`${JSON.stringify(o)}\n`);
let printId = 1;
async function handle({ id, method, params }) {
  try {
    let result;
    if (method === 'createDatabase') {
      result = { databaseName: await createDatabase(params?.datasource?.url ?? url) };
    } else {
      const e = await engine();
      const name = method === 'getDatabaseVersion' ? 'version' : method;
      if (typeof e[name] !== 'function') throw new Error(`method ${method} is not in the wasm engine`);
      result = await e[name](params ?? {});
      if (method === 'diff' && result?.stdout != null) {
        send({ jsonrpc: '2.0', id: `print-${printId++}`, method: 'print', params: { content: result.stdout.replace(/\n$/, '') } });
      }
    }
    send({ jsonrpc: '2.0', id, result: result ?? null });
  } catch (e) {
    const panic = e?.name === 'RuntimeError' || e instanceof WebAssembly.RuntimeError;
    const message = panic ? lastPanic || String(e) : (e?.message ?? String(e));
    const code = e?.error_code ?? e?.code;
    send({
      jsonrpc: '2.0',
      id,
      error: {
        code: 4466,
        message: 'An error happened. Check the data field for details.',
        data: {
          is_panic: panic,
          message,
          meta: null,
          error_code: typeof code === 'string' && /^P\d+/.test(code) ? code : null,
          ...(panic ? { error: { message } } : {}),
        },
      },
    });
  }
}
const pending = new Set();
const rl = createInterface({ input: process.stdin, crlfDelay: Infinity });
rl.on('line', (line) => {
  if (!line.trim()) return;
  const msg = JSON.parse(line);
  if (!msg.method) return; // a response to `print`
  const p = handle(msg).finally(() => pending.delete(p));
  pending.add(p);
});
rl.on('close', async () => {
  await Promise.allSettled(pending);
  process.exit(0);
});
