import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { PolicyReport } from '#libs/contracts/index.js';
import { DEMO_PLATFORMS } from '#libs/demo/index.js';
import { type PlannedVehicle, planRegion, REGION_DAYS } from '#libs/demo/plan.js';
import { countBehind, graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type StoredRegion, storeRegion } from '../support/region.js';

/** The planned region counts its seasons from the first of January. */
const END = new Date('2027-01-01T00:00:00Z');
const SINCE = '2025-06-01';
const SINCE_DAY = REGION_DAYS - Math.round((END.getTime() - Date.parse(SINCE)) / 86_400_000);
let api: TestApi;
let org: TestOrganisation;
let region: StoredRegion;
const platform = (code: string) => region.platforms.find((one) => one.code === code)!.id;
const send = (method: string, path: string, body?: unknown, key = org.keys.director) =>
  request(api, key, method, `/v1/policies${path}`, body);
const forbid = (code: string, more: object = {}) => ({
  platformId: platform(code),
  fault: 'undercharge',
  action: 'top-up',
  rule: 'forbid',
  ...more,
});

/** From the day of the policy on, the shops seal what they would have topped up, and it does not come back; one vehicle in nine is topped up still. */
function obeyed(vehicle: PlannedVehicle): PlannedVehicle {
  if (DEMO_PLATFORMS[vehicle.platform]!.code !== 'plover-a' || vehicle.index % 9 === 0) return vehicle;
  const first = vehicle.visits.findIndex((visit) => visit.day >= SINCE_DAY && visit.repairs[0]?.action === 'top-up');
  if (first < 0) return vehicle;
  const sealed = {
    ...vehicle.visits[first]!,
    repairs: [{ fault: 'undercharge', action: 'replace-seals', intent: 'permanent' }] as const,
  };
  return { ...vehicle, visits: [...vehicle.visits.slice(0, first), sealed] };
}

beforeAll(async () => {
  api = await testApi({ clock: () => END });
  org = await testOrganisation(api);
  region = await storeRegion(api, org.orgId, planRegion(11, 10_000).map(obeyed), END);
}, 240_000);
afterAll(() => api?.close());

