import { afterAll, beforeAll, describe, expect, it, jest } from '@jest/globals';
import { cellFigures, recurrenceBoard, standingCells } from '#libs/casebook/outcomes/board.js';
import { clocksOf } from '#libs/casebook/outcomes/clocks.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { boardPlatforms, shopClimates } from '#libs/casebook/outcomes/outcomes.queries.js';
import { DEFAULT_HORIZONS, MINIMUM_EPISODES } from '#libs/casebook/outcomes/return-rates.js';
import { Clock, RecurrenceBoard } from '#libs/contracts/index.js';
import { planRegion } from '#libs/demo/plan.js';
import { request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { cellSpans, cellsOf } from '../support/episodes.js';
import { administrator, type StoredRegion, storeRegion } from '../support/region.js';

const END = new Date('2027-01-01T00:00:00Z');
let now = END;
// Every answer is computed a second time here from all episodes.
jest.setTimeout(120_000);
let api: TestApi;
let org: TestOrganisation;
let region: StoredRegion;

beforeAll(async () => {
  api = await testApi({ clock: () => now });
  org = await testOrganisation(api);
  region = await storeRegion(api, org.orgId, planRegion(11, 3_000), END);
}, 240_000);
afterAll(() => api?.close());

const board = async (query = '') =>
  RecurrenceBoard.parse((await request(api, org.keys.director, 'GET', `/v1/outcomes/recurrences${query}`)).body);
const names = () => api.takeStatements();

/** The board of the whole region computed from every episode, with nothing stored in between. */
async function direct(clock: Clock): Promise<RecurrenceBoard> {
  return api.casebook.context.inTenant(org.orgId, async (tx) => {
    const platforms = await boardPlatforms(tx, org.orgId);
    const horizon = DEFAULT_HORIZONS[clock][1]!;
    const view = { clock, horizons: [horizon], clocks: clocksOf(await shopClimates(tx, org.orgId), now, COMMON_RULES), asOf: now };
    const cells = standingCells(cellFigures(cellsOf(await cellSpans(tx, org.orgId)), view), platforms);
    return recurrenceBoard(cells, platforms, {
      clock,
      horizon,
      day: now.toISOString().slice(0, 10),
      minimum: MINIMUM_EPISODES,
      period: {},
      cautions: [],
      rules: COMMON_RULES,
    });
  });
}

describe('the region board', () => {
  it('is computed at first, and asks for its fold', async () => {
    names();
    expect(await board()).toEqual(await direct('degree-days'));
    expect(names()).toEqual(expect.arrayContaining(['outcomes.board', 'tasks.enqueue']));
  });

  it('folded, says on every clock what the episodes say, and reads none of them', async () => {
    const folded = await api.casebook.boards.foldBoards(org.orgId);
    expect(folded.computed).toBe(folded.cells);
    for (const clock of Clock.options) {
      const expected = await direct(clock);
      expect(expected.lines.length).toBeGreaterThan(20);
      names();
      expect(await board(`?clock=${clock}`)).toEqual(expected);
      expect(names()).not.toContain('outcomes.board');
    }
  });

  it('a fault or a platform picks lines out and leaves their figures as they are', async () => {
    const whole = await board();
    const { fault, platformId } = whole.lines[0]!;
    expect((await board(`?fault=${fault}`)).lines).toEqual(whole.lines.filter((line) => line.fault === fault));
    expect((await board(`?platformId=${platformId}`)).lines).toEqual(whole.lines.filter((line) => line.platformId === platformId));
  });

  it('shows the last fold with its time while something waits for the next, which computes only what has changed', async () => {
    const before = await board();
    const { vehicleIds } = region;
    const history = await api.casebook.history.vehicleHistory(administrator(org.orgId), vehicleIds[0]!);
    const { caseId } = history.visits[0]!;
    await api.casebook.repairs.recordRepair(administrator(org.orgId), caseId!, {
      fault: 'undercharge',
      action: 'top-up',
      intent: 'temporary',
      day: '2026-12-30',
      parts: [],
      recoveredG: null,
      chargedG: 150,
      labourHours: null,
      cost: null,
      note: null,
    });
    const waiting = await board();
    expect(waiting.lines).toEqual(before.lines);
    expect(waiting.cautions.join()).toContain('As of 2027-01-01 00:00 UTC');
    const { cells, computed } = await api.casebook.boards.foldBoards(org.orgId);
    expect(computed).toBeGreaterThan(0);
    expect(computed).toBeLessThan(cells / 4);
    const after = await board();
    expect(after.cautions.join()).not.toContain('As of');
    expect(after.episodes).toBe(before.episodes + 1);
    expect(after).toEqual(await direct('degree-days'));
  });

  it('another day, and another climate, fold the whole again', async () => {
    now = new Date('2027-01-02T08:00:00Z');
    expect((await board()).asOf).toBe('2027-01-01');
    const { cells, computed } = await api.casebook.boards.foldBoards(org.orgId);
    expect(computed).toBe(cells);
    expect((await board()).asOf).toBe('2027-01-02');
    expect(await board()).toEqual(await direct('degree-days'));
    const [shop] = region.shops;
    const normals = shop!.normals.map(({ meanC, sdC }) => ({ meanC: meanC + 2, sdC }));
    await api.casebook.shops.changeShop(administrator(org.orgId), shop!.id, { normals }, shop!.version);
    names();
    expect(await board()).toEqual(await direct('degree-days'));
    expect(names()).toContain('tasks.enqueue');
    await api.casebook.boards.foldBoards(org.orgId);
    expect(await board()).toEqual(await direct('degree-days'));
  });
});
