import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { scoreWatches } from '#apps/worker/jobs/score-watches.job.js';
import { clocksOf } from '#libs/casebook/outcomes/clocks.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { watchBoard } from '#libs/casebook/outcomes/watches.js';
import { WatchBoard, type WatchStream } from '#libs/contracts/index.js';
import { DEMO_PLATFORMS, EMERGING } from '#libs/demo/index.js';
import { type PlannedVehicle, planRegion } from '#libs/demo/plan.js';
import { countBehind, graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type StoredRegion, storeRegion } from '../support/region.js';
import { climatesOf, END, PLATFORMS, regionOf } from '../validate/outcomes-planned.js';

const SLOW = 240_000;
let api: TestApi;
let planted: TestOrganisation;
let without: TestOrganisation;
let unplanted: readonly PlannedVehicle[];
let shops: StoredRegion['shops'];
const board = async (org: TestOrganisation, query = '') => {
  const { status, body } = await request(api, org.keys.technician, 'GET', `/v1/outcomes/watches${query}`);
  expect(status).toBe(200);
  return WatchBoard.parse(body);
};
async function look(org: TestOrganisation): Promise<void> {
  const asked = await request(api, org.keys.director, 'POST', '/v1/outcomes/watches/scoring');
  expect(asked.status).toBe(202);
  await scoreWatches(api.casebook, org.orgId, asked.body.id);
  const task = await request(api, org.keys.director, 'GET', `/v1/tasks/${asked.body.id}`);
  expect(task.body).toMatchObject({ kind: 'watches.score', state: 'done' });
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
  without = await testOrganisation(api, 'Region without a batch');
  await storeRegion(api, planted.orgId, planRegion(11, 6_000), END);
  unplanted = planRegion(12, 4_000).filter(({ platform, vin }) => vin !== null && DEMO_PLATFORMS[platform]!.code !== EMERGING.platform);
  ({ shops } = await storeRegion(api, without.orgId, unplanted, END));
}, SLOW);
afterAll(() => api?.close());

describe('watches', () => {
  it('say that nobody looked yet, and that an empty region has nothing to watch', async () => {
    expect(await board(planted)).toMatchObject({ verdict: 'never', scoredAt: null, watches: [] });
    const empty = await testOrganisation(api, 'Empty region');
    await look(empty);
    expect(await board(empty)).toMatchObject({
      verdict: 'not-enough',
      watches: [],
      message: expect.stringMatching(/nothing is recorded yet/),
    });
  });

  it(
    'the emerging batch raises an alarm that names platform, fault, time and model years',
    async () => {
      await look(planted);
      const found = await board(planted);
      const [first] = found.watches;
      expect(first).toMatchObject({ platformCode: EMERGING.platform, fault: EMERGING.fault, kind: 'new-faults', state: 'alarm' });
      const alarm = first!.alarms[0]!;
      // Whoever wants to be told is told once, not at every look.
      const events = await told(planted, 'watch.alarmed');
      expect(events).toContainEqual(expect.objectContaining({ kind: 'new-faults', fault: EMERGING.fault, platformId: first!.platformId }));
      await look(planted);
      expect(await told(planted, 'watch.alarmed')).toEqual(events);
      expect(alarm.low).toBeGreaterThan(1);
      expect(await countBehind(api, planted.keys.director, first!.casesBehind.href)).toBeGreaterThanOrEqual(first!.alarms.at(-1)!.observed);
      // Planted in the last 150 days; the rise must not be dated long before it.
      expect(alarm.since >= '2026-07-01').toBe(true);
      expect(first!.modelYears).toMatchObject({ firstYear: 2022, lastYear: 2024 });
      expect(first!.weeks).toHaveLength(52);
      expect(found.falseAlarmsPerYear).toBe(1);
    },
    SLOW,
  );

  it(
    'where nothing emerges there are hardly more alarms than the stated one a year',
    async () => {
      await look(without);
      const found = await board(without, '?include=all');
      expect(found.streams).toBeGreaterThan(200);
      expect(found.watches).toHaveLength(found.streams);
      // Poisson with mean 1: more than three has probability 0.02; the seed is fixed.
      expect(found.alarms).toBeLessThanOrEqual(3);
      const total = (of: (watch: (typeof found.watches)[number]) => number) => found.watches.reduce((sum, watch) => sum + of(watch), 0);
      expect(total(({ observed }) => observed) / total(({ expected }) => expected)).toBeGreaterThan(0.9);
      expect(total(({ observed }) => observed) / total(({ expected }) => expected)).toBeLessThan(1.1);
    },
    SLOW,
  );

  it('the studies of false alarms over whole regions look at what would be stored: stream by stream, week by week', async () => {
    const shopIds = shops.map(({ id }) => id);
    const { spans, onsets } = regionOf(unplanted, shopIds);
    const clocks = clocksOf(climatesOf(shopIds), END, COMMON_RULES);
    const studied = watchBoard({ onsets, spans, platforms: PLATFORMS, clocks, delays: [], now: END });
    const stored = await board(without, '?include=all');
    const figures = (one: WatchStream) => [
      one.threshold,
      one.weeksToDoubling,
      ...one.weeks.flatMap((week) => [week.expected, week.statistic]),
    ];
    const byStream = new Map(studied.watches.map((one) => [`${one.kind} ${one.platformCode} ${one.fault}`, one]));
    expect(stored.streams).toBe(studied.streams);
    for (const one of stored.watches) {
      const same = byStream.get(`${one.kind} ${one.platformCode} ${one.fault}`)!;
      expect(one.weeks.map(({ week, count }) => [week, count])).toEqual(same.weeks.map(({ week, count }) => [week, count]));
      expect(one.alarms.map(({ week }) => week)).toEqual(same.alarms.map(({ week }) => week));
      // Sums are made in another order, and the top of a likelihood is flat.
      const expected = figures(same);
      expect(Math.max(...figures(one).map((value, i) => Math.abs(value - expected[i]!) / (1 + expected[i]!)))).toBeLessThan(1e-4);
    }
  });

  it('can be asked for one platform, fault or kind; technicians cannot ask for a new look; GraphQL answers the same', async () => {
    const all = await board(planted, '?include=all&kind=returns');
    expect(new Set(all.watches.map(({ kind }) => kind))).toEqual(new Set(['returns']));
    const [one] = all.watches;
    expect((await board(planted, `?include=all&platformId=${one!.platformId}&fault=${one!.fault}`)).watches.length).toBeLessThanOrEqual(2);
    expect((await request(api, planted.keys.technician, 'POST', '/v1/outcomes/watches/scoring')).status).toBe(403);
    expect((await request(api, planted.keys.director, 'GET', `/v1/outcomes/watches?platformId=${without.orgId}`)).status).toBe(404);
    const { body } = await graphql(api, planted.keys.director, '{ watches { alarms watches { platformCode fault state } } }');
    expect(body.data.watches.watches[0]).toEqual({ platformCode: 'tern-d', fault: 'undercharge', state: 'alarm' });
  });
});
