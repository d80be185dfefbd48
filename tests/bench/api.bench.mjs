// The list of twenty cases, over both transports, against peers on the same database, the same role and the same policies.
import { execFileSync, fork } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import pg from 'pg';
import { openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { createPool, openDatabase } from '#libs/database/index.js';
import { compare, newAgent, send } from './load.mjs';

const here = (path) => fileURLToPath(new URL(path, import.meta.url));
const CASES = 4_000;
const CONNECTIONS = 8;
const PLAN = { rounds: Number(process.env.COOLBACK_BENCH_ROUNDS ?? 10), count: 400, connections: CONNECTIONS };
const FIELDS =
  'id version evidenceRevision shopId vehicleId platformId status complaint openedAt closedAt leadingFault leadingProbability provedFaults odometerKm';

/** Two organisations with thousands of cases each: one case made by the casebook, the rest copied from it in one statement. */
async function seed(database) {
  const statements = [];
  const pool = createPool(database.appUrl, { onStatement: (statement) => statements.push(statement) });
  const casebook = openCasebook(pool, Buffer.alloc(32, 7));
  const owner = new pg.Client({ connectionString: database.superUrl });
  await owner.connect();
  const made = [];
  for (const slug of ['first', 'second']) {
    const { orgId, secret } = await casebook.access.foundOrganisation({ name: slug, slug: `${slug}-${randomUUID()}`, demo: false });
    const actor = {
      orgId,
      credentialId: orgId,
      role: 'administrator',
      permissions: ROLE_PERMISSIONS.administrator,
      shopIds: null,
      requestId: 'bench',
    };
    const normals = Array.from({ length: 12 }, () => ({ meanC: 15, sdC: 4 }));
    await casebook.shops.addShop(actor, {
      code: 'a',
      name: 'A',
      elevationM: 100,
      timeZone: 'UTC',
      normals,
      currency: 'EUR',
      labourRate: 50,
    });
    await casebook.cases.openCase(actor, { shopCode: 'a', vehicle: { vin: '1M8GDM9AXKP042788' }, complaint: 'cools-poorly' });
    const { rows } = await owner.query(
      `select column_name as name from information_schema.columns where table_name = 'shop_case' and is_generated = 'NEVER' order by ordinal_position`,
    );
    const values = rows.map(({ name }) =>
      name === 'id' ? 'gen_random_uuid()' : name === 'opened_at' ? `opened_at - i * interval '37 minutes'` : `"${name}"`,
    );
    await owner.query(
      `insert into shop_case (${rows.map(({ name }) => `"${name}"`).join(', ')}) select ${values.join(', ')} from shop_case, generate_series(1, ${CASES}) i where org_id = $1`,
      [orgId],
    );
    made.push({ orgId, secret, actor });
  }
  await owner.query('analyze');
  await owner.end();
  statements.length = 0;
  await casebook.cases.listCases(made[0].actor, {}, {});
  const list = statements.find(({ name }) => name.startsWith('cases.list'));
  await pool.end();
  return { ...made[0], statement: list.text };
}

function started(script, env, options = {}) {
  const child = fork(script, [], {
    env: { ...process.env, ...env },
    execArgv: [],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    ...options,
  });
  return new Promise((resolve, reject) => {
    child.once('message', ({ port }) => resolve({ child, port }));
    child.once('exit', (code) => reject(new Error(`${script} ended with ${code} before it listened`)));
  });
}

function installPeers() {
  for (const folder of [here('./peers'), here('./peers22')]) {
    if (!existsSync(join(folder, 'node_modules', 'postgraphile'))) {
      execFileSync('npm', ['ci', '--silent', '--no-audit', '--no-fund'], { cwd: folder, stdio: ['ignore', 'ignore', 'inherit'] });
    }
  }
}

/** Makes the text of a query a trusted document; its identity. */
async function trust({ agent, port }, authorization, query) {
  const body = JSON.stringify({ query });
  const headers = {
    authorization,
    'content-type': 'application/json',
    'idempotency-key': randomUUID(),
    'content-length': Buffer.byteLength(body),
  };
  const answer = await send(agent, { port, method: 'POST', path: '/v1/documents', headers, body });
  if (answer.status !== 201) throw new Error(`the document is not trusted: ${answer.status} ${answer.body}`);
  return JSON.parse(answer.body).documentId;
}

export async function runApiBench() {
  installPeers();
  const directory = mkdtempSync(join(tmpdir(), 'coolback-bench-'));
  const environment = { COOLBACK_DATA_DIR: directory };
  const database = await openDatabase(environment);
  const children = [];
  try {
    const superUrl = new URL(database.ownerUrl);
    const { orgId, secret, statement } = await seed({ ...database, superUrl: await administratorOf(directory, superUrl) });
    const env = { NODE_ENV: 'production', DATABASE_URL: database.appUrl, BENCH_ORG: orgId, BENCH_STATEMENT: statement };
    const start = async (name, script, more = {}, options = {}) => {
      const { child, port } = await started(here(script), { ...env, ...more }, options);
      children.push(child);
      return { name, pid: child.pid, port, agent: newAgent(CONNECTIONS) };
    };
    const ours = await start('coolback', '../../dist/apps/api/main.js', {
      COOLBACK_DATA_DIR: directory,
      COOLBACK_PORT: '0',
      COOLBACK_LOG: 'error',
      COOLBACK_POOL: '10',
      COOLBACK_RATE_PER_MINUTE: '1000000',
    });
    const bare = await start('bare Fastify', './peers/bare.mjs');
    const postgraphile = await start('PostGraphile 4', './peers/postgraphile.mjs');
    const node22 = { execPath: here('./peers22/node_modules/node/bin/node') };
    const postgraphile5 = await start('PostGraphile 5', './peers22/postgraphile.mjs', { NODE_OPTIONS: '' }, node22);
    const authorization = `Bearer ${secret}`;
    const rest = (target) => ({ ...target, request: { port: target.port, path: '/v1/cases?first=20', headers: { authorization } } });
    const post = (target, query, asked = { query }) => {
      const body = JSON.stringify(asked);
      const headers = { authorization, 'content-type': 'application/json', 'content-length': Buffer.byteLength(body) };
      return { ...target, request: { port: target.port, method: 'POST', path: '/graphql', headers, body } };
    };
    const restPair = [rest(ours), rest(bare)];
    const list = `{ cases(first: 20) { data { ${FIELDS} } next } }`;
    const graphPair = [
      post(ours, list),
      post(
        postgraphile,
        `{ allShopCases(first: 20, orderBy: [OPENED_AT_DESC, ID_DESC]) { nodes { ${FIELDS} } pageInfo { endCursor hasNextPage } } }`,
      ),
    ];
    const graphPair5 = [
      post(ours, list),
      post(
        postgraphile5,
        `{ allShopCases(first: 20, orderBy: [OPENED_AT_DESC, ROW_ID_DESC]) { nodes { ${FIELDS.replace('id ', 'id: rowId ')} } pageInfo { endCursor hasNextPage } } }`,
      ),
    ];
    const trustedPair = [post(ours, '', { documentId: await trust(ours, authorization, list) }), post(ours, list)];
    for (const pair of [restPair, graphPair, graphPair5, trustedPair]) await sameTwenty(...pair);
    const lines = [];
    for (const [name, baseline, aim, pair] of [
      ['REST list of 20 cases', 'bare Fastify + pg under row-level security, same statement', 0.75, restPair],
      ['GraphQL list of 20 cases', 'PostGraphile 5 on Node 22 under row-level security', 1, graphPair5],
      ['GraphQL list of 20 cases', 'PostGraphile 4 under row-level security', 1.2, graphPair],
      ['the same as a trusted document', 'its full text', 1.1, trustedPair],
    ]) {
      const { wallRatio, cpuRatio, detail } = await compare(...pair, PLAN);
      lines.push({ name: `${name}, requests a second of server processor`, ratio: cpuRatio, baseline, aim, better: 'more', detail });
      lines.push({ name: `${name}, requests a second of wall clock`, ratio: wallRatio, baseline, aim, better: 'more', detail });
    }
    return lines;
  } finally {
    for (const child of children) {
      child.removeAllListeners('exit');
      child.kill('SIGKILL');
    }
    await database.close();
    rmSync(directory, { recursive: true, force: true });
  }
}

/** The embedded server's administrator: copies of rows of two organisations are made past the policies. */
async function administratorOf(directory, ownerUrl) {
  const { startEmbedded } = await import('#libs/database/index.js');
  const { superUrl } = await startEmbedded({ directory });
  const url = new URL(superUrl);
  url.pathname = ownerUrl.pathname;
  return url.toString();
}

/** Both must answer the same twenty cases in the same order, or the comparison means nothing. */
async function sameTwenty(a, b) {
  const [one, other] = await Promise.all(
    [a, b].map(async ({ agent, request, name }) => {
      const { status, body } = await send(agent, request);
      const ids = body.match(/"id":"[0-9a-f-]{36}"/g);
      if (status !== 200 || ids?.length !== 20) throw new Error(`${name} does not list twenty cases: ${status} ${body.slice(0, 300)}`);
      return ids.join();
    }),
  );
  if (one !== other) throw new Error(`${a.name} and ${b.name} list different cases`);
}
