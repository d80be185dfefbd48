import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { GroupedReturns, ReturnAnswer } from '#libs/contracts/index.js';
import { planRegion } from '#libs/demo/plan.js';
import { graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type StoredRegion, storeRegion } from '../support/region.js';

/** The planned region counts its seasons from the first of January. */
const END = new Date('2027-01-01T00:00:00Z');
let api: TestApi;
let org: TestOrganisation;
let region: StoredRegion;
const get = async (path: string, key = org.keys.director) => request(api, key, 'GET', path);
const rates = async (query: string) => (await get(`/v1/outcomes/return-rates?${query}`)).body;

/** How many a list has in all. */
async function countOf(href: string, key = org.keys.director): Promise<number> {
  let count = 0;
  for (let after: string | null = null; ; ) {
    const page = await get(
      `${href}${href.includes('?') ? '&' : '?'}first=100${after === null ? '' : `&after=${encodeURIComponent(after)}`}`,
      key,
    );
    expect(page.status).toBe(200);
    count += page.body.data.length;
    after = page.body.next;
    if (after === null) return count;
  }
}

beforeAll(async () => {
  api = await testApi({ clock: () => END });
  org = await testOrganisation(api);
  region = await storeRegion(api, org.orgId, planRegion(11, 2_500), END);
}, 240_000);
afterAll(() => api?.close());

describe('return rates', () => {
  it('are read on three clocks, and say which of two fits', async () => {
    const heat = await rates('fault=undercharge&intent=temporary');
    expect(ReturnAnswer.safeParse(heat).error).toBeUndefined();
    // Planned: returns by heat, with a tenth of a degree-day a day.
    expect(['heat', 'both']).toContain(heat.clockFit.verdict);
    expect(heat.clockFit.coldDayShare).toBeLessThan(1);
    const km = await rates('fault=undercharge&intent=temporary&clock=distance');
    expect(km).toMatchObject({ clock: 'distance', verdict: 'estimated' });
    expect(km.episodes + km.unread).toBe(heat.episodes);
    expect(km.horizons.map(({ at }: { at: number }) => at)).toEqual([5_000, 10_000, 20_000]);
    const days = await rates('fault=undercharge&intent=temporary&clock=calendar-days');
    if (days.clockFit.verdict === 'heat') expect(days.cautions.join()).toContain('season');
  });

  it('carry the observed figure as a lower bound and the one weighted for links that are missing', async () => {
    const { linkageWeighted, linkedShare, horizons } = await rates('fault=undercharge&intent=temporary');
    expect(linkedShare).toBeLessThan(1);
    expect(linkageWeighted).toHaveLength(horizons.length);
    for (const [i, { observed, weighted }] of linkageWeighted.entries()) {
      expect(observed).toBe(horizons[i].probability);
      expect(weighted).toBeGreaterThanOrEqual(observed);
    }
  });

  it.each([
    'climate=hot',
    'season=summer&intent=permanent',
    'modelYearFrom=2020&modelYearTo=2021',
    'outcome=returned&since=2025-01-01',
    'endedSince=2026-06-01&fault=undercharge',
  ])('of %s are those of the repairs listed behind them', async (query) => {
    const answer = await rates(query);
    expect(answer.episodes).toBeGreaterThan(0);
    expect(await countOf(answer.casesBehind.href)).toBe(answer.episodes);
    const twin = await graphql(api, org.keys.director, `{ ${answer.casesBehind.graphql} { data { caseId } } }`);
    expect(twin.body.errors).toBeUndefined();
    expect(twin.body.data.episodes.data.length).toBe(Math.min(20, answer.episodes));
  });

  it('are told apart by whatever is asked, add up, and borrow where little is known', async () => {
    const { body } = await get('/v1/outcomes/grouped-returns?by=family,intent,climate&fault=undercharge');
    expect(GroupedReturns.safeParse(body).error).toBeUndefined();
    expect(body.lines.reduce((sum: number, { episodes }: { episodes: number }) => sum + episodes, 0)).toBe(body.episodes);
    for (const line of body.lines) {
      expect(line.low).toBeLessThanOrEqual(line.probability);
      expect(line.high).toBeGreaterThanOrEqual(line.probability);
      if (line.episodes < 5) expect([line.shownFrom, line.observed]).toEqual(['wider', null]);
    }
    const [first] = body.lines;
    expect(await countOf(first.casesBehind.href)).toBe(first.episodes);
    const bySeason = await graphql(
      api,
      org.keys.director,
      '{ groupedReturns(input: { by: [season, year] }) { lines { keys { value } episodes } episodes } }',
    );
    expect(bySeason.body.errors).toBeUndefined();
    // Four seasons of three years: the planned region ends with a year.
    expect(bySeason.body.data.groupedReturns.lines.length).toBeGreaterThanOrEqual(12);
  });

  it('name no shop that the caller may not open', async () => {
    const shopId = region.shops[0]!.id;
    const made = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'one',
      role: 'director',
      shopIds: [shopId],
      expiresAt: null,
    });
    const { body } = await get('/v1/outcomes/grouped-returns?by=shop', made.body.secret);
    expect(body.lines.map(({ keys }: { keys: { value: string }[] }) => keys[0]!.value).sort()).toEqual(['', shopId].sort());
    expect(JSON.stringify(body)).not.toContain(region.shops[1]!.id);
  });

  it('answer bad questions by what is wrong with them', async () => {
    const upsideDown = await get('/v1/outcomes/return-rates?since=2026-05-01&until=2026-05-01');
    expect([upsideDown.status, upsideDown.body.code]).toEqual([422, 'outcomes/period_upside_down']);
    const unknown = await get('/v1/outcomes/grouped-returns?by=family&platformId=0197a2b4-7c00-7000-8000-00000000dead');
    expect(unknown.body.code).toBe('platforms/not_found');
    expect((await get('/v1/outcomes/grouped-returns?by=colour')).status).toBe(422);
    expect((await get('/v1/outcomes/grouped-returns?by=partNumber,partLot')).body.code).toBe('outcomes/one_of_parts');
    const none = await rates('partNumber=nowhere');
    expect([none.verdict, none.horizons]).toEqual(['not-enough', []]);
    const [a, b] = ['R-134a', 'R-1234yf'].map((one) => region.platforms.find(({ refrigerant }) => refrigerant === one)!.id);
    const mixed = await request(api, org.keys.director, 'POST', '/v1/outcomes/comparisons', { a: { platformId: a }, b: { platformId: b } });
    expect([mixed.status, mixed.body.code]).toEqual([422, 'outcomes/mixed_refrigerants']);
    const far = await rates('fault=undercharge&horizons=9000');
    expect(far.horizons).toEqual([]);
    expect(far.cautions.join()).toContain('Nothing was followed beyond');
  });
});
