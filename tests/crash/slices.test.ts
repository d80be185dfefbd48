import { createHash, randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { randomOf } from '../fuzz/random.js';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

const ROWS = Number(process.env['COOLBACK_CRASH_ROWS'] ?? 4_000);
const TIMES = 5;
const SLICES = 8;
const LIMIT_MS = 120_000 + ROWS * TIMES * 30;

let api: TestApi;
beforeAll(async () => {
  api = await testApi();
}, 600_000);
afterAll(() => api?.close());

async function founded(): Promise<TestOrganisation> {
  const org = await testOrganisation(api);
  for (const code of ['quay', 'harbour-road']) await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop(code));
  await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
  return org;
}

/** Cars that come four times over two years to two shops, repaired every third time, proved every fourth. */
const lines = Array.from({ length: ROWS }, (_, i) => {
  const car = i % Math.ceil(ROWS / 4);
  return JSON.stringify({
    shopCode: (car + i) % 3 === 0 ? 'quay' : 'harbour-road',
    vehicle: { plate: `S ${car}`, platformCode: 'knot-r' },
    odometer: { value: 40_000 + i, unit: 'km' },
    complaint: i % 2 === 0 ? 'cools-poorly' : 'noise',
    openedAt: new Date(Date.UTC(2024, 0, 1 + Math.floor((i * 700) / ROWS), 8, car % 60)).toISOString(),
    source: { system: 'slices', reference: `S-${i}`, revision: 1 },
    evidence: { readings: [{ quantity: 'temperature', place: 'vent', phase: 'running', value: 5 + (car % 12), unit: 'Cel' }] },
    ...(i % 3 === 0 ? { repairs: [{ fault: 'undercharge', action: 'top-up', intent: 'temporary' }] } : {}),
    ...(i % 4 === 0 ? { proofs: [{ faults: ['undercharge'], method: 'judgement' }] } : {}),
  });
});

async function send(org: TestOrganisation, part: readonly string[]): Promise<string> {
  const response = await fetch(`${api.url}/v1/imports`, {
    method: 'POST',
    headers: { authorization: `Bearer ${org.keys.integrator}`, 'content-type': 'application/x-ndjson', 'idempotency-key': randomUUID() },
    body: part.join('\n'),
  });
  expect(response.status).toBe(202);
  const { id } = (await response.json()) as { id: string };
  await importCases(api.casebook, org.orgId, id, { isLastTry: false });
  return id;
}

/** What is known, with names in the place of identifiers and without when and how often it was told. */
async function known({ orgId }: TestOrganisation) {
  const read = (text: string) =>
    api.casebook.context.inTenant(orgId, async (tx) => {
      const name = createHash('md5').update(text).digest('hex');
      return (await tx.query<{ row: unknown }>({ name, text, values: [orgId] })).rows.map(({ row }) => JSON.stringify(row)).sort();
    });
  const named = 'join shop_case c on c.org_id = t.org_id and c.id = t.case_id';
  return {
    cases: await read(
      `select json_build_array(c.source_reference, c.source_revision, c.version, s.code, p.code, c.status, c.complaint, c.opened_at, c.odometer_km, c.proved_faults,
                (select array_agg(b.source_reference order by b.opened_at, b.source_reference) from shop_case b where b.org_id = c.org_id and b.vehicle_id = c.vehicle_id)) as row
         from shop_case c join shop s on s.org_id = c.org_id and s.id = c.shop_id join platform p on p.org_id = c.org_id and p.id = c.platform_id where c.org_id = $1`,
    ),
    evidence: await read(
      `select json_build_array(c.source_reference, t.revision, t.document) as row from case_evidence t ${named} where t.org_id = $1`,
    ),
    repairs: await read(
      `select json_build_array(c.source_reference, t.fault, t.action, t.intent, t.day, t.vehicle_id = c.vehicle_id) as row from repair t ${named} where t.org_id = $1`,
    ),
    proofs: await read(`select json_build_array(c.source_reference, t.faults, t.method) as row from proof t ${named} where t.org_id = $1`),
    episodes: await read(
      `select json_build_array(c.source_reference, t.fault, t.action, t.intent, t.started_on, t.end_kind, t.ended_on, t.distance_km, e.source_reference) as row
         from episode t ${named} left join shop_case e on e.org_id = t.org_id and e.id = t.end_case_id where t.org_id = $1`,
    ),
    sightings: await read(
      `select json_build_array((select min(c.source_reference) from shop_case c where c.org_id = t.org_id and c.vehicle_id = t.vehicle_id), s.code, t.day, t.odometer_km) as row
         from sighting t join shop s on s.org_id = t.org_id and s.id = t.shop_id where t.org_id = $1`,
    ),
    vehicles: await read('select json_build_array(count(*)) as row from vehicle where org_id = $1'),
  };
}

it(
  `${ROWS} orders sent ${TIMES} times, shuffled, in ${SLICES} slices side by side, are known as if they had come once and in order`,
  async () => {
    const once = await founded();
    await send(once, lines);
    const often = await founded();
    const random = randomOf(20_260_901);
    const counts = { opened: 0, unchanged: 0, revised: 0, rejected: 0 };
    for (let time = 0; time < TIMES; time++) {
      const shuffled = lines
        .map((line) => ({ line, at: random.unit() }))
        .sort((a, b) => a.at - b.at)
        .map(({ line }) => line);
      const size = Math.ceil(ROWS / SLICES);
      const ids = await Promise.all(
        Array.from({ length: SLICES }, (_, slice) => send(often, shuffled.slice(slice * size, (slice + 1) * size))),
      );
      for (const id of ids) {
        const { body } = await request(api, often.keys.integrator, 'GET', `/v1/imports/${id}`);
        expect(body.state).toBe('done');
        for (const outcome of Object.keys(counts) as (keyof typeof counts)[]) counts[outcome] += body[outcome];
      }
    }
    expect(counts).toEqual({ opened: ROWS, unchanged: ROWS * (TIMES - 1), revised: 0, rejected: 0 });
    const [first, second] = [await known(once), await known(often)];
    expect(first.cases).toHaveLength(ROWS);
    expect(first.episodes.length).toBeGreaterThan(ROWS / 4);
    for (const part of Object.keys(first) as (keyof typeof first)[]) expect([part, second[part]]).toEqual([part, first[part]]);
  },
  LIMIT_MS,
);
