import { createHash, randomUUID } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import {
  type Answer,
  graphql,
  newPlatform,
  newShop,
  request,
  type TestApi,
  type TestOrganisation,
  testApi,
  testOrganisation,
} from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;

const upload = async (
  body: string | Buffer,
  {
    query = '',
    type = 'application/x-ndjson',
    headers = {},
    key = org.keys.integrator,
  }: { query?: string; type?: string; headers?: Record<string, string>; key?: string } = {},
): Promise<Answer> => {
  const response = await fetch(`${api.url}/v1/imports${query}`, {
    method: 'POST',
    headers: { authorization: `Bearer ${key}`, 'content-type': type, 'idempotency-key': randomUUID(), ...headers },
    body: body as never,
  });
  return { status: response.status, headers: response.headers, body: await response.json() };
};
const carryOut = (id: string, orgId = org.orgId) => importCases(api.casebook, orgId, id, { isLastTry: false });
const get = (path: string, key = org.keys.integrator) => request(api, key, 'GET', path);
const post = (path: string, body?: unknown) => request(api, org.keys.integrator, 'POST', path, body ?? {});
/** Sends a file and works it through, as the worker would. */
const imported = async (body: string | Buffer, options: Parameters<typeof upload>[1] = {}) => {
  const sent = await upload(body, options);
  expect(sent.status).toBe(202);
  await carryOut(sent.body.id);
  return (await get(`/v1/imports/${sent.body.id}`)).body;
};
const rows = async (id: string, outcome?: string) =>
  (await get(`/v1/imports/${id}/rows?first=100${outcome ? `&outcome=${outcome}` : ''}`)).body.data;
const allCases = async (key = org.keys.integrator) => {
  const found: { id: string }[] = [];
  for (let path: string | null = '/v1/cases?first=100'; path; ) {
    const { body } = await request(api, key, 'GET', path);
    found.push(...body.data);
    path = body.next ? `/v1/cases?first=100&after=${body.next}` : null;
  }
  return found;
};
const order = (reference: string, extra: Record<string, unknown> = {}) => ({
  shopCode: 'quay',
  vehicle: { vin: '1M8GDM9AXKP042788', platformCode: 'knot-r' },
  openedAt: '2026-05-04T09:00:00Z',
  complaint: 'cools-poorly',
  source: { system: 'orders', reference, revision: 1 },
  ...extra,
});
const ndjson = (lines: readonly unknown[]) =>
  `${lines.map((line) => (typeof line === 'string' ? line : JSON.stringify(line))).join('\n')}\n`;

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  other = await testOrganisation(api, 'Another region');
  for (const code of ['quay', 'harbour-road']) await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop(code));
  await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
});
afterAll(() => api?.close());

