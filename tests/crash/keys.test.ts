import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Server } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

/** How many requests; the demands are for a thousand (`COOLBACK_CRASH_KEYS=1000`). */
const KEYS = Number(process.env['COOLBACK_CRASH_KEYS'] ?? 100);
const AT_ONCE = 64;

let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  other = await testOrganisation(api, 'Another region');
  for (const one of [org, other]) await request(api, one.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
});
afterAll(() => api?.close());

const order = (notes: string) => ({ shopCode: 'quay', vehicle: {}, complaint: 'noise', openedAt: '2026-05-04T09:00:00Z', notes });
const post = (to: Pick<TestApi, 'url'>, key: string, body: unknown, path = '/v1/cases', secret = org.keys.administrator) =>
  request(to, secret, 'POST', path, body, { 'idempotency-key': key, connection: 'close' });
async function casesWith(prefix: string, orgId = org.orgId): Promise<number> {
  const text = `select count(*) as n from shop_case where org_id = $1 and notes like $2 || '%'`;
  const { rows } = await api.casebook.context.inTenant(orgId, (tx) =>
    tx.query<{ n: number }>({ name: 'test.cases-with', text, values: [orgId, prefix] }),
  );
  return rows[0]!.n;
}

/** Stands between client and API, passes requests on whole, and cuts some answers before their first byte, in the middle, or at the end. */
async function cuttingProxy(share: number): Promise<{ server: Server; url: string; cuts: () => number }> {
  const target = Number(new URL(api.url).port);
  let cuts = 0;
  const server = createServer((client) => {
    const upstream = connect(target, '127.0.0.1');
    const dies = Math.random() < share;
    const after = Math.floor(Math.random() * 3) * 150;
    let passed = 0;
    client.on('error', () => upstream.destroy());
    upstream.on('error', () => client.destroy());
    client.pipe(upstream);
    upstream.on('data', (bytes: Buffer) => {
      if (!dies || passed + bytes.length <= after) {
        passed += bytes.length;
        client.write(bytes);
        return;
      }
      cuts++;
      client.write(bytes.subarray(0, after - passed));
      client.destroy();
      upstream.destroy();
    });
    upstream.on('end', () => client.end());
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return { server, url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`, cuts: () => cuts };
}

describe('a key', () => {
  it(`makes ${KEYS} orders ${KEYS} cases when three answers of ten are cut, and each is answered as the first time`, async () => {
    const proxy = await cuttingProxy(0.3);
    let next = 0;
    const client = async () => {
      for (let n = next++; n < KEYS; n = next++) {
        for (;;) {
          try {
            const { status, body } = await post(proxy, `cut-${n}`, order(`cut ${n}.`));
            if (status === 201) {
              const again = await post(api, `cut-${n}`, order(`cut ${n}.`));
              expect(again.headers.get('idempotency-replayed')).toBe('true');
              expect(again.body).toEqual(body);
              break;
            }
            expect(status).toBe(409);
          } catch (error) {
            if ((error as { matcherResult?: unknown }).matcherResult) throw error;
          }
        }
      }
    };
    await Promise.all(Array.from({ length: 8 }, client));
    proxy.server.close();
    expect(proxy.cuts()).toBeGreaterThan(KEYS / 6);
    expect(await casesWith('cut ')).toBe(KEYS);
  }, 600_000);

  it(`sent by ${AT_ONCE} clients at once is one case, for each of ${Math.ceil(KEYS / 4)}`, async () => {
    const keys = Math.ceil(KEYS / 4);
    const statuses = new Map<number, number>();
    for (let n = 0; n < keys; n++) {
      const answers = await Promise.all(Array.from({ length: AT_ONCE }, () => post(api, `same-${n}`, order(`same ${n}.`))));
      for (const { status } of answers) statuses.set(status, (statuses.get(status) ?? 0) + 1);
      expect(new Set(answers.filter(({ status }) => status === 201).map(({ body }) => body.id)).size).toBe(1);
    }
    expect([...statuses.keys()].sort()).toEqual(statuses.has(409) ? [201, 409] : [201]);
    expect(await casesWith('same ')).toBe(keys);
  }, 600_000);

  it(`is refused with another body or on another path, and is another key in another organisation, ${KEYS / 2} times each`, async () => {
    const times = Math.ceil(KEYS / 2);
    for (let n = 0; n < times; n++) {
      const first = await post(api, `used-${n}`, order(`used ${n}.`));
      expect(first.status).toBe(201);
      expect(await post(api, `used-${n}`, order(`used ${n}, altered.`))).toMatchObject({
        status: 422,
        body: { code: 'requests/key_reused' },
      });
      const elsewhere = await post(api, `used-${n}`, newShop(`used-${n}`), '/v1/shops');
      expect(elsewhere).toMatchObject({ status: 422, body: { code: 'requests/key_reused' } });
      const theirs = await post(api, `used-${n}`, order(`used ${n}.`), '/v1/cases', other.keys.administrator);
      expect(theirs.status).toBe(201);
      expect(theirs.body.id).not.toBe(first.body.id);
    }
    expect(await casesWith('used ')).toBe(times);
    expect(await casesWith('used ', other.orgId)).toBe(times);
  }, 600_000);
});
