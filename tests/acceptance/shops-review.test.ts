import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import type { ShopStanding } from '#libs/contracts/index.js';
import { ChargeAccuracy, RecordQuality, RefrigerantBalance, ReturnCosts, ShopReview } from '#libs/contracts/index.js';
import { WEAK_SHOP } from '#libs/demo/index.js';
import { planRegion } from '#libs/demo/plan.js';
import { countBehind, graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { administrator, BIASED_SCALE, type StoredRegion, storeRegion } from '../support/region.js';

/** The planned region counts its seasons from the first of January. */
const END = new Date('2027-01-01T00:00:00Z');
let api: TestApi;
let org: TestOrganisation;
let region: StoredRegion;
const ask = (path: string, key = org.keys.director) => request(api, key, 'GET', `/v1/outcomes/${path}`);

beforeAll(async () => {
  api = await testApi({ clock: () => END });
  org = await testOrganisation(api);
  region = await storeRegion(api, org.orgId, planRegion(11, 6_000), END);
}, 240_000);
afterAll(() => api?.close());

describe('shops, compared fairly', () => {
  it('the weak shop stands first and is the only one above; its records are shown beside it', async () => {
    const { status, body } = await ask('shops');
    expect(status).toBe(200);
    const review = ShopReview.parse(body);
    expect(review.shops[0]).toMatchObject({ shopCode: WEAK_SHOP, verdict: 'above' });
    expect(review.shops.filter(({ verdict }) => verdict === 'above')).toHaveLength(1);
    expect(review.shops[0]!.shrunkLow).toBeGreaterThan(1);
    expect(review.shops[0]!.completeness.linkedShare).toBeGreaterThan(0.8);
    // Indirect standardisation: over all shops together as many are expected as were observed.
    const sum = (of: (shop: ShopStanding) => number) => review.shops.reduce((total, shop) => total + of(shop), 0);
    expect(Math.abs(sum((shop) => shop.expected) / sum((shop) => shop.observed) - 1)).toBeLessThan(0.03);
    expect(review.funnel.every(({ low998, low95, high95, high998 }) => low998 <= low95 && low95 < high95 && high95 <= high998)).toBe(true);
  });

  it('is made once for all who ask the same, and made again when something has changed', async () => {
    const made = () => api.takeStatements().filter((name) => name === 'shops-review.recorded').length;
    made();
    const [one, two] = await Promise.all([ask('shops?intent=temporary'), ask('shops?intent=temporary')]);
    expect([two.body, made()]).toEqual([one.body, 1]);
    expect([(await ask('shops?intent=temporary')).body, made()]).toEqual([one.body, 0]);
    const { id, version } = await api.casebook.shops.getShop(administrator(org.orgId), region.shops[0]!.id);
    await api.casebook.shops.changeShop(administrator(org.orgId), id, { name: 'Renamed for a while' }, version);
    await api.casebook.shops.changeShop(administrator(org.orgId), id, { name: region.shops[0]!.name }, version + 1);
    expect([(await ask('shops?intent=temporary')).body, made()]).toEqual([one.body, 1]);
  });

  it('a shop with too few expected returns is shown without a verdict', async () => {
    const review = ShopReview.parse((await ask('shops?fault=overcharge&since=2026-10-01')).body);
    expect(review.episodes).toBeGreaterThan(0);
    expect(review.shops.every(({ verdict }) => verdict === 'not-enough')).toBe(true);
    expect(ShopReview.parse((await ask('shops?fault=sealant')).body)).toMatchObject({
      shops: [],
      message: 'No such repairs are known yet.',
    });
  });

  it('who may open one shop sees the others unnamed', async () => {
    const [own] = region.shops;
    const issued = await api.casebook.access.issueKey(administrator(org.orgId), {
      name: 'one shop',
      role: 'director',
      shopIds: [own!.id],
      expiresAt: null,
    });
    for (const path of ['shops', 'return-costs', 'record-quality', 'charge-accuracy', 'refrigerant']) {
      const { body } = await ask(path, issued.secret);
      const lines = (body.shops ?? body.lines) as { shopId: string | null; shopName: string | null }[];
      expect(new Set(lines.map(({ shopId }) => shopId))).toEqual(new Set([own!.id, null]));
      for (const shop of region.shops.slice(1)) expect(JSON.stringify(body)).not.toContain(shop.name);
    }
    // With two foreign shops only, each would know the other: they are left out.
    const small = await testOrganisation(api, 'Small region');
    await storeRegion(api, small.orgId, [], END);
    const { shops } = await shopsOf(small);
    const most = await api.casebook.access.issueKey(administrator(small.orgId), {
      name: 'all but two',
      role: 'director',
      shopIds: shops.slice(2).map(({ id }) => id),
      expiresAt: null,
    });
    expect((await ask('record-quality', most.secret)).body).toMatchObject({ withheld: 2, lines: [] });
  });

  const shopsOf = async (of: TestOrganisation) => ({
    shops: (await request(api, of.keys.administrator, 'GET', '/v1/shops?first=100')).body.data as { id: string }[],
  });
});

describe('each figure opens what is behind it', () => {
  const behind = (link: { href: string } | null) => countBehind(api, org.keys.director, link!.href);

  it('for shops, for what returns cost, and for what is recorded', async () => {
    const review = ShopReview.parse((await ask('shops?fault=compressor-wear&since=2026-06-01')).body);
    expect(await behind(review.shops[0]!.casesBehind)).toBe(review.shops[0]!.episodes);
    expect(await behind(review.shops[0]!.returnsBehind)).toBeGreaterThanOrEqual(review.shops[0]!.observed);
    const costs = ReturnCosts.parse((await ask('return-costs?since=2026-06-01&fault=undercharge')).body);
    expect(costs.lines[0]!.returns).toBeGreaterThan(0);
    expect(await behind(costs.lines[0]!.casesBehind)).toBe(costs.lines[0]!.returns);
    const quality = RecordQuality.parse((await ask('record-quality?since=2026-11-01')).body);
    expect(await behind(quality.lines[0]!.casesBehind)).toBe(quality.lines[0]!.cases);
    const { body } = await graphql(api, org.keys.director, `{ ${quality.lines[0]!.casesBehind!.graphql} { edges { node { id } } } }`);
    expect(body.errors).toBeUndefined();
    expect(body.data.cases.edges.length).toBeGreaterThan(0);
  });
});

describe('records of shops', () => {
  it('returns cost most where they come back most, charged to the first repair', async () => {
    const costs = ReturnCosts.parse((await ask('return-costs?since=2024-01-01')).body);
    const line = costs.lines.find(({ shopCode }) => shopCode === WEAK_SHOP)!;
    expect(costs.lines[0]!.shopCode).toBe(WEAK_SHOP);
    expect(line.low).toBeLessThan(line.costPerRepair!);
    expect(line.returns).toBeGreaterThan(50);
    expect(line.work).toBeGreaterThan(0);
  });

  it('a charging machine that fills too much is named, the others are not', async () => {
    const accuracy = ChargeAccuracy.parse((await ask('charge-accuracy?since=2024-01-01')).body);
    const [first, ...others] = accuracy.lines;
    expect(first).toMatchObject({ shopCode: BIASED_SCALE.shop, verdict: 'estimated' });
    // The whole width of the interval is 3.9 standard errors.
    expect(Math.abs(first!.meanError! - BIASED_SCALE.share)).toBeLessThan(first!.high! - first!.low!);
    expect(first!.low).toBeGreaterThan(0);
    expect(first!.message).toMatch(/have the scale checked/);
    for (const other of others) expect(other.message).not.toMatch(/scale checked/);
  });

  it('proof and evidence by shop add up to the cases; refrigerant by month adds up to the repairs', async () => {
    const quality = RecordQuality.parse((await ask('record-quality')).body);
    for (const line of quality.lines) {
      expect(line.proved.events + line.judged.events).toBeLessThanOrEqual(line.cases);
      expect(line.proved.low!).toBeLessThanOrEqual(line.proved.share!);
      expect(line.confirmed).toMatchObject({ n: 0, share: null });
    }
    const balance = RefrigerantBalance.parse((await ask('refrigerant?assessment=AR6')).body);
    for (const line of balance.lines) expect(line.netG).toBeCloseTo(line.chargedG - line.recoveredG, 9);
    expect(balance.lines.some(({ co2eKg }) => (co2eKg ?? 0) > 0)).toBe(true);
  });

  it('refuses a period that ends before it begins and a platform nobody has; GraphQL answers the same', async () => {
    expect((await ask('return-costs?since=2026-05-01&until=2026-04-01')).body).toMatchObject({
      status: 422,
      code: 'outcomes/period_upside_down',
    });
    expect((await ask(`shops?platformId=${org.orgId}`)).body.code).toBe('platforms/not_found');
    const { body } = await graphql(
      api,
      org.keys.director,
      '{ reviewShops { shops { shopCode verdict } } chargeAccuracy { lines { shopCode } } }',
    );
    expect(body.data.reviewShops.shops[0]).toEqual({ shopCode: WEAK_SHOP, verdict: 'above' });
  });
});
