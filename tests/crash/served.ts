import { type ChildProcess, fork } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { createPool, migrationsDirectory, openDatabase, serverSecret, stopEmbedded } from '#libs/database/index.js';
import { newShop } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

const MAIN = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'api', 'main.js');
const WORKER = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'worker', 'main.js');

/** The built API as a process of its own, over an embedded server with a durable folder, to be killed. */
export interface Served {
  readonly url: string;
  readonly key: string;
  readonly orgId: string;
  readonly shopCode: string;
  process(): ChildProcess;
  /** SIGKILL, and a new process on the same port; resolves when it listens. */
  killAndRestart(): Promise<void>;
  /** A worker beside it. */
  startWorker(): Promise<{ kill(): Promise<void>; readonly hasEnded: boolean }>;
  postmaster(): number;
  /** Column of a query as the owner sees it, of this organisation's rows. */
  count(sql: string): Promise<number>;
  rows<T>(sql: string): Promise<T[]>;
  /** As if the pauses between the tries of deliveries were over. `leased`: and what was under way has been given up; only while no worker runs. */
  bringDeliveriesForward(of: { readonly leased: boolean }): Promise<void>;
  close(): Promise<void>;
}

/** `environment`: settings of the API and the worker besides those a test needs. */
export async function serve(environment: Readonly<Record<string, string>> = {}): Promise<Served> {
  const parent = mkdtempSync(join(tmpdir(), 'coolback-crash-'));
  chmodSync(parent, 0o755);
  const directory = join(parent, 'data');
  const env = { ...environment, COOLBACK_DATA_DIR: directory };
  // This process keeps the server in use, so that the killed API is not its last user.
  const database = await openDatabase(env);
  const pool = createPool(database.appUrl, { max: 2 });
  const casebook = openCasebook(pool, serverSecret(env, directory));
  const { orgId, secret } = await casebook.access.foundOrganisation({ name: 'Crash', slug: randomUUID(), demo: false });
  const actor = {
    orgId,
    credentialId: orgId,
    role: 'administrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'crash',
  } as const;
  await casebook.shops.addShop(actor, newShop('crash-shop'));
  await pool.end();

  let child: ChildProcess;
  let port = 0;
  const start = async (): Promise<void> => {
    for (let attempt = 0; ; attempt++) {
      const started = fork(MAIN, [], {
        env: {
          ...process.env,
          ...env,
          NODE_OPTIONS: '',
          DATABASE_URL: '',
          COOLBACK_PORT: String(port),
          COOLBACK_LOG: 'silent',
          COOLBACK_RATE_PER_MINUTE: '1000000',
        },
        execArgv: [],
        stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
      });
      const heard = await new Promise<{ port: number } | null>((resolve) => {
        started.once('message', (message) => resolve(message as { port: number }));
        started.once('exit', () => resolve(null));
      });
      child = started;
      if (heard) {
        port = heard.port;
        return;
      }
      if (attempt >= 5) throw new Error('the API does not start again');
      await sleep(200);
    }
  };
  await start();
  const rows = <T>(sql: string): Promise<T[]> =>
    asAdministrator(database.ownerUrl!, async (client) => {
      await client.query(`select set_config('app.org_id', $1, false)`, [orgId]);
      return (await client.query(sql)).rows as T[];
    });
  const ended = (one: ChildProcess) =>
    one.exitCode !== null || one.signalCode !== null
      ? Promise.resolve()
      : new Promise<void>((resolve) => one.once('exit', () => resolve()));
  return {
    get url() {
      return `http://127.0.0.1:${port}`;
    },
    key: secret,
    orgId,
    shopCode: 'crash-shop',
    process: () => child,
    killAndRestart: async () => {
      const killed = ended(child);
      child.kill('SIGKILL');
      await killed;
      await start();
    },
    startWorker: async () => {
      const started = fork(WORKER, [], {
        env: { ...process.env, ...env, NODE_OPTIONS: '', DATABASE_URL: '' },
        execArgv: [],
        stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
      });
      await new Promise<void>((resolve, reject) => {
        started.once('message', () => resolve());
        started.once('exit', (code) => reject(new Error(`the worker ended with ${code}`)));
      });
      return {
        get hasEnded() {
          return started.exitCode !== null || started.signalCode !== null;
        },
        kill: async () => {
          const killed = ended(started);
          started.kill('SIGKILL');
          await killed;
        },
      };
    },
    postmaster: () => Number(readFileSync(join(directory, 'cluster', 'postmaster.pid'), 'utf8').split('\n')[0]),
    rows,
    count: async (sql) => Number((await rows<{ n: string }>(sql))[0]!.n),
    bringDeliveriesForward: async ({ leased }) => {
      await rows(
        `update webhook_delivery set next_at = now(), leased_until = null where state = 'waiting' ${leased ? '' : 'and leased_until is null'}`,
      );
      await asAdministrator(database.queueUrl!, (client) =>
        client.query('update graphile_worker._private_jobs set run_at = now() where run_at > now() and locked_at is null'),
      );
    },
    close: async () => {
      const killed = ended(child);
      child.kill('SIGKILL');
      await killed;
      await database.close();
      await stopEmbedded(directory, { mode: 'immediate' });
      rmSync(parent, { recursive: true, force: true });
    },
  };
}

