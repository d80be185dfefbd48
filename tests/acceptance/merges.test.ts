import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shopId: string;
let platformId: string;
const send = (method: string, path: string, body?: unknown, key = org.keys.administrator) => request(api, key, method, `/v1${path}`, body);

async function visit(vehicle: object, openedAt: string, km: number): Promise<{ id: string; vehicleId: string }> {
  const { body } = await send('POST', '/cases', {
    shopId,
    vehicle: { ...vehicle, platformId },
    complaint: 'cools-poorly',
    openedAt,
    odometer: { value: km, unit: 'km' },
  });
  await send('POST', `/cases/${body.id}/proofs`, { faults: ['undercharge'], method: 'opened-part', note: null });
  await send('POST', `/cases/${body.id}/repairs`, {
    fault: 'undercharge',
    action: 'top-up',
    intent: 'temporary',
    day: openedAt.slice(0, 10),
    parts: [],
    recoveredG: null,
    chargedG: 200,
    labourHours: 1,
    cost: 60,
    note: null,
  });
  return body;
}
const endsOf = async (vehicleId: string) =>
  (await send('GET', `/vehicles/${vehicleId}/history`)).body.episodes.map(({ end }: { end: string }) => end);

beforeAll(async () => {
  api = await testApi({ clock: () => new Date('2026-09-20T10:00:00Z') });
  org = await testOrganisation(api);
  shopId = (await send('POST', '/shops', newShop('harbour'))).body.id;
  platformId = (await send('POST', '/platforms', newPlatform('tern'))).body.id;
});
afterAll(() => api?.close());

describe('two records found to be one car', () => {
  const VIN = { vin: '1M8GDM9AXKP042788' };

  it('are merged: a return is seen, the plate leads to the car, the trail tells it; undone, all is as before', async () => {
    const first = await visit(VIN, '2026-05-10T09:00:00Z', 80_000);
    const second = await visit({ plate: 'MG 4711' }, '2026-07-01T09:00:00Z', 82_000);
    expect(second.vehicleId).not.toBe(first.vehicleId);
    expect(await endsOf(first.vehicleId)).toEqual(['running']);
    const wrongWay = await send('POST', `/vehicles/${second.vehicleId}/merges`, { mergedId: first.vehicleId, reason: 'same car' });
    expect([wrongWay.status, wrongWay.body.code]).toEqual([409, 'vehicles/merge_refused']);
    const merge = await send('POST', `/vehicles/${first.vehicleId}/merges`, { mergedId: second.vehicleId, reason: 'same car' });
    expect([merge.status, merge.body]).toEqual([201, expect.objectContaining({ cases: 1, undoneAt: null })]);
    expect(await endsOf(first.vehicleId)).toEqual(['same-fault', 'running']);
    expect((await send('GET', `/cases/${second.id}`)).body.vehicleId).toBe(first.vehicleId);
    // The plate leads to the car from now on: the next visit of the plate is its return too.
    const third = await visit({ plate: 'MG 4711' }, '2026-08-01T09:00:00Z', 83_000);
    expect(third.vehicleId).toBe(first.vehicleId);
    expect((await send('POST', '/vehicles/lookup', { plate: 'MG 4711' })).body.id).toBe(first.vehicleId);
    expect((await send('GET', `/vehicles/${second.vehicleId}`)).body.mergedInto).toBe(first.vehicleId);
    // Lists behind figures: what was proved after what on one car, and where a fault was proved or repaired.
    const listed = async (query: string) =>
      (await send('GET', `/cases?vehicleId=${first.vehicleId}&state=counting&${query}`)).body.data.map(({ id }: { id: string }) => id);
    expect(await listed('proved=undercharge&follows=undercharge')).toEqual([third.id, second.id]);
    expect(await listed('found=undercharge')).toEqual([third.id, second.id, first.id]);
    expect(await listed('found=air-door')).toEqual([]);
    const again = await send('POST', `/vehicles/${first.vehicleId}/merges`, { mergedId: second.vehicleId, reason: 'same car' });
    expect(again.body.code).toBe('vehicles/merge_refused');
    const trail = (await send('GET', `/audit?subjectId=${second.vehicleId}`)).body.data;
    expect(trail.map(({ action }: { action: string }) => action)).toContain('vehicle.merged');

    const undone = await send('DELETE', `/vehicles/${first.vehicleId}/merges/${merge.body.id}`);
    expect(undone.body.undoneAt).not.toBeNull();
    expect((await send('GET', `/cases/${second.id}`)).body.vehicleId).toBe(second.vehicleId);
    // What came since stays with the record that was kept.
    expect(await endsOf(first.vehicleId)).toEqual(['same-fault', 'running']);
    expect(await endsOf(second.vehicleId)).toEqual(['running']);
    expect((await send('GET', `/vehicles/${second.vehicleId}/merges`)).body.data).toHaveLength(1);
  });

  it('are erased together', async () => {
    const kept = await visit({ vin: '11111111111111111' }, '2026-05-10T09:00:00Z', 10_000);
    const plate = await visit({ plate: 'ER 1' }, '2026-06-10T09:00:00Z', 11_000);
    await send('POST', `/vehicles/${kept.vehicleId}/merges`, { mergedId: plate.vehicleId, reason: 'same car' });
    expect((await send('DELETE', `/vehicles/${kept.vehicleId}`)).status).toBe(200);
    expect((await send('GET', `/vehicles/${plate.vehicleId}`)).status).toBe(404);
  });

  it('are not merged by who cannot see all shops, nor across organisations', async () => {
    const one = await visit({ plate: 'OT 1' }, '2026-05-10T09:00:00Z', 10_000);
    const other = await visit({ plate: 'OT 2' }, '2026-05-11T09:00:00Z', 10_000);
    const elsewhere = await testOrganisation(api, 'Elsewhere');
    const body = { mergedId: other.vehicleId, reason: 'same car' };
    expect((await send('POST', `/vehicles/${one.vehicleId}/merges`, body, elsewhere.keys.administrator)).status).toBe(404);
    const limited = await send('POST', '/keys', { name: 'one shop', role: 'director', shopIds: [shopId], expiresAt: null });
    expect((await send('POST', `/vehicles/${one.vehicleId}/merges`, body, limited.body.secret)).status).toBe(403);
  });
});