describe('policies of the director', () => {
  it('are set, shown where the work is done, and stay known when they end', async () => {
    const set = await send('POST', '', forbid('plover-b', { since: '2026-05-01', note: 'Seal it.' }));
    expect(set.status).toBe(201);
    expect(set.headers.get('location')).toBe(`/v1/policies/${set.body.id}/report`);
    const where = `?platformId=${platform('plover-b')}&fault=undercharge`;
    const shown = await send('GET', where, undefined, org.keys.technician);
    expect(shown.body.data).toEqual([set.body]);
    expect(set.body).toMatchObject({ rule: 'forbid', action: 'top-up', since: '2026-05-01', endedOn: null, note: 'Seal it.' });
    expect((await send('GET', `?platformId=${platform('heron-c')}`)).body.data).toEqual([]);
    const ended = await send('DELETE', `/${set.body.id}`);
    expect(ended.body).toMatchObject({ id: set.body.id, endedOn: '2027-01-01' });
    expect((await send('DELETE', `/${set.body.id}`)).body).toEqual(ended.body);
    expect((await send('GET', where)).body.data).toEqual([]);
    expect((await send('GET', `${where}&state=all`)).body.data).toEqual([ended.body]);
    const audit = await request(api, org.keys.director, 'GET', `/v1/audit?subjectId=${set.body.id}`);
    expect(audit.body.data.map((line: { action: string }) => line.action)).toEqual(['policy.ended', 'policy.set']);
  });

  it('a policy that was followed and worked is seen to, and where it was not ruled nothing is claimed', async () => {
    const { body: policy } = await send('POST', '', forbid('plover-a', { since: SINCE }));
    const answer = await send('GET', `/${policy.id}/report`);
    expect(answer.status).toBe(200);
    const report = PolicyReport.parse(answer.body);
    expect(report.followed.share).toBeGreaterThan(0.85);
    expect(report.followed.share).toBeLessThan(1);
    expect(report.followedBefore.share).toBeLessThan(0.75);
    expect(report.verdict).toBe('estimated');
    expect(await countBehind(api, org.keys.director, report.casesBehind.href)).toBe(report.after.episodes);
    expect(await countBehind(api, org.keys.director, report.casesBefore.href)).toBe(report.before.episodes);
    expect(report.ratio).toBeLessThan(1);
    expect(report.after.per1000).toBeLessThan(report.before.per1000!);
    expect(report.shops.reduce((sum, { followed }) => sum + followed.n, 0)).toBe(report.followed.n);
    // The ratio by hand from the four periods the answer shows.
    const rate = ({ returns, degreeDays }: { returns: number; degreeDays: number }) => returns / degreeDays;
    const byHand = rate(report.after) / rate(report.before) / (rate(report.comparisonAfter) / rate(report.comparisonBefore));
    expect(report.ratio).toBeCloseTo(byHand, 9);
    expect(report.message).toMatch(/Followed in \d+ of \d+ repairs/);
    const { body: idle } = await send('POST', '', forbid('plover-truck', { fault: 'sealant', action: 'flush-lines' }));
    const nothing = PolicyReport.parse((await send('GET', `/${idle.id}/report`)).body);
    expect(nothing).toMatchObject({ verdict: 'not-enough', ratio: null, followed: { n: 0, share: null } });
    expect(nothing.message).toMatch(/Too little is known/);
  });

  it('that contradict one in force, begin too late or name what is not there are refused', async () => {
    const first = await send('POST', '', forbid('egret-s'));
    expect(first.body.since).toBe('2027-01-01');
    expect((await send('POST', '', forbid('egret-s', { rule: 'require' }))).body).toMatchObject({
      status: 409,
      code: 'policies/contradicts',
    });
    const seals = { action: 'replace-seals', rule: 'require' };
    expect((await send('POST', '', forbid('egret-s', seals))).status).toBe(201);
    expect((await send('POST', '', forbid('egret-s', { ...seals, action: 'replace-hose' }))).body.code).toBe('policies/contradicts');
    expect((await send('POST', '', forbid('egret-x', { since: '2029-01-01' }))).body).toMatchObject({
      status: 422,
      code: 'policies/day_out_of_reach',
    });
    expect((await send('POST', '', forbid('egret-x', { platformId: org.orgId }))).body.code).toBe('platforms/not_found');
    expect((await send('GET', `/${org.orgId}/report`)).body.code).toBe('policies/not_found');
    expect((await send('POST', '', forbid('egret-x'), org.keys.technician)).status).toBe(403);
    expect((await send('DELETE', `/${first.body.id}`, undefined, org.keys.technician)).status).toBe(403);
  });

  it('belong to their organisation; GraphQL sets and shows the same', async () => {
    const { body } = await graphql(
      api,
      org.keys.director,
      'mutation ($input: NewPolicyInput!) { setPolicy(input: $input) { id rule action } }',
      { input: { platformId: platform('dunlin-m'), fault: 'undercharge', action: 'top_up', rule: 'forbid' } },
    );
    const { id } = body.data.setPolicy;
    const shown = await graphql(
      api,
      org.keys.technician,
      'query ($id: ID!) { policyReport(id: $id) { policy { id } verdict } policies { id } }',
      { id },
    );
    expect(shown.body.data.policyReport.policy.id).toBe(id);
    expect(shown.body.data.policies.map((one: { id: string }) => one.id)).toContain(id);
    const stranger = await testOrganisation(api, 'Another region');
    expect((await send('GET', `/${id}/report`, undefined, stranger.keys.director)).body.code).toBe('policies/not_found');
    expect((await send('DELETE', `/${id}`, undefined, stranger.keys.director)).body.code).toBe('policies/not_found');
    expect((await send('GET', '?state=all', undefined, stranger.keys.director)).body.data).toEqual([]);
  });
});
