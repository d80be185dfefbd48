import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from '@jest/globals';
import { type Served, serve } from './served.js';

const ROWS = Number(process.env['COOLBACK_CRASH_ROWS'] ?? 6_000);
const KILLS = Number(process.env['COOLBACK_CRASH_KILLS'] ?? 10);
const LIMIT_MS = 240_000 + ROWS * 20;
const SEND_MS = 60_000 + ROWS;

let served: Served;
let worker: Awaited<ReturnType<Served['startWorker']>>;
beforeEach(async () => {
  served = await serve();
  worker = await served.startWorker();
});
afterEach(async () => {
  await worker?.kill();
  await served?.close();
});

const isBad = (i: number) => i % 100 === 7;
const isRepaired = (i: number) => i % 3 === 0;
function* file(): Generator<Buffer> {
  let lines = '';
  for (let i = 0; i < ROWS; i++) {
    lines += `${JSON.stringify({
      shopCode: served.shopCode,
      vehicle: { plate: `C ${i % Math.ceil(ROWS / 4)}` },
      complaint: isBad(i) ? 'nothing we know' : 'noise',
      openedAt: new Date(Date.UTC(2024, 0, 1 + Math.floor((i * 700) / ROWS), 9)).toISOString(),
      source: { system: 'crash', reference: `O-${i}`, revision: 1 },
      ...(isRepaired(i) ? { repairs: [{ fault: 'undercharge', action: 'top-up', intent: 'temporary' }] } : {}),
    })}\n`;
    if (i % 200 === 199 || i === ROWS - 1) {
      yield Buffer.from(lines);
      lines = '';
    }
  }
}
const count = (is: (i: number) => boolean) => Array.from({ length: ROWS }, (_, i) => i).filter(is).length;

/** A client as the documentation asks for: the same file with the same key until it is answered. */
async function send(key: string): Promise<{ id: string; attempts: number }> {
  for (let attempts = 1; ; attempts++) {
    try {
      const response = await fetch(`${served.url}/v1/imports`, {
        method: 'POST',
        headers: { authorization: `Bearer ${served.key}`, 'content-type': 'application/x-ndjson', 'idempotency-key': key },
        body: ReadableStream.from(file()),
        duplex: 'half',
        // A connection whose other end was killed may never say so: the client tries again, as with any answer that does not come.
        signal: AbortSignal.timeout(SEND_MS),
      } as never);
      const answer = (await response.json()) as { id: string; code?: string; retryable?: boolean };
      if (response.status === 202) return { id: answer.id, attempts };
      if (answer.retryable !== true) throw new TypeError(`${response.status} ${answer.code}`);
    } catch (error) {
      if (error instanceof TypeError && /^\d/.test(error.message)) throw error;
    }
    await sleep(500);
  }
}

async function stateOf(id: string): Promise<{ state: string; done: number } | null> {
  try {
    const headers = { authorization: `Bearer ${served.key}` };
    const response = await fetch(`${served.url}/v1/imports/${id}`, { headers, signal: AbortSignal.timeout(5_000) });
    return response.ok ? ((await response.json()) as { state: string; done: number }) : null;
  } catch {
    return null;
  }
}

async function untilEnded(id: string): Promise<void> {
  const deadline = Date.now() + LIMIT_MS;
  while (Date.now() < deadline) {
    const now = await stateOf(id);
    if (now?.state === 'done') return;
    if (now?.state === 'failed') throw new Error('the import gave up');
    await sleep(500);
  }
  throw new Error('the import does not end');
}

async function expectWhole(id: string): Promise<void> {
  const good = ROWS - count(isBad);
  const repaired = count((i) => isRepaired(i) && !isBad(i));
  expect(await stateOf(id)).toMatchObject({
    ...{ state: 'done', received: ROWS, done: ROWS, opened: good, revised: 0, unchanged: 0, rejected: ROWS - good },
  });
  for (const [expected, table] of [
    [good, 'shop_case'],
    [good, 'case_evidence'],
    [good, '(select distinct source_reference from shop_case) as orders'],
    [good, '(select distinct case_id from import_row where case_id is not null) as rows'],
    [ROWS, 'import_row'],
    [repaired, 'repair'],
    [repaired, 'episode'],
    [good, 'audit_event where action = $$case.opened$$'],
    [good, 'outbox_event where kind = $$case.opened$$'],
    [repaired, 'outbox_event where kind = $$case.repaired$$'],
    [1, 'outbox_event where kind = $$import.finished$$'],
    [1, 'import_run'],
    [0, 'import_chunk'],
  ] as const) {
    expect([table, await served.count(`select count(*) as n from ${table}`)]).toEqual([table, expected]);
  }
}

it(
  `kill -9 of the API and the worker, ${KILLS} times in an import of ${ROWS} rows: every row once`,
  async () => {
    const key = randomUUID();
    await worker.kill();
    let accepted: { id: string; attempts: number } | null = null;
    const sending = send(key).then((answer) => {
      accepted = answer;
      return answer;
    });
    let kills = 0;
    // A fifth of them while the file comes in; then it needs a while in peace to be whole.
    for (; kills < Math.ceil(KILLS / 5) && accepted === null; kills++) {
      await sleep(Math.random() * 3_000);
      await served.killAndRestart();
    }
    const { id, attempts } = await sending;
    worker = await served.startWorker();
    let whileStored = 0;
    for (; kills < KILLS && (await stateOf(id))?.state !== 'done'; kills++, whileStored++) {
      await sleep(Math.random() * (ROWS / KILLS) * 0.6);
      await Promise.all([worker.kill(), served.killAndRestart()]);
      worker = await served.startWorker();
    }
    await untilEnded(id);
    console.log(`${kills} kills, ${whileStored} of them while rows were stored; the file was sent ${attempts} times`);
    await expectWhole(id);
    expect(whileStored).toBeGreaterThan(0);
  },
  LIMIT_MS * 2,
);

it(
  `kill -9 of the database server, ${Math.ceil(KILLS / 2)} times in an import of ${ROWS} rows: every row once, API and worker stay up`,
  async () => {
    const { id } = await send(randomUUID());
    const api = served.process().pid;
    let kills = 0;
    let worst = 0;
    for (; kills < Math.ceil(KILLS / 2) && (await stateOf(id))?.state !== 'done'; kills++) {
      await sleep(200 + Math.random() * (ROWS / KILLS));
      const before = served.postmaster();
      process.kill(before, 'SIGKILL');
      const began = performance.now();
      // Sessions live on for a moment after their server: the pid file tells when there is a new one.
      const isNew = () => {
        try {
          return served.postmaster() !== before;
        } catch {
          return false;
        }
      };
      while (!(isNew() && (await stateOf(id)))) {
        if (performance.now() - began > 60_000) throw new Error('the database did not come back within a minute');
        await sleep(50);
      }
      worst = Math.max(worst, performance.now() - began);
    }
    await untilEnded(id);
    console.log(`${kills} kills of the database server, longest outage ${worst.toFixed(0)} ms`);
    await expectWhole(id);
    expect(served.process().pid).toBe(api);
    expect(worker.hasEnded).toBe(false);
    expect(kills).toBeGreaterThan(0);
  },
  LIMIT_MS * 2,
);
