import { once } from 'node:events';
import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { Problem } from '#libs/contracts/index.js';
import {
  type Answer,
  newPlatform,
  newShop,
  request,
  type TestApi,
  type TestOrganisation,
  testApi,
  testOrganisation,
} from '../support/api.js';

/** Ten times the limit of a body. */
const LONG = 10 * 2 ** 20;

let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;
let shopId: string;
let foreignShopId: string;
const send = (body: unknown, headers: Record<string, string> = {}) => request(api, org.keys.integrator, 'POST', '/v1/cases', body, headers);
const minimal = (extra: Record<string, unknown> = {}) => ({
  shopId,
  vehicle: { platformCode: 'knot-r' },
  complaint: 'cools-poorly',
  ...extra,
});
const reading = (extra: Record<string, unknown>) =>
  minimal({
    evidence: {
      readings: [
        { quantity: 'pressure', place: 'low-side-port', phase: 'running', reference: 'vented-gauge', value: 30, unit: '[psi]', ...extra },
      ],
    },
  });
const stored = async () => (await request(api, org.keys.integrator, 'GET', '/v1/cases?first=100')).body.data.length;

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  other = await testOrganisation(api, 'Another region');
  shopId = (await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'))).body.id;
  foreignShopId = (await request(api, other.keys.administrator, 'POST', '/v1/shops', newShop('quay'))).body.id;
  await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
});
afterAll(() => api?.close());

function problem(answer: Answer, status: number): Problem {
  expect(answer.headers.get('content-type')).toMatch(/^application\/problem\+json/);
  const parsed = Problem.parse(answer.body);
  expect(answer.status).toBe(status);
  expect(parsed.status).toBe(status);
  return parsed;
}