export interface Pushed {
  /** Identifier of the case each order number was answered with. */
  readonly cases: ReadonlyMap<number, string>;
  /** Attempts that failed and were repeated. */
  readonly repeated: number;
  readonly replayed: number;
  /** Answers that are neither success, nor "repeat it". */
  readonly wrong: readonly string[];
}

/** A client as the documentation asks for: one key for each order, repeated unchanged until an answer of success comes. */
export async function push(served: Served, numbers: Iterable<number>, isOver: () => boolean): Promise<Pushed> {
  const cases = new Map<number, string>();
  const wrong: string[] = [];
  let repeated = 0;
  let replayed = 0;
  for (const n of numbers) {
    if (isOver()) break;
    const body = JSON.stringify({
      shopCode: served.shopCode,
      vehicle: { plate: `C ${n}` },
      complaint: 'noise',
      notes: `order ${n}`,
      // Every third order has no number of its own: only the key keeps it from being doubled.
      ...(n % 3 === 0 ? {} : { source: { system: 'crash', reference: `O-${n}`, revision: 1 } }),
    });
    const headers = { authorization: `Bearer ${served.key}`, 'content-type': 'application/json', 'idempotency-key': `order-${n}` };
    for (;;) {
      try {
        const response = await fetch(`${served.url}/v1/cases`, { method: 'POST', headers, body, signal: AbortSignal.timeout(20_000) });
        const answer = (await response.json()) as { id: string; code?: string; retryable?: boolean };
        if (response.ok) {
          cases.set(n, answer.id);
          if (response.headers.get('idempotency-replayed') !== null) replayed++;
          break;
        }
        if (answer.retryable !== true) {
          wrong.push(`order ${n}: ${response.status} ${answer.code}`);
          break;
        }
      } catch {
        // Nobody there, or cut off in the middle: whether it was stored is not known. That is what the key is for.
      }
      repeated++;
      await sleep(100);
    }
  }
  return { cases, repeated, replayed, wrong };
}

/** Several clients, each with orders of its own. */
export async function pushAll(served: Served, clients: number, isOver: () => boolean): Promise<Pushed> {
  const parts = await Promise.all(
    Array.from({ length: clients }, (_, client) =>
      push(
        served,
        (function* () {
          for (let n = client; ; n += clients) yield n;
        })(),
        isOver,
      ),
    ),
  );
  return {
    cases: new Map(parts.flatMap(({ cases }) => [...cases])),
    repeated: parts.reduce((sum, { repeated }) => sum + repeated, 0),
    replayed: parts.reduce((sum, { replayed }) => sum + replayed, 0),
    wrong: parts.flatMap(({ wrong }) => wrong),
  };
}

/** Every order that was answered is stored once, as the case it was answered with, and nothing else is stored. */
export async function expectWhole(served: Served, pushed: Pushed): Promise<string[]> {
  const faults = [...pushed.wrong];
  const ids = [...pushed.cases.values()];
  if (new Set(ids).size !== ids.length) faults.push('two orders were answered with one case');
  const stored = await served.count('select count(*) as n from shop_case');
  const orders = await served.count('select count(distinct notes) as n from shop_case');
  if (orders !== stored) faults.push(`${stored - orders} cases are doubled`);
  const list = ids.map((id) => `'${id}'`).join(',');
  const found = await served.count(`select count(*) as n from shop_case where id in (${list})`);
  if (found !== ids.length) faults.push(`${ids.length - found} answered cases are lost`);
  // A client stops only after an answer, so nothing is stored that was not answered.
  if (stored !== ids.length) faults.push(`${stored} cases are stored, ${ids.length} were answered`);
  for (const [table, what] of [
    ['case_evidence', 'evidence'],
    ['audit_event where action = $$case.opened$$', 'a line of the audit trail'],
    ['idempotency_key', 'a kept answer'],
  ] as const) {
    const n = await served.count(`select count(*) as n from ${table}`);
    if (n !== stored) faults.push(`${n} rows of ${what} for ${stored} cases`);
  }
  return faults;
}
