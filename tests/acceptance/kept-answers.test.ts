import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let now = new Date('2026-06-01T08:00:00Z');
let api: TestApi;
let org: TestOrganisation;
beforeAll(async () => {
  api = await testApi({ clock: () => now });
  org = await testOrganisation(api);
  await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
});
afterAll(() => api?.close());

it('an answer is given again for seven days, and then dropped as new ones come', async () => {
  const send = (key: string) =>
    request(
      api,
      org.keys.technician,
      'POST',
      '/v1/cases',
      { shopCode: 'quay', vehicle: {}, complaint: 'noise', openedAt: '2026-05-30T08:00:00Z' },
      { 'idempotency-key': key },
    );
  const kept = async () => {
    const text = 'select key from idempotency_key where org_id = $1 order by created_at, key';
    const { rows } = await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query<{ key: string }>({ name: 'test.kept', text, values: [org.orgId] }),
    );
    return rows.map(({ key }) => key).filter((key) => key.startsWith('order'));
  };
  const first = await send('order-1');
  for (const n of [2, 3, 4, 5]) await send(`order-${n}`);
  now = new Date('2026-06-08T07:59:00Z');
  expect(await send('order-1')).toMatchObject({ status: 201, body: { id: first.body.id } });
  now = new Date('2026-06-08T08:01:00Z');
  await send('order-6');
  await send('order-7');
  await send('order-8');
  expect(await kept()).toEqual(['order-6', 'order-7', 'order-8']);
});
