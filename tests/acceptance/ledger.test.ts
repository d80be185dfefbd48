import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { RefrigerantLedger } from '#libs/contracts/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shopId: string;
let caseId: string;
const send = (method: string, path: string, body?: unknown, headers: Record<string, string> = {}, key = org.keys.administrator) =>
  request(api, key, method, `/v1${path}`, body, headers);

beforeAll(async () => {
  api = await testApi({ clock: () => new Date('2026-07-20T10:00:00Z') });
  org = await testOrganisation(api);
  const admin = org.keys.administrator;
  shopId = (await send('POST', '/shops', newShop('harbour'), {}, admin)).body.id;
  const platform = (await send('POST', '/platforms', newPlatform('tern'), {}, admin)).body.id;
  const opened = { shopId, vehicle: { platformId: platform }, complaint: 'cools-not', openedAt: '2026-06-10T09:00:00Z' };
  caseId = (await send('POST', '/cases', opened)).body.id;
});
afterAll(() => api?.close());

describe('refrigerant of a shop', () => {
  it('is booked from cylinders, machines, purchases, repairs and counts, and adds up within what the scale can err', async () => {
    const machine = await send('POST', '/machines', { shopId, name: 'Bay 1', refrigerant: 'R-134a', scaleErrorG: 10 });
    expect(machine.status).toBe(201);
    const cylinder = (await send('POST', '/cylinders', { shopId, label: 'C-1', refrigerant: 'R-134a', content: 'new', capacityG: 12_000 }))
      .body;
    const entry = (kind: string, massG: number, day: string, more: object = {}) =>
      send('POST', '/refrigerant-entries', { shopId, kind, refrigerant: 'R-134a', massG, day, ...more });
    await entry('stock-take', 8_000, '2026-05-31', { cylinderId: cylinder.id });
    await entry('stock-take', 1_000, '2026-05-31', { machineId: machine.body.id });
    const bought = (await entry('purchase', 12_000, '2026-06-03', { document: 'INV-1' })).body;
    await send('POST', `/cases/${caseId}/repairs`, {
      fault: 'undercharge',
      action: 'replace-seals',
      intent: 'permanent',
      day: '2026-06-10',
      parts: [],
      recoveredG: 210,
      chargedG: 560,
      machineId: machine.body.id,
      labourHours: 1,
      cost: 90,
      note: null,
    });
    await entry('stock-take', 19_900, '2026-06-30', { cylinderId: cylinder.id }).then(({ status, body }) => {
      // More than the cylinder may hold.
      expect([status, body.code]).toEqual([422, 'ledger/contradiction']);
    });
    await entry('stock-take', 8_650, '2026-06-30', { cylinderId: cylinder.id });
    await entry('stock-take', 11_900, '2026-06-30', { machineId: machine.body.id });
    const ledger = await send('GET', '/outcomes/refrigerant-ledger?since=2026-06-01');
    expect(RefrigerantLedger.safeParse(ledger.body).error).toBeUndefined();
    // 9,000 + 12,000 + 210 − 560 = 20,650 by the books, 20,550 counted; 2 + 2 + 2 weighings of 10 g.
    expect(ledger.body.lines).toHaveLength(1);
    expect(ledger.body.lines[0]).toMatchObject({
      openingG: 9_000,
      boughtG: 12_000,
      recoveredG: 210,
      chargedG: 560,
      unaccountedG: 100,
      closingG: 20_550,
      weighings: 6,
      verdict: 'loss',
      missingContainers: 0,
    });
    // The invoice was wrong: corrected with its version, the month adds up.
    const stale = await send('PATCH', `/refrigerant-entries/${bought.id}`, { massG: 11_900 }, { 'if-match': '"7"' });
    expect(stale.status).toBe(412);
    await send('PATCH', `/refrigerant-entries/${bought.id}`, { massG: 11_900 }, { 'if-match': '"1"' });
    const mended = await graphql(
      api,
      org.keys.director,
      '{ refrigerantLedger(question: { since: "2026-06-01" }) { lines { unaccountedG verdict } } }',
    );
    expect(mended.body.data.refrigerantLedger.lines).toEqual([{ unaccountedG: 0, verdict: 'balanced' }]);
    // What was weighed with a machine stays true: it is retired, not deleted.
    expect((await send('DELETE', `/machines/${machine.body.id}`)).body.code).toBe('ledger/in_use');
    const retired = await send('PATCH', `/machines/${machine.body.id}`, { retiredOn: '2026-07-01' }, { 'if-match': '"1"' });
    expect(retired.body).toMatchObject({ version: 2, retiredOn: '2026-07-01' });
    const byMachine = await send('GET', '/outcomes/charge-accuracy?since=2026-01-01');
    expect(byMachine.body.lines[0]).toMatchObject({ machineId: machine.body.id, machineName: 'Bay 1', charges: 1 });
  });

  it('refuses refrigerants that do not belong together, days to come and what is not there', async () => {
    const cylinder = (await send('POST', '/cylinders', { shopId, label: 'Y-1', refrigerant: 'R-1234yf', content: 'new', capacityG: 5_000 }))
      .body;
    const entry = (more: object) =>
      send('POST', '/refrigerant-entries', { shopId, kind: 'purchase', refrigerant: 'R-134a', massG: 1_000, day: '2026-07-01', ...more });
    const mixed = await entry({ cylinderId: cylinder.id });
    expect([mixed.status, mixed.body.code, mixed.body.errors[0].pointer]).toEqual([422, 'ledger/contradiction', '/cylinderId']);
    expect((await entry({ day: '2026-09-01' })).body.errors[0].pointer).toBe('/day');
    expect((await entry({ machineId: '0197a2b4-7c00-7000-8000-00000000dead' })).body.code).toBe('ledger/machine_not_found');
    expect((await send('DELETE', `/cylinders/${cylinder.id}`)).body).toEqual({ id: cylinder.id });
  });

  it('is entered by technicians of the shop and by directors, whose machines others do not see', async () => {
    const technician = org.keys.technician;
    const entry = { shopId, kind: 'purchase', refrigerant: 'R-134a', massG: 500, day: '2026-07-02' };
    expect((await send('POST', '/refrigerant-entries', entry, {}, technician)).status).toBe(201);
    const machine = { shopId, name: 'Mine', refrigerant: 'R-134a', scaleErrorG: 10 };
    expect((await send('POST', '/machines', machine, {}, technician)).status).toBe(403);
    // A director answers for both, and still opens no case.
    const { director } = org.keys;
    expect((await send('POST', '/machines', machine, {}, director)).status).toBe(201);
    expect((await send('POST', '/refrigerant-entries', { ...entry, day: '2026-07-03' }, {}, director)).status).toBe(201);
    expect((await send('POST', '/cases', { shopId, vehicle: {}, complaint: 'noise' }, {}, director)).body.detail).toMatch(/cases:write/);
    const elsewhere = await testOrganisation(api, 'Elsewhere');
    expect((await request(api, elsewhere.keys.director, 'GET', '/v1/machines')).body.data).toEqual([]);
    expect((await request(api, elsewhere.keys.director, 'GET', '/v1/outcomes/refrigerant-ledger')).body.lines).toEqual([]);
  });
});