describe('a file of NDJSON', () => {
  const repair = { fault: 'condenser-dirt', action: 'clean-condenser', intent: 'permanent' };
  const file = ndjson([
    order('N-1', { repairs: [repair], proofs: [{ faults: ['condenser-dirt'], method: 'opened-part' }], closure: { outcome: 'repaired' } }),
    '{"complaint":',
    order('N-2', { complaint: 'cools-porly' }),
    '',
    order('N-3', { shopCode: 'quai' }),
    order('N-4', {
      evidence: {
        readings: [
          { quantity: 'pressure', value: 3000, unit: '[psi]', place: 'low-side-port', phase: 'running', reference: 'vented-gauge' },
        ],
      },
    }),
    order('N-5', { voided: 'entered twice' }),
    { ...order('x'), source: undefined },
  ]);

  it('becomes cases, and every bad row says what is wrong with it', async () => {
    const run = await imported(file);
    expect(run).toMatchObject({ state: 'done', format: 'ndjson', received: 7, done: 7, opened: 3, rejected: 4 });
    const rejected = await rows(run.id, 'rejected');
    expect(rejected.map((row: { line: number }) => row.line)).toEqual([2, 3, 5, 6]);
    expect(rejected[1]).toMatchObject({
      reference: 'N-2',
      problems: [{ pointer: '/complaint', remedy: expect.stringMatching(/Did you mean "cools-poorly"/) }],
    });
    expect(rejected[2].problems[0]).toMatchObject({ pointer: '/shopCode', remedy: expect.stringMatching(/Did you mean "quay"/) });
    expect(rejected[3].problems[0]).toMatchObject({ pointer: '/evidence/readings/0/value' });
    const [first] = await rows(run.id, 'opened');
    const stored = (await get(`/v1/cases/${first.caseId}`)).body;
    expect(stored).toMatchObject({
      status: 'closed',
      provedFaults: ['condenser-dirt'],
      repairs: [{ ...repair, day: '2026-05-04', parts: [] }],
    });
    const voided = (await rows(run.id)).find((row: { reference: string }) => row.reference === 'N-5');
    expect((await get(`/v1/cases/${voided.caseId}`)).body.status).toBe('void');
  });

  it('changes nothing when it is sent again', async () => {
    const before = await Promise.all((await allCases()).map(async ({ id }) => (await get(`/v1/cases/${id}`)).body));
    const run = await imported(file);
    expect(run).toMatchObject({ opened: 0, revised: 0, unchanged: 3, rejected: 4 });
    expect(await Promise.all((await allCases()).map(async ({ id }) => (await get(`/v1/cases/${id}`)).body))).toEqual(before);
  });

  it('is received once for one key, and another file under the key is refused', async () => {
    const headers = { 'idempotency-key': randomUUID() };
    const first = await upload(file, { headers });
    const again = await upload(file, { headers });
    expect(again.headers.get('idempotency-replayed')).toBe('true');
    expect(again.body.id).toBe(first.body.id);
    expect(first.headers.get('location')).toBe(`/v1/imports/${first.body.id}`);
    expect(await upload(`${file}{}`, { headers })).toMatchObject({ status: 422, body: { code: 'requests/key_reused' } });
    expect((await upload(file, { headers: { 'idempotency-key': '' } })).status).toBe(400);
  });

  it('comes as gzip too, with its digest checked; bombs, damage and emptiness are refused and leave nothing', async () => {
    const sha = (bytes: Buffer | string) => `sha-256=:${createHash('sha256').update(bytes).digest('base64')}:`;
    const packed = gzipSync(file);
    const headers = { 'content-encoding': 'gzip', 'content-digest': sha(packed) };
    expect(await imported(packed, { headers })).toMatchObject({ unchanged: 3 });
    const before = (await get('/v1/imports?first=100')).body.data.length;
    expect(await upload(packed, { headers: { ...headers, 'content-digest': sha('other') } })).toMatchObject({
      status: 400,
      body: { code: 'imports/unreadable' },
    });
    expect(await upload(gzipSync(Buffer.alloc(60_000_000, 0x20)), { headers: { 'content-encoding': 'gzip' } })).toMatchObject({
      status: 413,
    });
    expect(await upload(packed.subarray(0, 200), { headers: { 'content-encoding': 'gzip' } })).toMatchObject({ status: 400 });
    expect(await upload('\n\n')).toMatchObject({ status: 400, body: { code: 'imports/unreadable' } });
    expect(await upload(file, { headers: { 'content-encoding': 'br' } })).toMatchObject({ status: 415 });
    expect(await upload(file, { type: 'text/plain' })).toMatchObject({ status: 415 });
    expect((await get('/v1/imports?first=100')).body.data.length).toBe(before);
  });

  it('may be judged only, and may be history', async () => {
    const before = (await allCases()).length;
    expect(await imported(ndjson([order('D-1'), order('D-2', { complaint: 'x' })]), { query: '?dryRun=true' })).toMatchObject({
      dryRun: true,
      opened: 1,
      rejected: 1,
    });
    expect((await allCases()).length).toBe(before);
    const run = await imported(ndjson([order('B-1')]), { query: '?backfill=true' });
    expect((await get(`/v1/cases/${(await rows(run.id))[0].caseId}`)).body.backfill).toBe(true);
    // The same order without the flag is the same order.
    expect(await imported(ndjson([order('B-1')]))).toMatchObject({ unchanged: 1 });
  });

  it('keeps the newest revision whatever the order of its lines', async () => {
    const lines = [1, 2, 3].map((revision) =>
      order('R-1', { notes: `as of ${revision}`, source: { system: 'orders', reference: 'R-1', revision } }),
    );
    await imported(ndjson([lines[1], lines[2], lines[0]]));
    const again = await imported(ndjson(lines));
    expect(again).toMatchObject({ unchanged: 3, rejected: 0 });
    expect((await get(`/v1/cases/${(await rows(again.id))[0].caseId}`)).body.notes).toBe('as of 3');
  });

  it('does not touch the prototype, and refuses what is not I-JSON', async () => {
    const run = await imported(
      '{"__proto__":{"polluted":1},"complaint":"noise"}\n{"complaint":"noise","complaint":"leak"}\n{"a":1e999}\n"text"\n[1]\nnull\n',
    );
    expect(run).toMatchObject({ received: 6, rejected: 6 });
    expect(({} as { polluted?: number }).polluted).toBeUndefined();
  });
});

