import { gzipSync } from 'node:zlib';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { mutatedBytes, mutatedJson } from './mutations.js';
import { ODD_TEXTS } from './odd-values.js';
import { type Random, randomOf } from './random.js';
import { ask, faultOf, found, type Hostile } from './world.js';

const HEADING =
  'shop_code,reference,opened_at,complaint,complaint_text,odometer,odometer_unit,low_side_pressure,pressure_unit,repair_fault,repair_action';

function fileOf(hostile: Hostile, format: 'ndjson' | 'csv', n: number, random: Random): Buffer {
  const { shopCode } = hostile.world;
  const rows = Array.from({ length: 4 }, (_, i) => {
    const reference = `Z-${n}-${i}`;
    if (format === 'csv') {
      const words = JSON.stringify(random.pick(ODD_TEXTS)).slice(1, -1).replaceAll('\\"', '""');
      return `${shopCode},${reference},2026-05-0${1 + i},noise,"${words}",${1_000 + i},km,2.4,bar,undercharge,top-up`;
    }
    const line = {
      shopCode,
      vehicle: { plate: `Z ${i}` },
      complaint: 'noise',
      complaintText: 'warm',
      openedAt: '2026-05-04T09:00:00Z',
      odometer: { value: 1_000 + i, unit: 'km' },
      source: { system: 'fuzz', reference, revision: 1 },
      evidence: {
        readings: [{ quantity: 'pressure', place: 'low-side-port', phase: 'running', reference: 'vented-gauge', value: 2.4, unit: 'bar' }],
      },
      repairs: [{ fault: 'undercharge', action: 'top-up' }],
      proofs: [{ faults: ['undercharge'], method: 'judgement' }],
    };
    return random.unit() < 0.5 ? mutatedJson(line, random) : JSON.stringify(line);
  });
  const text = format === 'csv' ? [HEADING, ...rows] : rows;
  return Buffer.from(`${text.join('\n')}\n`);
}

/** Files that were damaged on their way, plain and compressed: refused as a file, or every row of them stored or refused with its reason. */
export async function mutatedFiles(
  hostile: Hostile,
  count: number,
  seed: number,
): Promise<{ faults: string[]; accepted: number; rows: number }> {
  let accepted = 0;
  let rows = 0;
  const { api, world } = hostile;
  const faults = await found(count, async (n) => {
    const random = randomOf(seed + n);
    const format = random.unit() < 0.5 ? 'ndjson' : 'csv';
    const gzip = random.unit() < 0.25;
    let body = fileOf(hostile, format, n, random);
    if (random.unit() < 0.8) body = mutatedBytes(body, random);
    if (gzip) body = gzipSync(body);
    if (gzip && random.unit() < 0.5) body = mutatedBytes(body, random);
    const headers = {
      'content-type': format === 'csv' ? random.pick(['text/csv', 'text/tab-separated-values']) : 'application/x-ndjson',
      ...(gzip ? { 'content-encoding': 'gzip' } : {}),
    };
    const answered = await ask(hostile, 'POST', '/v1/imports', headers, body);
    const where = `${format}${gzip ? ' gzip' : ''} (${seed + n})`;
    const fault = faultOf(answered, ['202', '400', '409', '413', '415', '422']);
    if (fault) return `${where}: ${fault}\n  sent ${body.toString('latin1').slice(0, 300)}`;
    if (answered.status !== 202) return null;
    accepted++;
    const { id } = JSON.parse(answered.text) as { id: string };
    try {
      await importCases(api.casebook, world.org.orgId, id, { isLastTry: true });
    } catch (error) {
      return `${where}: the worker failed: ${String(error)}\n  sent ${body.toString('latin1').slice(0, 600)}`;
    }
    const ended = JSON.parse((await ask(hostile, 'GET', `/v1/imports/${id}`, {})).text) as {
      state: string;
      done: number;
      received: number;
    };
    rows += ended.done ?? 0;
    return ended.state === 'done' && ended.done === ended.received ? null : `${where}: ${JSON.stringify(ended)}`;
  });
  return { faults, accepted, rows };
}