describe('bad input is refused with the field, the fault and the remedy, and nothing is stored', () => {
  it.each([
    ['an unknown unit', () => reading({ unit: 'psi' }), '/evidence/readings/0/unit', /\[psi\]/],
    ['a unit of another kind', () => reading({ unit: 'Cel' }), '/evidence/readings/0/unit', /unit/i],
    ['an impossible value', () => reading({ value: 3000 }), '/evidence/readings/0/value', /slip|check/i],
    ['a vacuum deeper than the local air', () => reading({ value: -20 }), '/evidence/readings/0/value', /slip|check/i],
    ['a misspelt place', () => reading({ place: 'low-side-prot' }), '/evidence/readings/0/place', /low-side-port/],
    ['a field that does not exist', () => minimal({ complant: 'noise' }), '/complant', /complaint/],
    ['a time without offset', () => minimal({ openedAt: '2026-07-01T10:00:00' }), '/openedAt', null],
    ['a missing complaint', () => ({ shopId, vehicle: {} }), '/complaint', null],
    ['text with a NUL', () => minimal({ notes: 'a\u0000b' }), '/notes', null],
    ['an odometer beyond reason', () => minimal({ odometer: { value: 9e8, unit: 'km' } }), '/odometer/value', /digits|unit/i],
    [
      'a condition no workshop meets',
      () => minimal({ evidence: { conditions: { outsideAir: { value: 95, unit: 'Cel' } } } }),
      '/evidence/conditions/outsideAir/value',
      /degF|check/i,
    ],
  ])('%s', async (_what, body, pointer, remedy) => {
    const before = await stored();
    const { errors } = problem(await send(body()), 422);
    const error = errors.find((one) => one.pointer === pointer);
    expect(error).toBeDefined();
    if (remedy) expect(error!.remedy).toMatch(remedy);
    expect(await stored()).toBe(before);
  });

  it('every fault of a request at once', async () => {
    const { errors } = problem(await send(minimal({ complaint: 'nois', openedAt: 'yesterday', vehicle: { modelYear: 3 } })), 422);
    expect(errors.map((error) => error.pointer).sort()).toEqual(['/complaint', '/openedAt', '/vehicle/modelYear']);
  });

  it("another organisation's shop, as if it did not exist", async () => {
    const foreign = problem(await send(minimal({ shopId: foreignShopId })), 404);
    const nowhere = problem(await send(minimal({ shopId: '01980000-0000-7000-8000-000000000001' })), 404);
    expect({ ...foreign, traceId: '', detail: '', errors: [] }).toEqual({ ...nowhere, traceId: '', detail: '', errors: [] });
  });

  it('bodies that are not I-JSON, too large, or of another type', async () => {
    const raw = (body: string | Buffer, type = 'application/json') =>
      fetch(`${api.url}/v1/cases`, {
        method: 'POST',
        headers: { authorization: `Bearer ${org.keys.integrator}`, 'content-type': type, 'idempotency-key': 'raw' },
        body: body as never,
      }).then(async (response) => ({ status: response.status, headers: response.headers, body: await response.json() }));
    problem(await raw('{"complaint":'), 400);
    expect(problem(await raw('{"a":1,"a":2}'), 400).detail).toMatch(/twice/);
    expect(problem(await raw('{"a":1e999}'), 400).detail).toMatch(/double/);
    expect(problem(await raw('{"a":"\\ud800"}'), 400).detail).toMatch(/surrogate/);
    expect(problem(await raw(Buffer.from([0x7b, 0x22, 0xff, 0x22, 0x3a, 0x31, 0x7d])), 400).detail).toMatch(/UTF-8/);
    expect(problem(await raw('['.repeat(70) + ']'.repeat(70)), 400).detail).toMatch(/64/);
    problem(await raw(JSON.stringify({ notes: 'x'.repeat(1_100_000) })), 413);
    problem(await raw('shop: quay', 'application/yaml'), 415);
  });

  it.each([
    ['a length beyond the limit', 413, 'application/json', `content-length: ${LONG}`],
    ['chunks without end', 413, 'application/json', 'transfer-encoding: chunked'],
    ['a type nobody reads', 415, 'application/yaml', `content-length: ${LONG}`],
    ['a key nobody has', 401, 'application/x-ndjson', `content-length: ${LONG}`],
    ['a file that is damaged from its first byte', 400, 'application/x-ndjson', `content-encoding: gzip\r\ncontent-length: ${LONG}`],
  ])('%s, to a sender who reads nothing before all is sent', async (_what, status, type, length) => {
    const key = status === 401 ? org.keys.integrator.slice(0, -1) : org.keys.integrator;
    const path = type === 'application/x-ndjson' ? '/v1/imports' : '/v1/cases';
    const head = [
      `POST ${path} HTTP/1.1`,
      'host: x',
      `authorization: Bearer ${key}`,
      'idempotency-key: k',
      `content-type: ${type}`,
      length,
    ];
    const socket = connect(Number(new URL(api.url).port), '127.0.0.1').pause();
    const body = Buffer.alloc(LONG, 0x20);
    const chunked = Buffer.concat([Buffer.from(`${LONG.toString(16)}\r\n`), body, Buffer.from('\r\n0\r\n\r\n')]);
    await new Promise<void>((resolve, reject) => {
      socket.once('error', reject).write(`${head.join('\r\n')}\r\n\r\n`);
      socket.write(length.includes('chunked') ? chunked : body, () => resolve());
    });
    const [heard] = (await once(socket.resume(), 'data')) as [Buffer];
    socket.destroy();
    expect(heard.toString('latin1')).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `));
  });

  it('a missing, damaged or foreign key, and a missing permission', async () => {
    problem(await request(api, null, 'GET', '/v1/cases'), 401);
    const damaged = problem(await request(api, org.keys.director.slice(0, -1), 'GET', '/v1/cases'), 401);
    expect(damaged.detail).toMatch(/character/);
    expect(problem(await request(api, org.keys.director, 'POST', '/v1/cases', minimal()), 403).detail).toMatch(/cases:write/);
  });

  it('a creating request without an Idempotency-Key, and a key used for something else', async () => {
    problem(await send(minimal(), { 'idempotency-key': '' }), 400);
    const first = await send(minimal({ notes: 'one' }), { 'idempotency-key': 'k1' });
    const again = await send(minimal({ notes: 'one' }), { 'idempotency-key': '"k1"' });
    expect(again.headers.get('idempotency-replayed')).toBe('true');
    expect(again.body).toEqual(first.body);
    problem(await send(minimal({ notes: 'two' }), { 'idempotency-key': 'k1' }), 422);
  });

  it('a change without its version, or to a stale one', async () => {
    const { body, headers } = await send(minimal());
    const path = `/v1/cases/${body.id}`;
    problem(await request(api, org.keys.technician, 'PATCH', path, { notes: 'n' }), 428);
    const changed = await request(api, org.keys.technician, 'PATCH', path, { notes: 'n' }, { 'if-match': headers.get('etag')! });
    expect(changed.status).toBe(200);
    problem(await request(api, org.keys.technician, 'PATCH', path, { notes: 'm' }, { 'if-match': headers.get('etag')! }), 412);
    const same = await request(api, org.keys.technician, 'GET', path, undefined, { 'if-none-match': changed.headers.get('etag')! });
    expect(same.status).toBe(304);
  });

  it('addresses that lead nowhere', async () => {
    problem(await request(api, org.keys.director, 'GET', '/v1/nothing'), 404);
    problem(await request(api, org.keys.director, 'GET', '/v1/cases/not-an-id'), 422);
    const unknown = problem(await request(api, org.keys.director, 'GET', '/v1/cases?shpId=1'), 422);
    expect(unknown.errors[0]!.remedy).toMatch(/shopId/);
  });

  it('with a page behind every type', async () => {
    const { type } = problem(await send({}), 422);
    const page = await fetch(`${api.url}${type}`);
    expect(page.status).toBe(200);
    expect(await page.text()).toMatch(/What to do/);
  });
});

describe('orders from other software', () => {
  const order = (revision: number, extra: Record<string, unknown> = {}) =>
    minimal({ source: { system: 'orders', reference: 'R-1', revision }, ...extra });

  it('change nothing when sent again, and need a newer revision for another body', async () => {
    const first = await send(order(1));
    expect(first.status).toBe(201);
    const same = await send(order(1));
    expect(same.status).toBe(200);
    expect(same.body).toEqual(first.body);
    const before = await stored();
    const conflict = problem(await send(order(1, { notes: 'changed' })), 409);
    expect(conflict.errors[0]).toMatchObject({ pointer: '/source/revision' });
    expect(conflict.errors[0]!.remedy).toMatch(/revision 2/);
    const revised = await send(order(2, { notes: 'changed' }));
    expect(revised.status).toBe(200);
    expect(revised.body).toMatchObject({ id: first.body.id, notes: 'changed', evidenceRevision: 2 });
    expect(await stored()).toBe(before);
  });

  it('are one case however many send them at once', async () => {
    const sent = await Promise.all(
      Array.from({ length: 12 }, () => send(minimal({ source: { system: 'orders', reference: 'R-2', revision: 1 } }))),
    );
    expect(new Set(sent.map((answer) => answer.body.id)).size).toBe(1);
    expect(sent.filter((answer) => answer.status === 201)).toHaveLength(1);
  });
});

describe('what is odd but possible is accepted with a warning', () => {
  it.each([
    ['an unknown place', () => reading({ place: undefined }), 'place-unknown'],
    ['a low side in vacuum', () => reading({ value: -8 }), 'unlikely-value'],
    ['a VIN with a wrong check digit', () => minimal({ vehicle: { vin: '1M8GDM9A0KP042788', platformCode: 'knot-r' } }), 'vin-check-digit'],
    ['a short VIN', () => minimal({ vehicle: { vin: 'AB123456', platformCode: 'knot-r' } }), 'vin-length'],
    ['a car of no known platform', () => minimal({ vehicle: {} }), 'platform-unknown'],
  ])('%s', async (_what, body, code) => {
    const answer = await send(body());
    expect(answer.status).toBe(201);
    expect(answer.body.warnings.map((warning: { code: string }) => warning.code)).toContain(code);
  });

  it('and believed once confirmed', async () => {
    const answer = await send(reading({ value: -8, confirmed: true }));
    expect(answer.body.warnings).toEqual([]);
  });
});