describe('a rejected row', () => {
  it('may hold what the database cannot keep: the reason quotes it, and the others of the file are stored', async () => {
    const broken = [
      '{"complaint":\u0000}',
      '{"source":{"reference":"a\\u0000b","system":"s"}}',
      '{"a\\u0000b":1}',
      '{"complaint":x\ud83d}',
    ];
    const run = await imported(`${broken.join('\n')}\n${ndjson([order('NUL-1')])}`);
    expect(run).toMatchObject({ received: 5, rejected: 4, opened: 1 });
    const kept = await rows(run.id);
    expect(kept[0].problems[0].detail).toContain('\ufffd');
    expect(kept[1].reference).toBe('a\ufffdb');
    expect(kept[2].problems.some(({ pointer }: { pointer: string }) => pointer === '/a\ufffdb')).toBe(true);
    await post('/v1/imports/mappings', { name: 'loose', mapping: { ignoreUnknownColumns: true } });
    const headed = await imported('shop_code,complaint,vin,od\u0000d\nquay,noise,,1\n', { type: 'text/csv', query: '?mapping=loose' });
    expect(headed).toMatchObject({ received: 1, columns: ['shop_code', 'complaint', 'vin', 'od\ufffdd'] });
  });

  it('is corrected as a case, or with all others once what was missing is there', async () => {
    const run = await imported(
      ndjson([order('C-1', { complaint: 'nois' }), order('C-2', { shopCode: 'new-shop' }), order('C-3', { shopCode: 'new-shop' })]),
    );
    const still = await post(`/v1/imports/${run.id}/rows/1/correction`, {});
    expect(still).toMatchObject({ status: 200, body: { outcome: 'rejected' } });
    const fixed = await post(`/v1/imports/${run.id}/rows/1/correction`, { case: order('C-1', { complaint: 'noise' }) });
    expect(fixed.body).toMatchObject({ outcome: 'opened', corrected: true, problems: [] });
    expect(await post(`/v1/imports/${run.id}/rows/1/correction`, {})).toMatchObject({ status: 409 });
    expect(await post(`/v1/imports/${run.id}/rows/9/correction`, {})).toMatchObject({ status: 404 });
    await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('new-shop'));
    const replay = await post(`/v1/imports/${run.id}/replay`);
    expect(replay).toMatchObject({ status: 202, body: { state: 'waiting' } });
    await carryOut(run.id);
    expect((await get(`/v1/imports/${run.id}`)).body).toMatchObject({ state: 'done', opened: 3, rejected: 0 });
  });

  it('is kept sealed, and what was sent is gone after thirty days while the reason stays', async () => {
    const vin = '1M8GDM9AXKP042799';
    const run = await imported(ndjson([order('P-1', { complaint: 'nois', vehicle: { vin } })]));
    const errors = await get(`/v1/imports/${run.id}/errors`);
    expect(JSON.parse(errors.body)).toMatchObject({ line: 1, sent: { vehicle: { vin } }, problems: [{ pointer: '/complaint' }] });
    const raw = await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query<{ row: string }>({
        name: 'test.rows',
        text: `select encode(sealed, 'escape') || problems::text as row from import_row where org_id = $1`,
        values: [org.orgId],
      }),
    );
    expect(raw.rows.map(({ row }) => row).join()).not.toContain(vin);
    const later = { ...api.casebook.context, clock: () => new Date(Date.now() + 31 * 86_400_000) };
    const { Casebook } = await import('#libs/casebook/index.js');
    expect(await new Casebook(later).imports.purge(org.orgId)).toBeGreaterThan(0);
    expect(JSON.parse((await get(`/v1/imports/${run.id}/errors`)).body)).toMatchObject({
      sent: null,
      problems: [{ pointer: '/complaint' }],
    });
    expect(await post(`/v1/imports/${run.id}/rows/1/correction`, {})).toMatchObject({ status: 409 });
  });
});

