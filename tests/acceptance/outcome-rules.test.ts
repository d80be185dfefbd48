import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { rebuildDerived } from '#apps/worker/jobs/rebuild-derived.job.js';
import { scorePatterns } from '#apps/worker/jobs/score-patterns.job.js';
import { scoreWatches } from '#apps/worker/jobs/score-watches.job.js';
import { OutcomeRules, ReturnAnswer } from '#libs/contracts/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shops: string[];
let platformId: string;
const send = (method: string, path: string, body?: unknown, key = org.keys.administrator) => request(api, key, method, `/v1${path}`, body);
const setRules = (rules: object, key = org.keys.director) => send('PUT', '/outcomes/rules', rules, key);
const rates = async () => ReturnAnswer.parse((await send('GET', '/outcomes/return-rates?fault=undercharge&clock=calendar-days')).body);

async function visit(plate: string, shopId: string, openedAt: string): Promise<void> {
  const { body } = await send('POST', '/cases', { shopId, vehicle: { plate, platformId }, complaint: 'cools-poorly', openedAt });
  const day = openedAt.slice(0, 10);
  const nothing = { parts: [], recoveredG: null, chargedG: null, labourHours: null, cost: null, note: null };
  await send('POST', `/cases/${body.id}/repairs`, { fault: 'undercharge', action: 'replace-seals', intent: 'permanent', day, ...nothing });
}

/** What the worker does with the task that a change has started. */
async function derived(): Promise<void> {
  const { pendingTaskId } = OutcomeRules.parse((await send('GET', '/outcomes/rules')).body);
  await rebuildDerived(api.casebook, org.orgId, pendingTaskId!, { check: false });
}

/** Patterns and watches looked at by the worker's own jobs. */
async function looked(): Promise<void> {
  for (const [noun, job] of [
    ['patterns', scorePatterns],
    ['watches', scoreWatches],
  ] as const) {
    const { body } = await send('POST', `/outcomes/${noun}/scoring`, undefined, org.keys.director);
    await job(api.casebook, org.orgId, body.id);
  }
}
const areStale = async () => {
  const boards = [(await send('GET', '/outcomes/patterns')).body, (await send('GET', '/outcomes/watches')).body];
  return boards.map(({ isStale, cautions }) => [isStale, /being made anew/.test(cautions.join(' '))]);
};

beforeAll(async () => {
  api = await testApi({ clock: () => new Date('2026-09-20T10:00:00Z') });
  org = await testOrganisation(api);
  shops = [];
  for (const code of ['harbour', 'mill']) shops.push((await send('POST', '/shops', newShop(code))).body.id);
  platformId = (await send('POST', '/platforms', newPlatform('tern'))).body.id;
  for (const car of [1, 2, 3, 4, 5]) await visit(`RULE ${car}`, shops[0]!, '2026-01-10T09:00:00Z');
  await visit('RULE 1', shops[0]!, '2026-01-12T09:00:00Z');
  await visit('RULE 2', shops[1]!, '2026-01-12T09:00:00Z');
  await visit('RULE 3', shops[0]!, '2026-07-10T09:00:00Z');
});
afterAll(() => api?.close());

describe('how an organisation tells returns apart', () => {
  const COMMON = { sameVisitDays: 0, lookBackDays: null, presenceDays: 365 };
  const OWN = { sameVisitDays: 3, lookBackDays: 90, presenceDays: 120 };

  it('is by the common rules where nothing was set, and says so beside the figure', async () => {
    expect((await send('GET', '/outcomes/rules')).body).toMatchObject({ ...COMMON, version: 0, setAt: null, pendingTaskId: null });
    const answer = await rates();
    expect(answer.returns).toBe(3);
    expect(answer.definitions).toContainEqual(expect.stringMatching(/common rules/));
  });

  it('changes with the rules: what is derived is derived again, names them, and every figure says them', async () => {
    await looked();
    expect(await areStale()).toEqual([
      [false, false],
      [false, false],
    ]);
    const set = await setRules(OWN);
    expect([set.status, set.body]).toEqual([200, expect.objectContaining({ ...OWN, version: 1, setAt: '2026-09-20T10:00:00Z' })]);
    await derived();
    expect(await areStale()).toEqual([
      [true, true],
      [true, true],
    ]);
    await looked();
    expect((await areStale()).flat()).not.toContain(true);
    // Of three returns one was two days later at the same shop, and one after half a year.
    const answer = await rates();
    expect(answer.returns).toBe(1);
    for (const path of [
      'return-rates?fault=undercharge',
      'recurrences',
      'shops',
      'return-costs',
      'patterns',
      'watches',
      'grouped-returns?by=fault',
    ]) {
      const { body } = await send('GET', `/outcomes/${path}`);
      expect([path, body.definitions]).toEqual([path, expect.arrayContaining([expect.stringMatching(/120 days after it was last seen/)])]);
    }
    // Nobody is watched for longer than the rules look back.
    expect(answer.horizons.length).toBeGreaterThan(0);
    expect(answer.horizons.filter(({ at, atRisk }) => at > 90 && atRisk > 0)).toEqual([]);
    const trail = (await send('GET', `/audit?subjectId=${org.orgId}`)).body.data;
    expect(trail).toContainEqual(expect.objectContaining({ action: 'outcome-rules.set' }));
    const again = await graphql(
      api,
      org.keys.director,
      'mutation { setOutcomeRules(input: { sameVisitDays: 3, lookBackDays: 90, presenceDays: 120 }) { version pendingTaskId } }',
    );
    expect(again.body.data.setOutcomeRules).toEqual({ version: 1, pendingTaskId: null });
    await setRules(COMMON);
    await derived();
    expect((await rates()).returns).toBe(3);
    expect((await send('GET', '/outcomes/rules')).body.version).toBe(2);
  });

  it('is set by a director of all shops within bounds, for one organisation', async () => {
    expect((await setRules(OWN, org.keys.technician)).status).toBe(403);
    const limited = await send('POST', '/keys', { name: 'one shop', role: 'director', shopIds: [shops[0]], expiresAt: null });
    expect((await setRules(OWN, limited.body.secret)).status).toBe(403);
    const outside = await setRules({ ...OWN, lookBackDays: 5 });
    expect([outside.status, outside.body.errors[0].pointer]).toEqual([422, '/lookBackDays']);
    const elsewhere = await testOrganisation(api, 'Elsewhere');
    expect((await send('GET', '/outcomes/rules', undefined, elsewhere.keys.director)).body.version).toBe(0);
  });
});
