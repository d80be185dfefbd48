// A file of cases over HTTP, validated, linked and idempotent, against the same rows put into the same tables ready-made. One run, one server. The file is
// made while it is sent: COOLBACK_BENCH_ROWS=2000000 sends two million rows and stores none of them here.
import { fork } from 'node:child_process';
import { createHash, randomUUID } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { v7 as uuidv7 } from 'uuid';
import { HEAP_FLAGS } from '#apps/cli/heap-flags.js';
import { openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';

import { createPool, inTenant, openDatabase, serverSecret } from '#libs/database/index.js';
import { cpuSeconds } from './load.mjs';

const ROWS = Number(process.env.COOLBACK_BENCH_ROWS ?? 40_000);
const VISITS = 3;
const BATCH = 1_000;
/** Rows of the anchor before and after the import. */
const ANCHOR_ROWS = Math.min(20_000, Math.floor(ROWS / 2 / BATCH) * BATCH);
const dist = (path) => fileURLToPath(new URL(`../../dist/${path}`, import.meta.url));

/** Cases of cars that come three times, in the order a shop's software would write them down: by day. */
export function caseLine(i, cars) {
  const car = i % cars;
  const visit = Math.floor(i / cars);
  const day = new Date(Date.UTC(2016 + visit, car % 12, 1 + (car % 28), 7, car % 60)).toISOString();
  const repaired = i % 2 === 0;
  return {
    shopCode: car % 5 === 0 ? 'harbour-road' : 'quay',
    vehicle: { vin: `1M8GDM9AXKP${String(car).padStart(6, '0')}`, vinChecked: true, platformCode: car % 3 === 0 ? 'heron-c' : 'knot-r' },
    odometer: { value: 20_000 + visit * 15_000 + (car % 900), unit: 'km' },
    openedAt: day,
    complaint: i % 3 === 0 ? 'cools-not' : 'cools-poorly',
    complaintText: `Warm in traffic, better on the road, since ${car % 30} days`,
    source: { system: 'orders', reference: `A-${i}`, revision: 1 },
    evidence: {
      conditions: { outsideAir: { value: 22 + (car % 15), unit: 'Cel' }, minutesRunning: 12 },
      readings: [
        {
          quantity: 'pressure',
          place: 'low-side-port',
          phase: 'running',
          reference: 'vented-gauge',
          value: 2.1 + (car % 10) / 10,
          unit: 'bar',
        },
        {
          quantity: 'pressure',
          place: 'high-side-port',
          phase: 'running',
          reference: 'vented-gauge',
          value: 13 + (car % 70) / 10,
          unit: 'bar',
        },
        { quantity: 'temperature', place: 'vent', phase: 'running', value: 6 + (car % 9), unit: 'Cel' },
      ],
    },
    ...(repaired
      ? {
          repairs: [
            { fault: 'condenser-dirt', action: 'clean-condenser', intent: i % 4 === 0 ? 'temporary' : 'permanent', labourHours: 0.8 },
          ],
        }
      : {}),
    ...(i % 4 === 0 ? { proofs: [{ faults: ['condenser-dirt'], method: 'verified-after-readings' }] } : {}),
  };
}

export async function* caseFile(rows) {
  const cars = Math.ceil(rows / VISITS);
  for (let i = 0; i < rows; i += 200) {
    const lines = [];
    for (let k = i; k < Math.min(i + 200, rows); k++) lines.push(JSON.stringify(caseLine(k, cars)));
    yield Buffer.from(`${lines.join('\n')}\n`);
  }
}

export async function organisation(casebook) {
  const { orgId, secret } = await casebook.access.foundOrganisation({ name: 'Bench', slug: randomUUID(), demo: false });
  const actor = {
    orgId,
    credentialId: orgId,
    role: 'administrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'bench',
  };
  const normals = Array.from({ length: 12 }, () => ({ meanC: 15, sdC: 4 }));
  const shops = [];
  for (const code of ['quay', 'harbour-road'])
    shops.push(
      await casebook.shops.addShop(actor, {
        code,
        name: code,
        elevationM: 100,
        timeZone: 'Europe/Madrid',
        normals,
        currency: 'EUR',
        labourRate: 50,
      }),
    );
  const platform = {
    ...{
      layout: 'valve-integral-receiver',
      compressor: 'fixed-clutch',
      refrigerant: 'R-134a',
      chargeG: 560,
      reserveShare: 0.18,
      highSidePort: 'liquid-line-after-drier',
    },
    ...{
      highSideTransducer: 'compressor-discharge',
      lowSidePort: 'compressor-suction',
      transducerReference: 'sealed-gauge',
      dualEvaporator: false,
      condenserPasses: 3,
    },
    ...{ subcoolShare: 0.2, coolerZones: [], firstYear: 2012, lastYear: 2026, vinPatterns: [] },
  };
  const platforms = [];
  for (const code of ['knot-r', 'heron-c'])
    platforms.push(await casebook.platforms.addPlatform(actor, { ...platform, code, name: code, family: code }));
  return { orgId, secret, actor, shops, platforms };
}

/**
 * The anchor: the same orders with everything on them (case, evidence document, repairs, proofs), ready-made, by unnest in batches of a thousand with a commit
 * each, repeatable, under the same policies, keys and indexes. What the import does besides (judging, linking, sightings, episodes, audit trail, outcome
 * of each row) is not in it, and its vehicles are stored before the clock starts.
 */
async function anchor(pool, { orgId, shops, platforms }, from, rows) {
  const cars = Math.ceil(rows / VISITS);
  const vehicles = Array.from({ length: cars }, () => uuidv7());
  await inTenant(pool, orgId, (tx) =>
    tx.query({
      name: 'bench.vehicles',
      text: `insert into vehicle (org_id, id, created_at) select $1, id, now() from unnest($2::uuid[]) as id`,
      values: [orgId, vehicles],
    }),
  );
  const at = new Date().toISOString();
  const batches = [];
  for (let i = from; i < from + rows; i += BATCH) {
    const lines = Array.from({ length: Math.min(BATCH, from + rows - i) }, (_, k) => caseLine(i + k, cars));
    const ids = lines.map(() => uuidv7());
    const shopIds = lines.map(({ shopCode }) => shops.find(({ code }) => code === shopCode).id);
    const vehicleIds = lines.map((_, k) => vehicles[(i + k) % cars]);
    const on = (part) => lines.flatMap((line, k) => (line[part] ?? []).map((one) => ({ k, line, one })));
    const repairs = on('repairs');
    const proofs = on('proofs');
    batches.push({
      cases: [
        ...[ids, shopIds, vehicleIds, lines.map(({ vehicle }) => platforms.find(({ code }) => code === vehicle.platformCode).id)],
        ...[
          lines.map(({ complaint }) => complaint),
          lines.map(({ complaintText }) => complaintText),
          lines.map(({ openedAt }) => openedAt),
        ],
        ...[
          lines.map(({ odometer }) => odometer.value),
          lines.map(({ proofs }) => `{${(proofs ?? []).flatMap(({ faults }) => faults).join()}}`),
        ],
        ...[lines.map(({ source }) => source.reference), lines.map((line) => createHash('sha256').update(line.source.reference).digest())],
      ],
      evidence: [
        ids,
        lines.map(({ evidence }) =>
          JSON.stringify({
            ...evidence,
            readings: evidence.readings.map((reading, n) => ({ ...reading, id: `r${n + 1}`, si: reading.value * 1e5, siUnit: 'Pa' })),
            ...{ findings: [], thermalMaps: [], traces: [], offers: [] },
          }),
        ),
      ],
      repairs: [
        ...[
          repairs.map(() => uuidv7()),
          repairs.map(({ k }) => ids[k]),
          repairs.map(({ k }) => shopIds[k]),
          repairs.map(({ k }) => vehicleIds[k]),
        ],
        ...[repairs.map(({ one }) => one.fault), repairs.map(({ one }) => one.action), repairs.map(({ one }) => one.intent)],
        ...[repairs.map(({ line }) => line.openedAt.slice(0, 10)), repairs.map(({ one }) => one.labourHours)],
      ],
      proofs: [
        ...[
          proofs.map(() => uuidv7()),
          proofs.map(({ k }) => ids[k]),
          proofs.map(({ one }) => `{${one.faults.join()}}`),
          proofs.map(({ one }) => one.method),
        ],
      ],
    });
  }
  const start = performance.now();
  let partsMs = 0;
  for (const one of batches) {
    await inTenant(pool, orgId, async (tx) => {
      const put = (name, text, values) => tx.query({ name: `bench.${name}`, text, values: [orgId, at, ...values] });
      await put(
        'cases',
        `insert into shop_case (org_id, created_at, updated_at, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, complaint_text,
                                opened_at, odometer_km, proved_faults, source_system, source_reference, source_revision, source_hash, backfill, warnings)
         select $1, $2, $2, id, 1, 1, shop, vehicle, platform, 'open', complaint, words, opened, km, proved::text[], 'orders', reference, 1, hash, true, '[]'
           from unnest($3::uuid[], $4::uuid[], $5::uuid[], $6::uuid[], $7::text[], $8::text[], $9::timestamptz[], $10::float8[], $11::text[], $12::text[], $13::bytea[])
             as row(id, shop, vehicle, platform, complaint, words, opened, km, proved, reference, hash)
         on conflict (org_id, source_system, source_reference) do nothing`,
        one.cases,
      );
      await put(
        'evidence',
        `insert into case_evidence (org_id, case_id, revision, document, created_at)
         select $1, id, 1, document::jsonb, $2 from unnest($3::uuid[], $4::text[]) as row(id, document) on conflict do nothing`,
        one.evidence,
      );
      const partsStart = performance.now();
      await put(
        'repairs',
        `insert into repair (org_id, created_at, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, labour_hours)
         select $1, $2, id, case_id, shop, vehicle, fault, action, intent, day, '[]', hours
           from unnest($3::uuid[], $4::uuid[], $5::uuid[], $6::uuid[], $7::text[], $8::text[], $9::text[], $10::date[], $11::float8[])
             as row(id, case_id, shop, vehicle, fault, action, intent, day, hours) on conflict do nothing`,
        one.repairs,
      );
      await put(
        'proofs',
        `insert into proof (org_id, created_at, id, case_id, faults, method)
         select $1, $2, id, case_id, faults::text[], method from unnest($3::uuid[], $4::uuid[], $5::text[], $6::text[]) as row(id, case_id, faults, method)
         on conflict do nothing`,
        one.proofs,
      );
      partsMs += performance.now() - partsStart;
    });
  }
  return { wall: (performance.now() - start) / 1000, parts: partsMs / 1000, rows };
}

function started(script, env) {
  const child = fork(dist(script), [], {
    env: { ...process.env, NODE_ENV: 'production', ...env },
    execArgv: [...HEAP_FLAGS],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  });
  return new Promise((resolve, reject) => {
    child.once('message', (message) => resolve({ child, port: message.port }));
    child.once('exit', (code) => reject(new Error(`${script} ended with ${code}`)));
  });
}

/** The most a process ever held, MB. */
const peakMb = ({ pid }) => Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))[1]) / 1024;

