import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { rediagnose } from '#apps/worker/jobs/rediagnose.job.js';
import { judgeBatch } from '#libs/casebook/index.js';
import type { Diagnosis, NewPlatform, PlatformExpectation, Rediagnosis } from '#libs/contracts/index.js';
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

async function repaired(
  shop: number,
  method: string,
  ventC = 14,
  vehicle: object = { platformId },
  openedAt = '2026-06-02T09:00:00Z',
): Promise<string> {
  const { id } = await send('POST', '/v1/cases', {
    shopId: shops[shop],
    vehicle,
    complaint: 'cools-poorly',
    openedAt,
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
    day: openedAt.slice(0, 10),
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

it('a platform nobody has read sound leans on three others of its kind, of the same organisation, and says so', async () => {
  const added = async (code: string, parts: Partial<NewPlatform> = {}): Promise<string> =>
    (await send('POST', '/v1/platforms', newPlatform(code, parts))).id;
  const learned = (id: string): Promise<PlatformExpectation> => send('POST', `/v1/platforms/${id}/expectation`);
  const fresh = await added('grebe');
  const otherKind = await added('stork', { layout: 'orifice-accumulator' });
  for (const code of ['ibis', 'teal']) {
    expect(await learned(fresh)).toMatchObject({ verdict: 'of-its-kind', related: null });
    const id = await added(code);
    for (let i = 0; i < 6; i++) await repaired(i % 3, 'opened-part', 14, { platformId: id });
  }
  const kin = await learned(fresh);
  expect(kin).toMatchObject({ verdict: 'of-related', version: 2, cases: 0, related: { platforms: 3, cases: 24, shops: 3 } });
  expect(kin.message).toMatch(/24 of 3 other platforms of its kind/);
  expect((await learned(fresh)).version).toBe(2);
  const ventOf = ({ shifts }: PlatformExpectation) => shifts.find(({ quantity }) => quantity === 'vent-temperature')!;
  const own = await learned(platformId);
  // The platform that was read itself is known better; of others with readings there are two, so that they do not count.
  expect(own).toMatchObject({ verdict: 'own', related: null });
  expect(ventOf(kin).shift).toBeGreaterThan(0);
  expect(ventOf(kin).error).toBeGreaterThan(ventOf(own).error);
  expect(await learned(otherKind)).toMatchObject({ verdict: 'of-its-kind', related: null, shifts: [] });

  const { id } = await send('POST', '/v1/cases', {
    shopId: shops[0],
    vehicle: { platformId: fresh },
    complaint: 'cools-poorly',
    evidence: { conditions: { outsideAir: { value: 30, unit: 'Cel' } }, readings: readings('before', 14) },
  });
  const answer = (await send('POST', `/v1/cases/${id}/diagnoses`)) as Diagnosis;
  expect(answer.expectationVersion).toBe(2);
  expect(answer.result.trust.find(({ code }) => code === 'platform-known')!.message).toMatch(/3 other platforms of its kind from 3 shops/);

  const elsewhere = await testOrganisation(api);
  const theirs = (await send('POST', '/v1/platforms', newPlatform('grebe'), elsewhere.keys.administrator)).id;
  expect(await send('POST', `/v1/platforms/${theirs}/expectation`, undefined, elsewhere.keys.administrator)).toMatchObject({
    verdict: 'of-its-kind',
    related: null,
  });
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

describe('readings of the very vehicle from an earlier visit', () => {
  const visit = (shop: number, plate: string, openedAt: string, more: object = {}) =>
    send('POST', '/v1/cases', {
      shopId: shops[shop],
      vehicle: { plate, platformId },
      complaint: 'cools-poorly',
      openedAt,
      evidence: {
        conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
        readings: readings('before', 17),
      },
      ...more,
    });
  const ask = async (id: string): Promise<Diagnosis> => send('POST', `/v1/cases/${id}/diagnoses`);

  it('are used at the next visit, whichever shop read them, and the answer says from when; later ones and other vehicles’ are not', async () => {
    await repaired(0, 'opened-part', 17, { plate: 'own 1', platformId }, '2026-05-04T09:00:00Z');
    await repaired(1, 'verified-after-readings', 17, { plate: 'own 3', platformId }, '2026-05-04T09:00:00Z');
    const later = await ask((await visit(0, 'own 1', '2026-06-20T09:00:00Z')).id);
    expect(later.ownSound).toEqual([{ day: '2026-05-04', sameShop: true }]);
    expect(later.result.ownReadings).toBe(1);
    expect(later.result.trust.map(({ code }) => code)).toContain('vehicle-known');
    const elsewhere = await ask((await visit(1, 'own 1', '2026-06-21T09:00:00Z')).id);
    expect(elsewhere.ownSound).toEqual([{ day: '2026-05-04', sameShop: false }]);
    for (const [plate, at] of [
      ['own 1', '2026-05-03T09:00:00Z'],
      ['own 2', '2026-06-20T09:00:00Z'],
      // Proved by those same readings alone.
      ['own 3', '2026-06-20T09:00:00Z'],
    ] as const) {
      const none = await ask((await visit(0, plate, at)).id);
      expect([none.ownSound, none.result.ownReadings]).toEqual([[], 0]);
      // A vent that has been this warm while all was well is less of a sign on the vehicle that is known.
      const ventOf = ({ result }: Diagnosis) => result.predictions.find(({ observation }) => observation === 'vent-temperature')!.healthy!;
      if (plate === 'own 2') expect(ventOf(later)).toBeGreaterThan(ventOf(none));
    }
  });

  it('give the same answer when history is judged again', async () => {
    const { id } = await visit(0, 'own 1', '2026-06-22T09:00:00Z');
    // What the platform has learned since then is not the question.
    await learn();
    const asked = await ask(id);
    const run: Rediagnosis = await send('POST', '/v1/rediagnoses', { platformId, again: true });
    await rediagnose(api.casebook, org.orgId, run.id, { judge: async (batch) => judgeBatch(batch), isLastTry: true });
    const [again] = (await send('GET', `/v1/cases/${id}/diagnoses`)).data as Diagnosis[];
    expect({ ...again, createdAt: '' }).toEqual({ ...asked, createdAt: '' });
  });

  it('stay in the organisation, and nothing of them is left when the vehicle is forgotten', async () => {
    const other = await testOrganisation(api);
    const key = other.keys.administrator;
    const shopId = (await send('POST', '/v1/shops', newShop('first'), key)).id;
    const theirs = (await send('POST', '/v1/platforms', newPlatform('heron'), key)).id;
    const body = { shopId, vehicle: { plate: 'own 1', platformId: theirs }, complaint: 'cools-poorly', openedAt: '2026-06-23T09:00:00Z' };
    const { id: foreign } = await send('POST', '/v1/cases', { ...body, evidence: { readings: readings('before', 17) } }, key);
    expect((await send('POST', `/v1/cases/${foreign}/diagnoses`, undefined, key)).ownSound).toEqual([]);

    const { id, vehicleId } = await visit(0, 'own 1', '2026-06-24T09:00:00Z');
    expect((await ask(id)).ownSound).toHaveLength(1);
    // Two records taken for one car, and parted again: neither's answers keep anything of the other's visits.
    const other4 = await visit(0, 'own 4', '2026-06-25T09:00:00Z');
    const merge = await send('POST', `/v1/vehicles/${vehicleId}/merges`, { mergedId: other4.vehicleId, reason: 'same car' });
    expect((await ask(other4.id)).ownSound).toHaveLength(1);
    await send('DELETE', `/v1/vehicles/${vehicleId}/merges/${merge.id}`);
    const [parted] = (await send('GET', `/v1/cases/${other4.id}/diagnoses`)).data as Diagnosis[];
    expect(parted!.ownSound).toEqual([]);
    expect((await ask(id)).ownSound).toHaveLength(1);
    await send('DELETE', `/v1/vehicles/${vehicleId}`);
    const [kept] = (await send('GET', `/v1/cases/${id}/diagnoses`)).data as Diagnosis[];
    expect(kept!.ownSound).toEqual([]);
    const { rows } = await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query({ name: 'test.own-left', text: `select id from diagnosis where org_id = $1 and own_cases <> '{}'`, values: [org.orgId] }),
    );
    expect(rows).toEqual([]);
    expect((await ask(id)).ownSound).toEqual([]);
  });

  it('may come with a question that is not saved, and are held to what is possible', async () => {
    const evidence = { conditions: { outsideAir: { value: 30, unit: 'Cel' } }, readings: readings('before', 17) };
    const question = { shopId: shops[0], platformId, evidence, ownSound: [{ ageDays: 200, sameShop: true, evidence }] };
    expect(await send('POST', '/v1/diagnoses', question)).toMatchObject({ ownReadings: 1 });
    const hot = { ...evidence, readings: readings('before', 900) };
    const refused = await request(api, org.keys.administrator, 'POST', '/v1/diagnoses', {
      ...question,
      ownSound: [{ ageDays: 200, sameShop: true, evidence: hot }],
    });
    expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, '/ownSound/0/evidence/readings/2/value']);
  });
});