describe('a delimited file', () => {
  it('is read whatever its dialect: semicolons, BOM, quotes, decimal commas, units in cells, dates of the shop', async () => {
    const csv = `\ufeffreference;revision;shop_code;opened_at;complaint;complaint_text;odometer;low_side_pressure;high_side_pressure;pressure_reference;platform_code\r\n"K-1";1;quay;04.05.2026 09:30;cools-poorly;"Says ""warm""; only in town";88 100 km;2,4 bar;19,5 bar;vented-gauge;knot-r\r\n`;
    const run = await imported(csv, { type: 'text/csv' });
    expect(run).toMatchObject({ opened: 0, rejected: 1 });
    // 04.05. could be April or May: the file is refused to be guessed at, and mended by one word of a mapping.
    expect((await rows(run.id))[0].problems).toMatchObject([{ column: 'opened_at', remedy: expect.stringMatching(/day-month-year/) }]);
    await post('/v1/imports/mappings', { name: 'german', mapping: { dates: 'day-month-year' } });
    const second = await imported(csv, { type: 'text/csv', query: '?mapping=german' });
    expect(second).toMatchObject({ opened: 1, rejected: 0, columns: expect.arrayContaining(['reference', 'platform_code']) });
    const stored = (await get(`/v1/cases/${(await rows(second.id))[0].caseId}`)).body;
    expect(stored).toMatchObject({ openedAt: '2026-05-04T07:30:00Z', complaintText: 'Says "warm"; only in town', odometerKm: 88100 });
    expect(stored.evidence.readings.map(({ value, unit, place }: Record<string, unknown>) => [value, unit, place])).toEqual([
      [2.4, 'bar', 'low-side-port'],
      [19.5, 'bar', 'high-side-port'],
    ]);
  });

  it('has its three faulty rows of a thousand mended from the messages alone', async () => {
    const lines = Array.from(
      { length: 400 },
      (_, i) => `T-${i},quay,2026-05-0${(i % 9) + 1} 10:00,cools-poorly,${20 + (i % 9)},Cel,knot-r`,
    );
    lines[100] = 'T-100,quay,2026-05-04 10:00,cools porly,24,Cel,knot-r';
    lines[200] = 'T-200,quai,2026-05-04 10:00,noise,24,Cel,knot-r';
    lines[300] = 'T-300,quay,2026-13-04 10:00,noise,24,Cel,knot-r';
    const run = await imported(
      `reference,shop_code,opened_at,complaint,outside_air,temperature_unit,platform_code\n${lines.join('\n')}\n`,
      { type: 'text/csv' },
    );
    expect(run).toMatchObject({ received: 400, opened: 397, rejected: 3 });
    for (const row of await rows(run.id, 'rejected')) {
      const [problem] = row.problems;
      const meant = /Did you mean "([^"]+)"/.exec(problem.remedy)?.[1] ?? '2026-12-04 10:00';
      const { body } = await post(`/v1/imports/${run.id}/rows/${row.line}/correction`, {
        cells: [{ column: problem.column, value: meant }],
      });
      expect(body).toMatchObject({ outcome: 'opened', corrected: true });
    }
    expect((await get(`/v1/imports/${run.id}`)).body).toMatchObject({ opened: 400, rejected: 0 });
  });

  it('is refused whole when its heading cannot be right', async () => {
    const before = (await get('/v1/imports?first=100')).body.data.length;
    const refused = await upload('refrence,complaint,colour\n1,noise,red\n', { type: 'text/csv' });
    expect(refused).toMatchObject({ status: 422, body: { code: 'imports/heading' } });
    expect(refused.body.errors[0].remedy).toMatch(/Did you mean "reference"/);
    expect(await upload('complaint\nnoise\n', { type: 'text/csv', query: '?mapping=nowhere' })).toMatchObject({ status: 404 });
    expect(await upload('__proto__,constructor\n1,2\n', { type: 'text/csv' })).toMatchObject({ status: 422 });
    expect((await get('/v1/imports?first=100')).body.data.length).toBe(before);
  });

  it('may hold the lines of orders, some of them repairs by the rules of the mapping', async () => {
    await post('/v1/imports/mappings', {
      name: 'order lines',
      mapping: {
        ignoreUnknownColumns: true,
        columns: [
          { column: 'Order', field: 'reference' },
          { column: 'Date', field: 'opened_at' },
          { column: 'Text', field: 'line_text' },
          { column: 'Amount', field: 'cost' },
          { column: 'Cancelled', field: 'voided' },
          { column: 'Low', field: 'low_side_pressure', unit: '[psi]' },
        ],
        constants: [
          { field: 'complaint', value: 'other' },
          { field: 'shop_code', value: 'harbour-road' },
          { field: 'system', value: 'till' },
        ],
        lines: [
          { contains: 'condenser', action: 'replace-condenser', fault: 'condenser-passages' },
          { contains: 'recharge', action: 'recover-evacuate-charge', fault: 'undercharge', intent: 'temporary' },
        ],
      },
    });
    const csv =
      'Order\tDate\tText\tAmount\tCancelled\tLow\tClerk\n7\t2025-03-01\tNew CONDENSER fitted\t240.50\t\t31\tX\n7\t2025-03-01\tA/C recharge\t60\t\t\tX\n7\t2025-03-01\tWiper blades\t20\t\t\tX\n8\t2025-03-02\tA/C recharge\t60\tyes\t\tX\n';
    const options = { type: 'text/tab-separated-values', query: '?mapping=order%20lines&backfill=true' };
    const run = await imported(csv, options);
    expect(run).toMatchObject({ received: 2, opened: 2 });
    const [seven, eight] = await rows(run.id);
    const stored = (await get(`/v1/cases/${seven.caseId}`)).body;
    expect(stored.repairs).toMatchObject([
      { action: 'replace-condenser', fault: 'condenser-passages', intent: 'unknown', cost: 240.5, day: '2025-03-01' },
      { action: 'recover-evacuate-charge', fault: 'undercharge', intent: 'temporary', cost: 60 },
    ]);
    expect((await get(`/v1/cases/${eight.caseId}`)).body.status).toBe('void');
    expect(await imported(csv, options)).toMatchObject({ unchanged: 2 });
  });

  it('may hold readings in its sentences: they are proposed, and are in the case only once somebody adds them', async () => {
    const csv = 'reference,shop_code,complaint,notes\nP-1,quay,cools-poorly,"Low side 28 psi, high 210 psi; vent 12 °C"\n';
    const { caseId } = (await rows((await imported(csv, { type: 'text/csv' })).id))[0];
    expect((await get(`/v1/cases/${caseId}`)).body.evidence.readings).toEqual([]);
    const proposed = (await get(`/v1/cases/${caseId}/proposed-readings`)).body.data;
    expect(proposed.map(({ from, quote }: Record<string, unknown>) => [from, quote])).toEqual([
      ['notes', 'Low side 28 psi'],
      ['notes', 'high 210 psi'],
      ['notes', 'vent 12 °C'],
    ]);
    expect((await get(`/v1/cases/${caseId}`)).body.evidence.readings).toEqual([]);
    const added = await post(`/v1/cases/${caseId}/readings`, { readings: [proposed[0].reading] });
    expect([added.status, added.body.evidence.readings.length]).toEqual([201, 1]);
    const left = await graphql(api, org.keys.integrator, `{ proposedReadings(caseId: "${caseId}") { data { quote } } }`);
    expect(left.body.data.proposedReadings.data).toEqual([{ quote: 'high 210 psi' }, { quote: 'vent 12 °C' }]);
  });

  it('as untidy as shops write them is stored nearly whole, and no order twice', async () => {
    await post('/v1/imports/mappings', {
      name: 'untidy',
      mapping: {
        ignoreUnknownColumns: true,
        revisionFromRow: true,
        decimal: 'comma',
        dates: 'day-month-year',
        columns: [
          { column: 'Auftrag', field: 'reference' },
          { column: 'Datum', field: 'opened_at' },
          { column: 'FIN', field: 'vin' },
          { column: 'Text', field: 'line_text' },
          { column: 'Betrag', field: 'cost' },
          { column: 'Storno', field: 'voided' },
          { column: 'Niederdruck', field: 'low_side_pressure', unit: 'bar' },
          { column: 'Tacho', field: 'odometer', unit: 'km' },
        ],
        constants: [
          { field: 'complaint', value: 'other' },
          { field: 'shop_code', value: 'quay' },
          { field: 'system', value: 'untidy' },
          { field: 'pressure_reference', value: 'vented-gauge' },
        ],
        lines: [
          { contains: 'kondensator', action: 'replace-condenser', fault: 'condenser-passages' },
          { contains: 'nachfüll', action: 'top-up', fault: 'undercharge', intent: 'temporary' },
        ],
      },
    });
    const ORDERS = 400;
    const day = (i: number) => `${String((i % 28) + 1).padStart(2, '0')}.03.2025`;
    const head = (i: number) => {
      const vin = i % 20 < 3 ? '' : `1M8GDM9A${i % 2 ? 'x' : 'X'}KP${String(40_000 + (i % 150)).padStart(6, '0')}`;
      // Units are mixed within the column; one order in forty names one that nobody knows.
      const low = i % 40 === 39 ? '31 Striche' : i % 3 === 0 ? '31 psi' : i % 3 === 1 ? '2,1' : '210 kPa';
      return [day(i), vin, low, i % 7 === 0 ? `${50_000 + i} mi` : `${80_000 + i},5`] as const;
    };
    const line = (i: number, text: string, voided = '') => {
      const [date, vin, low, odometer] = head(i);
      return `U-${i};${date};${vin};"${text}";${(i % 90) + 0.5};${voided};${low};${odometer}`.replace(/(\d)\.5;/, '$1,5;');
    };
    const lines: string[] = [];
    for (let i = 0; i < ORDERS; i++) {
      lines.push(line(i, 'A/C nachfüllen; prüfen', i % 25 === 24 ? 'ja, doppelt erfasst' : ''));
      if (i % 4 === 0) lines.push(line(i, 'Neuer KONDENSATOR "groß"'.replaceAll('"', '""')));
      if (i % 5 === 0) lines.push(line(i, 'Wischerblätter'));
    }
    // Opened again days later: the order stands a second time, far below, with one more line.
    for (let i = 0; i < ORDERS; i += 20) lines.push(line(i, 'A/C nachfüllen; prüfen'), line(i, 'Kondensator noch einmal'));
    const csv = Buffer.from(`\ufeffAuftrag;Datum;FIN;Text;Betrag;Storno;Niederdruck;Tacho\r\n${lines.join('\r\n')}\r\n`);
    const before = (await allCases()).length;
    const options = { type: 'text/csv', query: '?mapping=untidy&backfill=true' };
    const run = await imported(csv, options);
    const stored = (await allCases()).length - before;
    expect(run.opened).toBe(stored);
    expect(stored).toBeGreaterThanOrEqual(ORDERS * 0.95);
    expect(stored + run.rejected).toBe(ORDERS);
    expect((await rows(run.id, 'rejected'))[0].problems[0]).toMatchObject({
      column: 'Niederdruck',
      code: expect.stringMatching(/^units\//),
    });
    expect(run.revised).toBe(ORDERS / 20);
    expect((await imported(csv, options)).opened).toBe(0);
    expect((await allCases()).length).toBe(before + stored);
  });

  it('comes back as an error file that can be mended and sent, formulas kept as text', async () => {
    const run = await imported('reference,complaint,notes,shop_code\nF-1,nois,=1+1,quay\n', { type: 'text/csv' });
    const file = (await get(`/v1/imports/${run.id}/errors?format=csv`)).body as string;
    expect(file).toContain(`'=1+1`);
    await post('/v1/imports/mappings', { name: 'mended', mapping: { ignoreUnknownColumns: true } });
    const mended = await imported(file.replace('nois', 'noise'), { type: 'text/csv', query: '?mapping=mended' });
    expect((await get(`/v1/cases/${(await rows(mended.id))[0].caseId}`)).body.notes).toBe('=1+1');
  });

  it('has a template that imports as it is', async () => {
    const template = await fetch(`${api.url}/v1/imports/template.csv`).then((answer) => answer.text());
    const run = await imported(template, { type: 'text/csv', query: '?dryRun=true' });
    expect(await rows(run.id)).toMatchObject([{ outcome: 'opened', problems: [] }]);
  });
});

