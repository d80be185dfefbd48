import { afterAll, beforeAll, expect, it } from '@jest/globals';
import type { Diagnosis, PlatformExpectation } from '#libs/contracts/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let platformId: string;
const shops: string[] = [];
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  for (const code of ['first', 'second', 'third', 'fourth']) shops.push((await send('POST', '/v1/shops', newShop(code))).id);
  platformId = (await send('POST', '/v1/platforms', newPlatform('heron'))).id;
}, 180_000);
afterAll(() => api?.close(), 60_000);

async function send(method: string, path: string, body?: unknown, key = org.keys.administrator) {
  const answer = await request(api, key, method, path, body);
  if (answer.status >= 300) throw new Error(`${method} ${path}: ${answer.status} ${JSON.stringify(answer.body)}`);
  return answer.body;
}
const expectation = (key?: string): Promise<PlatformExpectation> => send('GET', `/v1/platforms/${platformId}/expectation`, undefined, key);
const learn = (): Promise<PlatformExpectation> => send('POST', `/v1/platforms/${platformId}/expectation`);

/** A machine whose vent is warmer than its kind's when all is well. */
function readings(stage: 'before' | 'after', ventC: number) {
  const at = (place: string, quantity: string, value: number, unit: string, instrument: string) => ({
    quantity,
    place,
    phase: 'running',
    stage,
    instrument,
    value,
    unit,
    ...(quantity === 'pressure' ? { reference: 'vented-gauge' } : {}),
  });
  return [
    at('high-side-port', 'pressure', 200, '[psi]', 'manifold-gauge'),
    at('low-side-port', 'pressure', 30, '[psi]', 'manifold-gauge'),
    at('vent', 'temperature', ventC, 'Cel', 'thermometer'),
  ];
}

async function repaired(shop: number, method: string, ventC = 14): Promise<string> {
  const { id } = await send('POST', '/v1/cases', {
    shopId: shops[shop],
    vehicle: { platformId },
    complaint: 'cools-poorly',
    openedAt: '2026-06-02T09:00:00Z',
    evidence: {
      conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
      readings: [...readings('before', 20), ...readings('after', ventC)],
    },
  });
  await send('POST', `/v1/cases/${id}/proofs`, { faults: ['condenser-fan'], method, note: null });
  await send('POST', `/v1/cases/${id}/repairs`, {
    fault: 'condenser-fan',
    action: 'replace-fan',
    intent: 'permanent',
    day: '2026-06-02',
    parts: [],
    recoveredG: null,
    chargedG: null,
    labourHours: 1,
    cost: 100,
    note: null,
  });
  return id;
}

it('stands for its kind until three shops have read it sound after a repair proved otherwise than by those readings', async () => {
  expect(await expectation()).toMatchObject({ verdict: 'of-its-kind', version: null, cases: 0, shopsNeeded: 3, shifts: [] });
  for (let i = 0; i < 4; i++) {
    await repaired(0, 'opened-part');
    await repaired(1, 'laboratory');
    await repaired(2, 'verified-after-readings');
    await repaired(3, 'judgement');
  }
  const two = await learn();
  expect(two).toMatchObject({ verdict: 'of-its-kind', version: 1, cases: 8, shops: 2 });
  expect(two.message).toMatch(/3 shops are needed/);
  for (let i = 0; i < 4; i++) await repaired(2, 'opened-part');
  const three = await learn();
  expect(three).toMatchObject({ verdict: 'own', version: 2, cases: 12, shops: 3 });
  const vent = three.shifts.find(({ quantity }) => quantity === 'vent-temperature')!;
  expect(vent.unit).toBe('K');
  expect(vent.shift).toBeGreaterThan(0);
  expect(vent.error).toBeGreaterThan(0);
});

it('nothing new makes no new version; each answer names the version it was judged by, and is judged by it', async () => {
  expect((await learn()).version).toBe(2);
  const { id } = await send('POST', '/v1/cases', {
    shopId: shops[0],
    vehicle: { platformId },
    complaint: 'cools-poorly',
    openedAt: '2026-06-03T09:00:00Z',
    evidence: {
      conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
      readings: readings('before', 14),
    },
  });
  const own = (await send('POST', `/v1/cases/${id}/diagnoses`)) as Diagnosis;
  expect(own.expectationVersion).toBe(2);
  // The same readings on a platform of the same kind that nobody has read sound.
  const other = (await send('POST', '/v1/platforms', newPlatform('egret'))).id;
  const { id: twin } = await send('POST', '/v1/cases', {
    shopId: shops[0],
    vehicle: { platformId: other },
    complaint: 'cools-poorly',
    openedAt: '2026-06-03T09:00:00Z',
    evidence: {
      conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
      readings: readings('before', 14),
    },
  });
  const kind = (await send('POST', `/v1/cases/${twin}/diagnoses`)) as Diagnosis;
  expect(kind.expectationVersion).toBeNull();
  const ventOf = ({ result }: Diagnosis) => result.predictions.find(({ observation }) => observation === 'vent-temperature')!;
  expect(ventOf(own).healthy!).toBeGreaterThan(ventOf(kind).healthy!);
});

it('a repair that came back takes its readings out again', async () => {
  // Of each shop one vehicle returns with the same fault: its after-readings were of no sound vehicle.
  const before = await expectation();
  for (const shop of [0, 1]) {
    const id = await repaired(shop, 'opened-part', 16);
    const { vehicleId } = await send('GET', `/v1/cases/${id}`);
    await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query({
        name: 'test.came-back',
        text: `update episode set end_kind = 'same-fault' where org_id = $1 and case_id = $2 and ($3::uuid is null or true)`,
        values: [org.orgId, id, vehicleId],
      }),
    );
  }
  expect((await learn()).cases).toBe(before.cases);
});

it('is shown over GraphQL, refused to a technician who would change it, and unknown to another organisation', async () => {
  const { body } = await graphql(
    api,
    org.keys.technician,
    `{ platformExpectation(id: "${platformId}") { verdict cases shifts { quantity } } }`,
  );
  expect(body.data.platformExpectation).toMatchObject({ verdict: 'own', cases: 12 });
  const refused = await request(api, org.keys.technician, 'POST', `/v1/platforms/${platformId}/expectation`);
  expect([refused.status, refused.body.code]).toEqual([403, 'access/forbidden']);
  const other = await testOrganisation(api);
  const unknown = await request(api, other.keys.administrator, 'GET', `/v1/platforms/${platformId}/expectation`);
  expect([unknown.status, unknown.body.code]).toEqual([404, 'platforms/not_found']);
});
