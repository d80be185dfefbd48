import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { Webhook } from 'standardwebhooks';
import { type Mood, privateReceiver, type Receiver } from './receiver.js';
import { push, type Served, serve } from './served.js';

const KILLS = Number(process.env['COOLBACK_CRASH_KILLS'] ?? 8);
/** Rows of a file, each a case and a repair. */
const ROWS = Number(process.env['COOLBACK_CRASH_ROWS'] ?? 300);
/** Orders that are pushed one by one meanwhile. */
const PUSHED = Math.ceil(ROWS / 5);
/** Deliveries a worker has under way at once. */
const LANES = 3;
const LIMIT_MS = 3_600_000;

const FAULTS: readonly Mood[] = ['cut', 'cut', 500, 503, 429, 301];
let isWell = false;
let faults = 0;
function moodOf(): Mood {
  if (isWell || Math.random() > 0.12) return 'well';
  faults++;
  return Math.random() < 0.04 ? 'hangs' : FAULTS[Math.floor(Math.random() * FAULTS.length)]!;
}

let receiver: Receiver;
let served: Served;
let worker: Awaited<ReturnType<Served['startWorker']>>;
beforeAll(async () => {
  receiver = await privateReceiver(moodOf);
  served = await serve(receiver.environment);
  worker = await served.startWorker();
}, 120_000);
afterAll(async () => {
  await worker?.kill();
  await served?.close();
  await receiver?.close();
}, 120_000);

async function post(path: string, body: string, type = 'application/json'): Promise<Record<string, unknown>> {
  const headers = { authorization: `Bearer ${served.key}`, 'content-type': type, 'idempotency-key': randomUUID() };
  const response = await fetch(`${served.url}${path}`, { method: 'POST', headers, body });
  const answer = (await response.json()) as Record<string, unknown>;
  if (!response.ok) throw new Error(`${path}: ${response.status} ${JSON.stringify(answer)}`);
  return answer;
}

const waiting = () => served.count(`select count(*) as n from webhook_delivery where state = 'waiting'`);
const unplaced = () => served.count('select count(*) as n from outbox_event where position is null');

it(
  `kill -9 of the API and the worker, ${KILLS} times while events of ${ROWS + PUSHED} orders go to a receiver that often fails: each at least once, each case in order`,
  async () => {
    const hook = (await post('/v1/webhooks', JSON.stringify({ url: receiver.url, kinds: [] }))) as { secret: string };
    const lines = Array.from({ length: ROWS }, (_, i) =>
      JSON.stringify({
        ...{ shopCode: served.shopCode, vehicle: { plate: `W ${i % Math.ceil(ROWS / 2)}` }, complaint: 'noise' },
        ...{ openedAt: `2026-0${1 + (i % 6)}-04T09:00:00Z`, source: { system: 'crash', reference: `W-${i}`, revision: 1 } },
        repairs: [{ fault: 'undercharge', action: 'top-up' }],
      }),
    );
    await post('/v1/imports', lines.join('\n'), 'application/x-ndjson');
    const pushing = push(served, Array.from({ length: PUSHED }, (_, n) => n).values(), () => false);
    const finished = () => served.count(`select count(*) as n from outbox_event where kind = 'import.finished'`);
    const isOver = async () => (await finished()) > 0 && (await unplaced()) === 0 && (await waiting()) === 0;
    const verifier = new Webhook(hook.secret);
    let verified = 0;
    /** Signatures are believed for five minutes: each is looked at soon after it came. */
    const verify = () => {
      for (; verified < receiver.got.length; verified++) {
        const { body, headers } = receiver.got[verified]!;
        expect(verifier.verify(body, headers)).toEqual(JSON.parse(body));
      }
    };
    let kills = 0;
    for (; kills < KILLS && !(await isOver()); kills++) {
      verify();
      // Somewhere after something has arrived.
      const before = receiver.got.length;
      while (receiver.got.length === before && !(await isOver())) await sleep(50);
      await sleep(Math.random() * 1_500);
      await Promise.all([worker.kill(), served.killAndRestart()]);
      // The pauses of the schedule and the leases of the dead are over: hours, as far as the service can tell.
      await served.bringDeliveriesForward({ leased: true });
      worker = await served.startWorker();
    }
    const pushed = await pushing;
    const deadline = Date.now() + LIMIT_MS;
    while (!(await isOver())) {
      if (Date.now() > deadline) throw new Error(`${await waiting()} deliveries still wait`);
      await sleep(500);
      verify();
      await served.bringDeliveriesForward({ leased: false });
    }
    verify();
    isWell = true;

    const events = await served.rows<{ id: string; position: number; subject: string; kind: string }>(
      'select id, position::int as position, subject_id as subject, kind from outbox_event order by position',
    );
    const count = (kind: string) => events.filter((one) => one.kind === kind).length;
    expect(pushed.wrong).toEqual([]);
    expect([count('case.opened'), count('case.repaired'), count('import.finished')]).toEqual([ROWS + PUSHED, ROWS, 1]);
    const accepted = receiver.got.filter((one) => one.accepted);
    const heard = new Set(accepted.map(({ headers }) => headers['webhook-id']));
    expect(events.filter(({ id }) => !heard.has(id))).toEqual([]);
    const byId = new Map(events.map((one) => [one.id, one]));
    const last = new Map<string, number>();
    const disordered: string[] = [];
    for (const { headers } of accepted) {
      const { subject, position, kind } = byId.get(headers['webhook-id']!)!;
      if (position < (last.get(subject) ?? 0)) disordered.push(`${kind} of ${subject}`);
      last.set(subject, position);
    }
    expect(disordered).toEqual([]);
    console.log(`${events.length} events, ${receiver.got.length} deliveries, ${faults} of them refused or cut, ${kills} kills`);
    // Nothing is sent again but for a failure, or because the worker that sent it died before it wrote down the answer.
    expect(receiver.got.length).toBeLessThanOrEqual(events.length + faults + LANES * kills);
    expect(await served.count(`select count(*) as n from webhook_delivery where state <> 'delivered'`)).toBe(0);
    expect(kills).toBeGreaterThan(2);
  },
  LIMIT_MS + 600_000,
);
