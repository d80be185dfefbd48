// A file of cases over HTTP, validated, linked and idempotent, against the same rows put into the same two tables ready-made. One run, one server.
import { fork } from 'node:child_process';
import { createHash, randomUUID } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { v7 as uuidv7 } from 'uuid';
import { openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { createPool, inTenant, openDatabase, serverSecret } from '#libs/database/index.js';
import { cpuSeconds } from './load.mjs';

const ROWS = Number(process.env.COOLBACK_BENCH_ROWS ?? 40_000);
const VISITS = 3;
const BATCH = 1_000;
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

/** The anchor: rows that need no thought, by unnest in batches of a thousand, a commit each, repeatable, under the same policies and indexes. */
async function anchor(pool, { orgId, shops, platforms }, from, rows) {
  const cars = Math.ceil(ROWS / VISITS);
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
    batches.push({
      ids: lines.map(() => uuidv7()),
      shops: lines.map(({ shopCode }) => shops.find(({ code }) => code === shopCode).id),
      vehicles: lines.map((_, k) => vehicles[(i + k) % cars]),
      platforms: lines.map(({ vehicle }) => platforms.find(({ code }) => code === vehicle.platformCode).id),
      complaints: lines.map(({ complaint }) => complaint),
      texts: lines.map(({ complaintText }) => complaintText),
      opened: lines.map(({ openedAt }) => openedAt),
      km: lines.map(({ odometer }) => odometer.value),
      references: lines.map(({ source }) => source.reference),
      hashes: lines.map((line) => createHash('sha256').update(line.source.reference).digest()),
      documents: lines.map(({ evidence }) =>
        JSON.stringify({
          ...evidence,
          readings: evidence.readings.map((reading, n) => ({ ...reading, id: `r${n + 1}`, si: reading.value * 1e5, siUnit: 'Pa' })),
          ...{ findings: [], thermalMaps: [], traces: [], offers: [] },
        }),
      ),
    });
  }
  let backend = 0;
  const cpu = { start: 0, node: process.cpuUsage() };
  const start = performance.now();
  for (const one of batches) {
    await inTenant(pool, orgId, async (tx) => {
      if (backend === 0) {
        backend = (await tx.query({ name: 'bench.pid', text: 'select pg_backend_pid() as pid' })).rows[0].pid;
        cpu.start = cpuSeconds(backend);
      }
      await tx.query({
        name: 'bench.cases',
        text: `insert into shop_case (org_id, created_at, updated_at, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, complaint_text,
                                      opened_at, odometer_km, proved_faults, source_system, source_reference, source_revision, source_hash, backfill, warnings)
               select $1, $2, $2, id, 1, 1, shop, vehicle, platform, 'open', complaint, words, opened, km, '{}', 'orders', reference, 1, hash, true, '[]'
                 from unnest($3::uuid[], $4::uuid[], $5::uuid[], $6::uuid[], $7::text[], $8::text[], $9::timestamptz[], $10::float8[], $11::text[], $12::bytea[])
                   as row(id, shop, vehicle, platform, complaint, words, opened, km, reference, hash)
               on conflict (org_id, source_system, source_reference) do nothing`,
        values: [
          orgId,
          at,
          one.ids,
          one.shops,
          one.vehicles,
          one.platforms,
          one.complaints,
          one.texts,
          one.opened,
          one.km,
          one.references,
          one.hashes,
        ],
      });
      await tx.query({
        name: 'bench.evidence',
        text: `insert into case_evidence (org_id, case_id, revision, document, created_at)
               select $1, id, 1, document::jsonb, $2 from unnest($3::uuid[], $4::text[]) as row(id, document) on conflict do nothing`,
        values: [orgId, at, one.ids, one.documents],
      });
    });
  }
  const used = process.cpuUsage(cpu.node);
  return { wall: (performance.now() - start) / 1000, cpu: cpuSeconds(backend) - cpu.start + (used.user + used.system) / 1e6, rows };
}

function started(script, env) {
  const child = fork(dist(script), [], {
    env: { ...process.env, NODE_ENV: 'production', ...env },
    execArgv: [],
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
    const half = Math.floor(ROWS / 2 / BATCH) * BATCH;
    const before = await anchor(pool, theirs, 0, half);
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
      await sleep(50);
      run = await (await fetch(`${url}/${id}`, { headers })).json();
    } while (run.state === 'waiting' || run.state === 'running');
    const wall = (performance.now() - start) / 1000;
    const nodeCpu = cpu() - cpuStart;
    if (run.state !== 'done' || run.opened !== ROWS) throw new Error(`the import ended otherwise: ${JSON.stringify(run)}`);
    const memory = { api: peakMb(api.child), worker: peakMb(worker.child) };
    const after = await anchor(pool, theirs, half, half);
    const anchorRate = (before.rows + after.rows) / (before.wall + after.wall);
    const detail =
      `${ROWS} rows, ${VISITS} visits a car, an evidence document each, a repair on every second and a proof on every fourth: ${Math.round(ROWS / wall)}/s ` +
      `(${received.toFixed(1)} s to take the file in, ${(wall - received).toFixed(1)} s to carry it out, ${((nodeCpu / ROWS) * 1e6).toFixed(0)} µs of API and worker a row) against ` +
      `${Math.round(anchorRate)}/s, half before and half after; peak resident memory ${memory.api.toFixed(0)} MB API, ${memory.worker.toFixed(0)} MB worker`;
    const baseline =
      'the same cases and evidence documents, ready-made, by unnest in batches of 1,000 with a commit each and ON CONFLICT, under the same policies';
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
