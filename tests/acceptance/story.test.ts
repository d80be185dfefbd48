import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

/**
 * The main job, told once over real HTTP. Readings are our own, of the size the service literature gives for a clogged condenser or cartridge;
 * that pressures agreeing at rest and parting when running mean a restriction between the two places is common practice.
 */
let api: TestApi;
let org: TestOrganisation;
let stranger: TestOrganisation;
const VIN = '1M8GDM9AXKP042788';
const ids: Record<string, string> = {};

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  stranger = await testOrganisation(api, 'Another region');
  for (const [code, elevation] of [
    ['high-pass', 1800],
    ['valley', 320],
  ] as const) {
    const shop = await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop(code, elevation));
    expect(shop.status).toBe(201);
    ids[code] = shop.body.id;
  }
  const platform = await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('curlew-k'));
  expect(platform.status).toBe(201);
  ids['platform'] = platform.body.id;
});
afterAll(() => api?.close());

const psi = (place: string, instrument: string, phase: string, value: number) => ({
  quantity: 'pressure',
  place,
  instrument,
  phase,
  reference: 'vented-gauge',
  value,
  unit: '[psi]',
});

describe('a truck that cools poorly, followed across shops', () => {
  it('is pushed by an integrator, with other work of two shops', async () => {
    for (const [i, shopCode] of ['high-pass', 'valley', 'valley'].entries()) {
      const pushed = await request(api, org.keys.integrator, 'POST', '/v1/cases', {
        shopCode,
        vehicle: { platformCode: 'curlew-k', modelYear: 2018 },
        complaint: 'cools-poorly',
        openedAt: `2025-05-1${i}T09:00:00+02:00`,
        source: { system: 'orders', reference: `B-${i}`, revision: 1 },
      });
      expect(pushed.status).toBe(201);
    }
    const opened = await request(api, org.keys.integrator, 'POST', '/v1/cases', {
      shopCode: 'high-pass',
      vehicle: { vin: VIN, platformCode: 'curlew-k', modelYear: 2019 },
      odometer: { value: 91_300, unit: 'km' },
      complaint: 'cools-poorly',
      openedAt: '2025-06-02T09:00:00+02:00',
      source: { system: 'orders', reference: 'A-17', revision: 1 },
      evidence: {
        conditions: {
          outsideAir: { value: 29, unit: 'Cel' },
          airSource: 'recirculated',
          minutesRunning: 12,
          hoursSoaked: 10,
          soakTemperature: { value: 24, unit: 'Cel' },
        },
        readings: [
          psi('high-side-port', 'manifold-gauge', 'rest', 82),
          psi('high-side-transducer', 'vehicle-transducer', 'rest', 83),
          psi('high-side-port', 'manifold-gauge', 'running', 150),
          psi('high-side-transducer', 'vehicle-transducer', 'running', 262),
          psi('low-side-port', 'manifold-gauge', 'running', 27),
        ],
      },
    });
    expect(opened.status).toBe(201);
    ids['case'] = opened.body.id;
    ids['vehicle'] = opened.body.vehicleId;
    expect(JSON.stringify(opened.body)).not.toContain(VIN);
  });

  it('is answered with a restriction between the two places, passages or cartridge, and asks for the temperature step', async () => {
    const { status, body } = await request(api, org.keys.technician, 'POST', `/v1/cases/${ids['case']}/diagnoses`);
    expect(status).toBe(201);
    const { result } = body;
    const leaders = result.faults.slice(0, 2).map((fault: { code: string }) => fault.code);
    expect(leaders.sort()).toEqual(['condenser-passages', 'filter-cartridge']);
    expect(result.restriction).toMatchObject({ after: 'compressor-discharge', before: 'liquid-line-after-drier' });
    expect(result.restriction.candidates).toEqual(expect.arrayContaining(['condenser-passages', 'filter-cartridge']));
    expect(result.restriction.dropPa).toBeGreaterThan(4e5);
    const asked = result.nextTests.slice(0, 3).map((test: { code: string }) => test.code);
    expect(asked).toContain('cartridge-temperature-step');
    expect(JSON.stringify(result.cautions)).toMatch(/recover/i);
    expect(result.trust.some((finding: { level: string }) => finding.level === 'stop')).toBe(false);
  });

  it('is settled by the thermal step across the cartridge', async () => {
    const added = await request(api, org.keys.technician, 'POST', `/v1/cases/${ids['case']}/findings`, {
      findings: [{ code: 'temperature-step-at-cartridge' }, { code: 'condenser-even' }],
    });
    expect(added.status).toBe(201);
    expect(added.body.evidenceRevision).toBe(2);
    const { body } = await request(api, org.keys.technician, 'POST', `/v1/cases/${ids['case']}/diagnoses`);
    expect(body.result.faults[0].code).toBe('filter-cartridge');
    expect(body.result.faults[0].probability).toBeGreaterThan(0.6);
  });

  it('gets a cartridge as a temporary repair, proved by the opened part', async () => {
    const proof = await request(api, org.keys.technician, 'POST', `/v1/cases/${ids['case']}/proofs`, {
      faults: ['filter-cartridge'],
      method: 'opened-part',
      note: 'Cartridge black, desiccant hard',
    });
    expect(proof.status).toBe(201);
    const repair = await request(api, org.keys.technician, 'POST', `/v1/cases/${ids['case']}/repairs`, {
      fault: 'filter-cartridge',
      action: 'replace-filter-cartridge',
      intent: 'temporary',
      day: '2025-06-02',
      parts: [{ name: 'Filter cartridge', quantity: 1 }],
      recoveredG: 540,
      chargedG: 560,
      labourHours: 1.2,
      cost: 140,
      note: null,
    });
    expect(repair.status).toBe(201);
    const whole = await request(api, org.keys.technician, 'GET', `/v1/cases/${ids['case']}`);
    const closed = await request(
      api,
      org.keys.technician,
      'POST',
      `/v1/cases/${ids['case']}/closure`,
      { outcome: 'repaired' },
      {
        'if-match': whole.headers.get('etag')!,
      },
    );
    expect(closed.status).toBe(200);
    expect(closed.body.status).toBe('closed');
  });

  it('returns at the other shop, which sees what was done', async () => {
    const lookup = await request(api, org.keys.technician, 'POST', '/v1/vehicles/lookup', { vin: VIN.toLowerCase() });
    expect(lookup.body.id).toBe(ids['vehicle']);
    const again = await request(api, org.keys.integrator, 'POST', '/v1/cases', {
      shopCode: 'valley',
      vehicle: { vin: VIN },
      odometer: { value: 95_900, unit: 'km' },
      complaint: 'cools-poorly',
      openedAt: '2025-08-11T08:30:00+02:00',
    });
    expect(again.status).toBe(201);
    expect(again.body.vehicleId).toBe(ids['vehicle']);
    await request(api, org.keys.technician, 'POST', `/v1/cases/${again.body.id}/proofs`, {
      faults: ['filter-cartridge'],
      method: 'opened-part',
      note: null,
    });
    const history = await request(api, org.keys.technician, 'GET', `/v1/vehicles/${ids['vehicle']}/history`);
    expect(history.body.visits).toHaveLength(2);
    expect(history.body.episodes).toHaveLength(1);
    expect(history.body.episodes[0]).toMatchObject({
      end: 'same-fault',
      endedOn: '2025-08-11',
      days: 70,
      endShopId: ids['valley'],
      odometerKm: 4600,
    });
    expect(history.body.episodes[0].degreeDays).toBeGreaterThan(300);
  });

  it('shows in the return rate of its platform', async () => {
    const path = `/v1/outcomes/return-rates?platformId=${ids['platform']}&fault=filter-cartridge&intent=temporary`;
    const few = await request(api, org.keys.director, 'GET', path);
    expect(few.body).toMatchObject({ verdict: 'not-enough', episodes: 1, returns: 1 });
    // Five more cars with the same stop-gap, one of which came back.
    for (let i = 0; i < 5; i++) {
      const vehicle = { vin: `1M8GDM9AXKP04279${i}`, vinChecked: true, platformCode: 'curlew-k' };
      const made = await request(api, org.keys.integrator, 'POST', '/v1/cases', {
        shopCode: 'valley',
        vehicle,
        complaint: 'cools-poorly',
        openedAt: '2025-06-05T09:00:00Z',
      });
      await request(api, org.keys.technician, 'POST', `/v1/cases/${made.body.id}/repairs`, {
        fault: 'filter-cartridge',
        action: 'replace-filter-cartridge',
        intent: 'temporary',
        day: '2025-06-05',
        parts: [],
        recoveredG: null,
        chargedG: null,
        labourHours: null,
        cost: null,
        note: null,
      });
      if (i > 0) continue;
      const back = await request(api, org.keys.integrator, 'POST', '/v1/cases', {
        shopCode: 'high-pass',
        vehicle,
        complaint: 'cools-poorly',
        openedAt: '2025-07-20T09:00:00Z',
      });
      await request(api, org.keys.technician, 'POST', `/v1/cases/${back.body.id}/proofs`, {
        faults: ['condenser-passages'],
        method: 'opened-part',
        note: null,
      });
    }
    const { body } = await request(api, org.keys.director, 'GET', path);
    expect(body).toMatchObject({ verdict: 'estimated', episodes: 6, returns: 2, shops: 2 });
    expect(body.ends).toEqual(expect.arrayContaining([{ end: 'same-fault', count: 1 }]));
    const last = body.horizons.at(-1);
    expect(last.probability).toBeCloseTo(2 / 6, 1);
    expect(last.low).toBeLessThan(last.probability);
    expect(last.high).toBeGreaterThan(last.probability);
    const board = await request(api, org.keys.director, 'GET', '/v1/outcomes/recurrences');
    expect(board.body.lines[0]).toMatchObject({
      platformCode: 'curlew-k',
      fault: 'filter-cartridge',
      intent: 'temporary',
      episodes: 6,
      returns: 2,
    });
  });

  it('has a repair that was entered wrongly corrected in place, and what became of it derived again', async () => {
    const technician = org.keys.technician;
    const stored = await request(api, technician, 'GET', `/v1/cases/${ids['case']}`);
    const path = `/v1/cases/${ids['case']}/repairs/${stored.body.repairs[0].id}`;
    const etag = stored.headers.get('etag')!;
    const patch = { intent: 'permanent', chargedG: 540 };
    expect((await request(api, technician, 'PATCH', path, patch)).status).toBe(428);
    expect((await request(api, technician, 'PATCH', path, patch, { 'if-match': '"1"' })).body.code).toBe('versions/stale');
    expect((await request(api, stranger.keys.administrator, 'PATCH', path, patch, { 'if-match': etag })).status).toBe(404);
    expect((await request(api, org.keys.director, 'PATCH', path, patch, { 'if-match': etag })).status).toBe(403);
    const corrected = await request(api, technician, 'PATCH', path, patch, { 'if-match': etag });
    expect(corrected.status).toBe(200);
    expect(corrected.headers.get('etag')).not.toBe(etag);
    expect(corrected.body.repairs).toEqual([{ ...stored.body.repairs[0], ...patch }]);
    const rates = (intent: string) =>
      request(
        api,
        org.keys.director,
        'GET',
        `/v1/outcomes/return-rates?platformId=${ids['platform']}&fault=filter-cartridge&intent=${intent}`,
      );
    expect((await rates('permanent')).body).toMatchObject({ episodes: 1, returns: 1 });
    expect((await rates('temporary')).body).toMatchObject({ episodes: 5, returns: 1 });
    const { body: trail } = await request(api, org.keys.director, 'GET', `/v1/audit?subjectId=${ids['case']}`);
    const { change } = trail.data.find(({ action }: { action: string }) => action === 'case.repair-corrected');
    expect(JSON.parse(change)).toMatchObject({
      fields: ['intent', 'chargedG'],
      before: { intent: 'temporary', chargedG: 560 },
      after: patch,
    });
    const twin = await graphql(
      api,
      technician,
      `mutation { correctRepair(caseId: "${ids['case']}", id: "${stored.body.repairs[0].id}", input: { intent: temporary }, expectedVersion: ${corrected.body.version}) { repairs { intent } } }`,
    );
    expect(twin.body.data.correctRepair.repairs).toEqual([{ intent: 'temporary' }]);
    expect((await rates('temporary')).body).toMatchObject({ episodes: 6, returns: 2 });
  });

  it('has a repair that was never done deleted, and its episode with it', async () => {
    const { body, headers } = await request(api, org.keys.technician, 'GET', `/v1/cases/${ids['case']}`);
    const path = `/v1/cases/${ids['case']}/repairs/${body.repairs[0].id}`;
    const left = await request(api, org.keys.technician, 'DELETE', path, undefined, { 'if-match': headers.get('etag')! });
    expect([left.status, left.body.repairs]).toEqual([200, []]);
    const again = await request(api, org.keys.technician, 'DELETE', path, undefined, { 'if-match': left.headers.get('etag')! });
    expect([again.status, again.body.code]).toEqual([404, 'repairs/not_found']);
    const history = await request(api, org.keys.technician, 'GET', `/v1/vehicles/${ids['vehicle']}/history`);
    expect(history.body.episodes).toEqual([]);
    const board = await request(api, org.keys.director, 'GET', '/v1/outcomes/recurrences');
    expect(board.body.lines[0]).toMatchObject({ fault: 'filter-cartridge', intent: 'temporary', episodes: 5, returns: 1 });
  });

  it('is seen by nobody of another organisation', async () => {
    const key = stranger.keys.administrator;
    for (const path of [
      `/v1/cases/${ids['case']}`,
      `/v1/vehicles/${ids['vehicle']}`,
      `/v1/vehicles/${ids['vehicle']}/history`,
      `/v1/shops/${ids['valley']}`,
      `/v1/platforms/${ids['platform']}`,
    ]) {
      expect((await request(api, key, 'GET', path)).status).toBe(404);
    }
    expect((await request(api, key, 'POST', '/v1/vehicles/lookup', { vin: VIN })).status).toBe(404);
    expect((await request(api, key, 'GET', '/v1/cases')).body.data).toEqual([]);
    expect((await request(api, key, 'GET', '/v1/outcomes/recurrences')).body).toMatchObject({ episodes: 0, lines: [] });
    const rates = await request(api, key, 'GET', `/v1/outcomes/return-rates?platformId=${ids['platform']}`);
    expect(rates.status).toBe(404);
  });
});