export async function runImportBench() {
  const directory = mkdtempSync(join(tmpdir(), 'coolback-bench-'));
  const environment = { COOLBACK_DATA_DIR: directory };
  const database = await openDatabase(environment);
  const secret = serverSecret(environment, directory);
  const pool = createPool(database.appUrl, { max: 2 });
  const children = [];
  try {
    const casebook = openCasebook(pool, secret);
    const ours = await organisation(casebook);
    const theirs = await organisation(casebook);
    const env = { COOLBACK_DATA_DIR: directory, DATABASE_URL: database.appUrl, COOLBACK_SECRET: secret.toString('base64') };
    const api = await started('apps/api/main.js', {
      ...env,
      COOLBACK_PORT: '0',
      COOLBACK_LOG: 'error',
      COOLBACK_RATE_PER_MINUTE: '1000000',
    });
    children.push(api.child);
    const worker = await started('apps/worker/main.js', { ...env, DATABASE_QUEUE_URL: database.queueUrl });
    children.push(worker.child);
    const resting = { api: peakMb(api.child), worker: peakMb(worker.child) };
    const before = await anchor(pool, theirs, 0, ANCHOR_ROWS);
    const start = performance.now();
    const cpu = () => cpuSeconds(api.child.pid) + cpuSeconds(worker.child.pid);
    const cpuStart = cpu();
    const headers = { authorization: `Bearer ${ours.secret}` };
    const url = `http://127.0.0.1:${api.port}/v1/imports`;
    const sent = await fetch(`${url}?backfill=true`, {
      method: 'POST',
      headers: { ...headers, 'content-type': 'application/x-ndjson', 'idempotency-key': randomUUID() },
      body: ReadableStream.from(caseFile(ROWS)),
      duplex: 'half',
    });
    if (sent.status !== 202) throw new Error(`the import answered ${sent.status}: ${await sent.text()}`);
    const { id } = await sent.json();
    const received = (performance.now() - start) / 1000;
    let run;
    do {
      await sleep(ROWS > 100_000 ? 1_000 : 50);
      run = await (await fetch(`${url}/${id}`, { headers })).json();
    } while (run.state === 'waiting' || run.state === 'running');
    const wall = (performance.now() - start) / 1000;
    const nodeCpu = cpu() - cpuStart;
    if (run.state !== 'done' || run.opened !== ROWS) throw new Error(`the import ended otherwise: ${JSON.stringify(run)}`);
    const memory = { api: peakMb(api.child), worker: peakMb(worker.child) };
    const after = await anchor(pool, theirs, ANCHOR_ROWS, ANCHOR_ROWS);
    const anchorRows = before.rows + after.rows;
    const anchorWall = before.wall + after.wall;
    const anchorRate = anchorRows / anchorWall;
    const bareRate = anchorRows / (anchorWall - before.parts - after.parts);
    const detail =
      `${ROWS} rows, ${VISITS} visits a car, an evidence document each, a repair on every second and a proof on every fourth: ${Math.round(ROWS / wall)}/s ` +
      `(${received.toFixed(1)} s to take the file in, ${(wall - received).toFixed(1)} s to carry it out, ${((nodeCpu / ROWS) * 1e6).toFixed(0)} µs of API and worker a row) against ` +
      `${Math.round(anchorRate)}/s, ${before.rows} rows before and ${after.rows} after; ${(ROWS / wall / bareRate).toFixed(3)} against ${Math.round(bareRate)}/s of cases and documents ` +
      `without repairs and proofs; peak resident memory ${memory.api.toFixed(0)} MB API, ${memory.worker.toFixed(0)} MB worker (${resting.api.toFixed(0)} and ${resting.worker.toFixed(0)} before the file came)`;
    const baseline =
      'the same cases with evidence documents, repairs and proofs, ready-made, by unnest in batches of 1,000 with a commit each and ON CONFLICT, in the same tables under the same policies, keys and indexes';
    return [
      {
        name: 'NDJSON import over HTTP with linking, rows a second',
        ratio: ROWS / wall / anchorRate,
        baseline,
        aim: 0.25,
        better: 'more',
        detail,
      },
      {
        name: 'peak resident memory of the larger process in that import',
        ratio: Math.max(memory.api, memory.worker) / 250,
        baseline: '250 MB',
        aim: 1,
        detail,
      },
    ];
  } finally {
    for (const child of children) {
      child.removeAllListeners('exit');
      child.kill('SIGKILL');
    }
    await pool.end();
    await database.close();
    rmSync(directory, { recursive: true, force: true });
  }
}
