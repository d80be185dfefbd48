// What software of a shop does with Coolback: push orders that can be repeated safely, send a file of old ones, show what was refused, read what happened.
// COOLBACK_URL, COOLBACK_KEY (integrator); the first argument is a CSV of old orders.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import createClient from 'openapi-fetch';
import type { ImportRow, ImportRun, NewCase, Problem, paths } from './api.js';

const { COOLBACK_URL = 'http://127.0.0.1:4280', COOLBACK_KEY = '' } = process.env;
const authorization = `Bearer ${COOLBACK_KEY}`;
const coolback = createClient<paths>({ baseUrl: COOLBACK_URL, headers: { authorization } });

/** Sends until there is an answer: the key makes a repetition safe, `retryable` and Retry-After say whether and when one makes sense. */
async function pushOrder(order: NewCase): Promise<string> {
  const { system, reference, revision } = order.source!;
  const key = `${system}-${reference}-${revision}`;
  for (let attempt = 1; ; attempt++) {
    const sent = coolback.POST('/v1/cases', { params: { header: { 'Idempotency-Key': key } }, body: order });
    const answer = await sent.catch(() => null);
    if (answer?.data) return answer.data.id;
    const problem = answer?.error as Problem | undefined;
    if (attempt === 6 || (problem && !problem.retryable)) throw new Error(problem ? explained(problem) : 'the server cannot be reached');
    await sleep(Number(answer?.response.headers.get('retry-after') ?? 2 ** attempt) * 1000);
  }
}

const explained = ({ detail, errors }: Problem): string =>
  [detail, ...errors.map((one) => `  ${one.pointer}: ${one.detail} ${one.remedy ?? ''}`)].join('\n');

/** Sends a whole file and waits until every row has its outcome. The same file has the same key: sent twice, it is received once. */
async function sendFile(csv: Buffer): Promise<{ run: ImportRun; refused: ImportRow[] }> {
  const received = await fetch(`${COOLBACK_URL}/v1/imports?system=my-orders`, {
    method: 'POST',
    headers: {
      authorization,
      'content-type': 'text/csv',
      'content-digest': `sha-256=:${createHash('sha256').update(csv).digest('base64')}:`,
      'idempotency-key': createHash('sha256').update(csv).digest('hex'),
    },
    body: new Uint8Array(csv),
  });
  if (!received.ok) throw new Error(explained((await received.json()) as Problem));
  let run = (await received.json()) as ImportRun;
  while (run.state !== 'done' && run.state !== 'failed') {
    await sleep(500);
    run = (await coolback.GET('/v1/imports/{id}', { params: { path: { id: run.id } } })).data ?? run;
  }
  const rows = await coolback.GET('/v1/imports/{id}/rows', { params: { path: { id: run.id }, query: { outcome: 'rejected', first: 100 } } });
  return { run, refused: rows.data?.data ?? [] };
}

const order: NewCase = {
  shopCode: 'harbour-road',
  vehicle: { vin: '1M8GDM9AXKP042788' },
  complaint: 'cools-poorly',
  source: { system: 'my-orders', reference: '7002', revision: 1 },
};
const first = await pushOrder(order);
const again = await pushOrder(order);
console.log(`order 7002 is case ${first}; sent again it is ${again === first ? 'the same' : 'another'}`);
try {
  await pushOrder({ ...order, complaint: 'noise' });
} catch (error) {
  console.log(`another body under the same revision: ${(error as Error).message}`);
}
const [, , path] = process.argv;
if (path !== undefined) {
  const { run, refused } = await sendFile(readFileSync(path));
  console.log(`${path}: ${run.opened} opened, ${run.revised} revised, ${run.unchanged} unchanged, ${run.rejected} refused`);
  for (const { line, problems } of refused)
    for (const one of problems) console.log(`  line ${line}, ${one.column}: ${one.detail} ${one.remedy ?? ''}`);
}
