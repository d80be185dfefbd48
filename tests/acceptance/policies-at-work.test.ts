import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let caseId: string;
const send = (method: string, path: string, body?: unknown) => request(api, org.keys.administrator, method, `/v1${path}`, body);

beforeAll(async () => {
  api = await testApi({ clock: () => new Date('2026-07-20T10:00:00Z') });
  org = await testOrganisation(api);
  const shopId = (await send('POST', '/shops', newShop('harbour'))).body.id;
  const platformId = (await send('POST', '/platforms', newPlatform('tern'))).body.id;
  const policy = { platformId, fault: 'undercharge', action: 'top-up', note: 'The evaporator leaks on this platform: find the leak.' };
  await send('POST', '/policies', { ...policy, rule: 'forbid', since: '2026-07-01' });
  caseId = (await send('POST', '/cases', { shopId, vehicle: { platformId }, complaint: 'cools-not' })).body.id;
});
afterAll(() => api?.close());

const repair = (action: string, day: string) => ({
  fault: 'undercharge',
  action,
  intent: 'temporary',
  day,
  parts: [],
  recoveredG: null,
  chargedG: 100,
  labourHours: 1,
  cost: 50,
  note: null,
});

describe('a policy where the work is done', () => {
  it('stands in the case, over both transports', async () => {
    const { body } = await send('GET', `/cases/${caseId}`);
    expect(body.policies).toMatchObject([{ rule: 'forbid', action: 'top-up', fault: 'undercharge' }]);
    const twin = await graphql(api, org.keys.technician, `{ case(id: "${caseId}") { policies { rule action note } } }`);
    expect(twin.body.data.case.policies).toEqual([{ rule: 'forbid', action: 'top_up', note: expect.stringContaining('find the leak') }]);
  });

  it('warns when a repair does not follow it, records the repair all the same, and says nothing of work before it', async () => {
    expect((await send('POST', `/cases/${caseId}/repairs`, repair('top-up', '2026-06-30'))).status).toBe(201);
    expect((await send('POST', `/cases/${caseId}/repairs`, repair('replace-seals', '2026-07-20'))).status).toBe(201);
    expect((await send('GET', `/cases/${caseId}`)).body.warnings.map(({ code }: { code: string }) => code)).not.toContain(
      'policy-not-followed',
    );
    expect((await send('POST', `/cases/${caseId}/repairs`, repair('top-up', '2026-07-20'))).status).toBe(201);
    const warned = (await send('GET', `/cases/${caseId}`)).body;
    expect(warned.repairs).toHaveLength(3);
    expect(warned.warnings).toContainEqual(
      expect.objectContaining({ code: 'policy-not-followed', detail: expect.stringContaining('top-up is not to be done for undercharge') }),
    );
  });

  it('takes its warning back when the repair turns out to have been another one', async () => {
    const before = await send('GET', `/cases/${caseId}`);
    const wrong = before.body.repairs.find((one: { action: string; day: string }) => one.action === 'top-up' && one.day === '2026-07-20');
    const corrected = await request(
      api,
      org.keys.technician,
      'PATCH',
      `/v1/cases/${caseId}/repairs/${wrong.id}`,
      { action: 'replace-seals' },
      { 'if-match': before.headers.get('etag')! },
    );
    expect(corrected.status).toBe(200);
    expect(corrected.body.warnings).toHaveLength(before.body.warnings.length - 1);
    expect(JSON.stringify(corrected.body.warnings)).not.toContain('policy-not-followed');
  });
});
