import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { planRegion } from '#libs/demo/plan.js';
import { countBehind, graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type StoredRegion, storeRegion } from '../support/region.js';

const END = new Date('2027-01-01T00:00:00Z');
let api: TestApi;
let org: TestOrganisation;
let region: StoredRegion;
const shop = (code: string) => region.shops.find((one) => one.code === code)!.id;
const platform = (code: string) => region.platforms.find((one) => one.code === code)!.id;
const ask = (query: Record<string, string>, key = org.keys.technician) =>
  request(api, key, 'GET', `/v1/outcomes/holding-odds?${new URLSearchParams(query)}`);

beforeAll(async () => {
  api = await testApi({ clock: () => END });
  org = await testOrganisation(api);
  region = await storeRegion(api, org.orgId, planRegion(11, 6_000), END);
}, 240_000);
afterAll(() => api?.close());

interface Option {
  readonly action: string;
  readonly intent: string;
  readonly [key: string]: unknown;
}
const option = (body: { options: Option[] }, action: string, intent: string) =>
  body.options.find((one) => one.action === action && one.intent === intent)!;

describe('holding odds at the counter', () => {
  it('a stop-gap cartridge on a platform that sheds debris is known to hold far less often than the whole repair', async () => {
    const { status, body } = await ask({ shopId: shop('mill-street'), platformId: platform('heron-c'), fault: 'filter-cartridge' });
    expect(status).toBe(200);
    const stopGap = option(body, 'replace-filter-cartridge', 'temporary');
    const whole = option(body, 'replace-compressor-and-condenser', 'permanent');
    expect(stopGap).toMatchObject({ verdict: 'estimated', shownFrom: 'own', priceFrom: 'shop', returnCostFrom: 'shop' });
    expect(whole['holding']).toBeGreaterThan((stopGap['holding'] as number) + 0.2);
    expect(body.options.indexOf(whole)).toBeLessThan(body.options.indexOf(stopGap));
    expect(stopGap['words']).toMatch(/of 100 cars .* will not have come back by 1 (?:October|November) 2027\. It costs about \d+ EUR/);
    expect(body).toMatchObject({ from: '2027-01-01', hasHotSeason: true, currency: 'EUR' });
    expect(body.linkedShare).toBeLessThan(1);
    for (const one of body.options) expect(await countBehind(api, org.keys.director, one.casesBehind.href)).toBe(one.episodes);
    expect(body.message).toContain('replace compressor and condenser (lasting repair) still holds');
    // price + F x return cost, in whole units of the currency.
    const { price, returnCost, holding, expectedCost } = stopGap as Record<string, unknown> as Record<string, number>;
    expect(Math.abs(expectedCost! - (price! + (1 - holding!) * returnCost!))).toBeLessThanOrEqual(0.5);
  });

  it('where a platform has few repairs the figure is that of its family or the fault, named and counted as borrowed', async () => {
    const { body } = await ask({ shopId: shop('salt-pans'), platformId: platform('tern-e'), fault: 'condenser-passages' });
    const borrowed = (body.options as Option[]).filter((one) => one['verdict'] === 'estimated' && one['shownFrom'] !== 'own');
    expect(borrowed.length).toBeGreaterThan(0);
    for (const one of borrowed) expect(one).toMatchObject({ borrowed: 1, observed: null });
    expect(body.cautions.join(' ')).toMatch(/its family or of the fault/);
  });

  it('says in so many words when nothing is known', async () => {
    const { status, body } = await ask({ shopId: shop('salt-pans'), platformId: platform('tern-e'), fault: 'sealant' });
    expect(status).toBe(200);
    expect(body).toMatchObject({ options: [], breakEven: null, episodes: 0 });
    expect(body.message).toMatch(/nothing can be said/);
  });

  it('names the platform through the vehicle, and refuses what it does not know', async () => {
    const query = { shopId: shop('mill-street'), fault: 'undercharge' };
    const { body } = await ask({ ...query, vehicleId: region.vehicleIds[0]! });
    expect(region.platforms.map(({ id }) => id)).toContain(body.platformId);
    const nowhere = '01980000-0000-7000-8000-000000000001';
    expect((await ask({ ...query, vehicleId: nowhere })).body.code).toBe('vehicles/not_found');
    expect((await ask({ ...query, platformId: nowhere })).body.code).toBe('platforms/not_found');
    expect((await ask({ ...query, shopId: nowhere })).body.code).toBe('shops/not_found');
    expect((await ask({ ...query, day: '2031-01-01' })).body).toMatchObject({ status: 422, code: 'outcomes/day_out_of_reach' });
    const stranger = await testOrganisation(api, 'Another region');
    expect((await ask(query, stranger.keys.director)).body.code).toBe('shops/not_found');
  });

  it('over GraphQL the same', async () => {
    const { body } = await graphql(
      api,
      org.keys.technician,
      'query ($input: HoldingQuestionInput!) { holdingOdds(input: $input) { options { action holding words } } }',
      { input: { shopId: shop('mill-street'), platformId: platform('heron-c'), fault: 'filter_cartridge' } },
    );
    const rest = await ask({ shopId: shop('mill-street'), platformId: platform('heron-c'), fault: 'filter-cartridge' });
    expect(body.data.holdingOdds.options.map((one: Option) => one['words'])).toEqual(rest.body.options.map((one: Option) => one['words']));
  });
});
