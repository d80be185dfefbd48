import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { scorePatterns } from '#apps/worker/jobs/score-patterns.job.js';
import { PatternBoard } from '#libs/contracts/index.js';
import { DEBRIS_PLATFORMS, DEMO_PLATFORMS } from '#libs/demo/index.js';
import { planRegion } from '#libs/demo/plan.js';
import { countBehind, graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { storeRegion } from '../support/region.js';

/** The planned region counts its seasons from the first of January. */
const END = new Date('2027-01-01T00:00:00Z');
const SLOW = 240_000;
let api: TestApi;
let planted: TestOrganisation;
let without: TestOrganisation;
const board = async (org: TestOrganisation, query = '') => {
  const { status, body } = await request(api, org.keys.technician, 'GET', `/v1/outcomes/patterns${query}`);
  expect(status).toBe(200);
  return PatternBoard.parse(body);
};
/** Asked over HTTP, done by the worker's own job. */
async function score(org: TestOrganisation): Promise<void> {
  const asked = await request(api, org.keys.director, 'POST', '/v1/outcomes/patterns/scoring');
  expect(asked.status).toBe(202);
  expect(asked.headers.get('location')).toBe(`/v1/tasks/${asked.body.id}`);
  await scorePatterns(api.casebook, org.orgId, asked.body.id);
  const task = await request(api, org.keys.director, 'GET', `/v1/tasks/${asked.body.id}`);
  expect(task.body).toMatchObject({ kind: 'patterns.score', state: 'done', done: 1 });
}

/** Events of one kind that were written for an organisation. */
async function told(org: TestOrganisation, kind: string): Promise<Record<string, unknown>[]> {
  return api.casebook.context.inTenant(org.orgId, async (tx) => {
    const text = 'select body from outbox_event where org_id = $1 and kind = $2 order by id';
    const { rows } = await tx.query<{ body: Record<string, unknown> }>({ name: 'test.told', text, values: [org.orgId, kind] });
    return rows.map(({ body }) => body);
  });
}

beforeAll(async () => {
  api = await testApi({ clock: () => END });
  planted = await testOrganisation(api);
  without = await testOrganisation(api, 'Region without a plant');
  const plan = planRegion(11, 10_000);
  await storeRegion(api, planted.orgId, plan, END);
  // The same region without the platforms on which something was planted: nothing follows anything there but by chance.
  const unplanted = planRegion(12, 7_000).filter(({ platform }) => !DEBRIS_PLATFORMS.has(DEMO_PLATFORMS[platform]!.code));
  await storeRegion(api, without.orgId, unplanted, END);
}, SLOW);
afterAll(() => api?.close());

describe('recurring patterns', () => {
  it('are said to be unweighed before anybody asked for it', async () => {
    expect(await board(planted)).toMatchObject({ scoredAt: null, patterns: [], message: expect.stringMatching(/not been weighed/) });
  });

  it(
    'the planted one is found on the first page, on the planted platforms, and its reverse is not',
    async () => {
      await score(planted);
      const found = await board(planted);
      const [first] = found.patterns;
      expect(first).toMatchObject({
        cause: 'compressor-wear',
        effect: 'condenser-passages',
        verdict: 'replicated',
        doubtful: false,
        inCatalogue: true,
      });
      // The first visit of a vehicle is listed and is no event, so that there may be some more.
      expect(await countBehind(api, planted.keys.director, first!.casesBehind.href)).toBeGreaterThanOrEqual(first!.exposedEvents);
      expect(first!.replication.low).toBeGreaterThan(1);
      expect(first!.reverse!.pValue).toBeGreaterThan(0.05);
      expect(first!.shops).toBeGreaterThanOrEqual(3);
      const selected = first!.platforms.filter((one) => one.selected).map((one) => one.platformCode);
      expect(selected.length).toBeGreaterThan(0);
      expect(selected.filter((code) => !DEBRIS_PLATFORMS.has(code))).toEqual([]);
      expect(first!.lags.reduce((sum, { count }) => sum + count, 0)).toBe(first!.exposedEvents);
      expect(found.patterns.filter((pattern) => !pattern.doubtful && pattern.verdict === 'replicated')).toHaveLength(1);
      // Whoever wants to be told is told once, not at every weighing.
      const events = await told(planted, 'pattern.found');
      expect(events).toContainEqual(expect.objectContaining({ cause: 'compressor-wear', effect: 'condenser-passages' }));
      await score(planted);
      expect(await told(planted, 'pattern.found')).toEqual(events);
    },
    SLOW,
  );

  it('the rest can be asked for: what was weighed, one pair, one platform', async () => {
    const all = await board(planted, '?include=all');
    expect(all.patterns).toHaveLength(all.replicated + all.discovered + all.notShown + all.tooFew);
    const pair = await board(planted, '?include=all&cause=condenser-passages&effect=compressor-wear');
    expect(pair.patterns.map(({ verdict }) => verdict)).toEqual([expect.stringMatching(/not-shown|too-few/)]);
    const heron = all.patterns[0]!.platforms.find((one) => one.selected)!;
    expect((await board(planted, `?platformId=${heron.platformId}`)).patterns).toHaveLength(1);
    const other = all.patterns[0]!.platforms.find((one) => !one.selected);
    if (other) expect((await board(planted, `?platformId=${other.platformId}`)).patterns).toHaveLength(0);
  });

  it(
    'none is replicated in a region in which nothing was planted, and that is said without claiming that there is none',
    async () => {
      await score(without);
      const found = await board(without);
      expect(found.replicated).toBe(0);
      expect(found.notShown).toBeGreaterThan(10);
      if (found.discovered === 0) expect(found.message).toMatch(/not proof that there is none/);
      // The other organisation's scores are its own.
      expect((await board(planted)).replicated).toBe(1);
    },
    SLOW,
  );

  it('a weighing that waits is not doubled; technicians cannot ask for one; unknown words are refused', async () => {
    const first = await request(api, planted.keys.director, 'POST', '/v1/outcomes/patterns/scoring');
    const again = await graphql(api, planted.keys.director, 'mutation { requestPatternScoring { id state } }');
    expect(again.body.data.requestPatternScoring).toEqual({ id: first.body.id, state: 'waiting' });
    const refused = await request(api, planted.keys.technician, 'POST', '/v1/outcomes/patterns/scoring');
    expect(refused.body).toMatchObject({ status: 403, code: 'access/forbidden' });
    const word = await request(api, planted.keys.director, 'GET', '/v1/outcomes/patterns?cause=compresor-wear');
    expect(word.body.errors[0].remedy).toMatch(/compressor-wear/);
    const nowhere = await request(api, planted.keys.director, 'GET', `/v1/outcomes/patterns?platformId=${without.orgId}`);
    expect(nowhere.body.code).toBe('platforms/not_found');
  });
});