describe('progress', () => {
  it('is told as it happens, and ends with the import', async () => {
    const { body } = await upload(ndjson(Array.from({ length: 250 }, (_, i) => order(`S-${i}`))));
    const response = await fetch(`${api.url}/v1/imports/${body.id}/events`, {
      headers: { authorization: `Bearer ${org.keys.integrator}` },
    });
    expect(response.headers.get('content-type')).toMatch(/^text\/event-stream/);
    const text = response.text();
    await carryOut(body.id);
    const events = (await text).split('\n\n').filter((event) => event.startsWith('event:'));
    expect(events[0]).toMatch(/^event: (waiting|running)/);
    expect(events.at(-1)).toMatch(/^event: done/);
    expect((await get(`/v1/tasks/${body.id}`)).body).toMatchObject({ kind: 'imports.run', state: 'done', done: 250, total: 250 });
  });

  it('goes on where a worker that was stopped left off', async () => {
    const { body } = await upload(ndjson(Array.from({ length: 1_600 }, (_, i) => order(`W-${i}`))));
    const stop = new AbortController();
    const first = api.casebook.imports.carryOut(org.orgId, body.id, stop.signal);
    while ((await get(`/v1/imports/${body.id}`)).body.done === 0) await new Promise((wake) => setTimeout(wake, 20));
    stop.abort();
    await expect(first).rejects.toThrow(/stop/);
    const half = (await get(`/v1/imports/${body.id}`)).body;
    expect(half.done).toBeGreaterThan(0);
    expect(half.done).toBeLessThan(1_600);
    await Promise.all([carryOut(body.id), carryOut(body.id)]);
    expect((await get(`/v1/imports/${body.id}`)).body).toMatchObject({ state: 'done', opened: 1_600, unchanged: 0 });
  });

  it('of slices sent side by side is one import in the end', async () => {
    const lines = Array.from({ length: 80 }, (_, i) => order(`P8-${i}`, { vehicle: { plate: `AB ${i % 7}`, platformCode: 'knot-r' } }));
    const before = (await allCases()).length;
    const slices = Array.from({ length: 8 }, (_, part) => [...lines.slice(part * 10, part * 10 + 30), ...lines.slice(0, 10)].reverse());
    const sent = await Promise.all(slices.map((slice) => upload(ndjson(slice))));
    await Promise.all(sent.map(({ body }) => carryOut(body.id)));
    expect((await allCases()).length).toBe(before + 80);
    for (const { body } of sent) expect((await get(`/v1/imports/${body.id}`)).body).toMatchObject({ state: 'done', rejected: 0 });
  });
});

describe('imports of others', () => {
  it('are nowhere, on both transports', async () => {
    const run = await imported(ndjson([order('O-1', { complaint: 'x' })]));
    for (const path of ['', '/rows', '/events', '/errors'])
      expect((await get(`/v1/imports/${run.id}${path}`, other.keys.integrator)).status).toBe(404);
    expect((await get(`/v1/imports/${run.id}`, org.keys.director)).status).toBe(403);
    const asked =
      '{ imports(first: 1) { data { id opened rejected } } importRows(importId: "ID") { data { line outcome problems { pointer remedy } } } }'.replace(
        'ID',
        run.id,
      );
    const mine = await graphql(api, org.keys.integrator, asked);
    expect(mine.body.data.importRows.data).toEqual([
      { line: 1, outcome: 'rejected', problems: [expect.objectContaining({ pointer: '/complaint' })] },
    ]);
    expect((await graphql(api, other.keys.integrator, asked)).body.errors[0].extensions.code).toBe('imports/not_found');
  });
});
