import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { openCasebook } from '#libs/casebook/index.js';
import { cellFigures, recurrenceBoard, standingCells } from '#libs/casebook/outcomes/board.js';
import { clocksOf } from '#libs/casebook/outcomes/clocks.js';
import { groupPlaces } from '#libs/casebook/outcomes/groups.js';
import { fittedClock, fittedClockOf } from '#libs/casebook/outcomes/heat-clock.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { boardPlatforms, episodesOf, shopClimates } from '#libs/casebook/outcomes/outcomes.queries.js';
import { DEFAULT_HORIZONS, isReturn, MINIMUM_EPISODES, RETURNED, returnAnswer, sampleOf } from '#libs/casebook/outcomes/return-rates.js';
import { Clock, RecurrenceBoard, type ReturnAnswer, type ReturnQuestion } from '#libs/contracts/index.js';
import { DEMO_PLATFORMS } from '#libs/demo/index.js';
import { planRegion } from '#libs/demo/plan.js';
import { sfc32 } from '#libs/numeric/index.js';
import { returnProbability } from '#libs/outcomes/index.js';
import { request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { cellSpans, cellsOf, type Told, type ToldSpan, toldSpans } from '../support/episodes.js';
import { administrator, type StoredRegion, storeRegion } from '../support/region.js';

const END = new Date('2027-01-01T00:00:00Z');
let now = END;
// Every answer is computed a second time here from all episodes.

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
    const day = now.toISOString().slice(0, 10);
    return recurrenceBoard(cells, platforms, { clock, horizon, day, cautions: [], rules: COMMON_RULES }, { minimum: MINIMUM_EPISODES });
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

  it('is read page by page: every line once, in the order of the whole, and a cursor of another question is refused', async () => {
    const whole = await board('?minimumEpisodes=1');
    expect(whole.total).toBe(whole.lines.length);
    expect(whole.next).toBeNull();
    for (const filter of ['', '&intent=temporary']) {
      const all = await board(`?minimumEpisodes=1${filter}`);
      expect(all.lines.length).toBeGreaterThan(2);
      const read = [];
      let after = '';
      for (let page = 0; page <= all.lines.length; page++) {
        const { lines, next, total } = await board(`?minimumEpisodes=1${filter}&first=40${after}`);
        expect(total).toBe(all.lines.length);
        read.push(...lines);
        if (next === null) break;
        after = `&after=${next}`;
      }
      expect(read).toEqual(all.lines);
    }
    const { next } = await board('?first=3');
    const { status, body } = await request(
      api,
      org.keys.director,
      'GET',
      `/v1/outcomes/recurrences?first=3&fault=undercharge&after=${next}`,
    );
    expect([status, body.code]).toEqual([422, 'paging/bad_cursor']);
  });

  it('sets each line beside the same repair on the other platforms, whichever lines are asked for', async () => {
    const { lines } = await board();
    const others = (line: (typeof lines)[number]) =>
      lines.filter(({ platformId, fault, intent }) => platformId !== line.platformId && fault === line.fault && intent === line.intent);
    for (const line of lines) {
      const like = others(line);
      const repairs = like.reduce((sum, { episodes }) => sum + episodes, 0);
      if (like.length < 2) expect(line.elsewhere).toBeNull();
      else expect(line.elsewhere).toBeCloseTo(like.reduce((sum, one) => sum + one.episodes * one.probability, 0) / repairs, 10);
    }
    expect((await board('?intent=temporary')).lines).toEqual(lines.filter(({ intent }) => intent === 'temporary'));
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

describe('curves from packed episodes', () => {
  /** Of another process: it has a memory of its own, and writes into the same database. */
  const elsewhere = () => openCasebook(api.database.pool, Buffer.alloc(32, 7), () => now);
  const pick = <T>(random: ReturnType<typeof sfc32>, of: readonly T[]): T => of[Math.floor(random.uniform() * of.length)]!;

  /** The answer from the episodes one by one, with nothing packed in between. */
  async function byRows({ clock = 'degree-days', ...group }: ReturnQuestion): Promise<ReturnAnswer> {
    return api.casebook.context.inTenant(org.orgId, async (tx) => {
      const climates = await shopClimates(tx, org.orgId);
      const places = groupPlaces(group, climates);
      const episodes = await episodesOf(
        tx,
        org.orgId,
        group,
        places,
        climates.map(({ id }) => id),
      );
      const { clocks, fit } = fittedClockOf([episodes], clocksOf(climates, now, COMMON_RULES), now);
      return returnAnswer(group, episodes, { clock, horizons: DEFAULT_HORIZONS[clock], clocks, fit, asOf: now });
    });
  }

  /** Questions of all kinds: of one condition up to four, on every clock, some of which no pack answers. */
  function questions(count: number, seed: number): ReturnQuestion[] {
    const random = sfc32(seed);
    const families = [...new Set(DEMO_PLATFORMS.map(({ family }) => family))];
    const conditions: (() => Partial<ReturnQuestion>)[] = [
      () => ({ platformId: pick(random, region.platforms).id }),
      () => ({ family: pick(random, families) }),
      () => ({ fault: pick(random, ['undercharge', 'filter-cartridge', 'condenser-passages', 'compressor-wear'] as const) }),
      () => ({ action: pick(random, ['top-up', 'replace-filter-cartridge', 'replace-condenser', 'replace-compressor'] as const) }),
      () => ({ intent: pick(random, ['temporary', 'permanent'] as const) }),
      () => ({ shopId: pick(random, region.shops).id }),
      () => ({ climate: pick(random, ['cool', 'warm', 'hot'] as const) }),
      () => ({ season: pick(random, ['spring', 'summer', 'autumn', 'winter'] as const) }),
      () => ({ since: '2025-03-01', ...(random.uniform() < 0.5 ? { until: '2026-02-01' } : {}) }),
      () => ({ endedSince: '2025-06-01', ...(random.uniform() < 0.5 ? { endedUntil: '2026-06-01' } : {}) }),
      () => ({ outcome: pick(random, ['returned', 'not-returned'] as const) }),
      () => ({ modelYearFrom: 2018 }),
    ];
    return Array.from({ length: count }, () => ({
      ...Object.assign({}, ...Array.from({ length: Math.floor(random.uniform() * 5) }, () => pick(random, conditions)())),
      ...(random.uniform() < 0.5 ? { clock: pick(random, Clock.options) } : {}),
    }));
  }

  const equal = async (asked: readonly ReturnQuestion[]) => {
    for (const question of asked)
      expect(await api.casebook.outcomes.returnRates(administrator(org.orgId), question)).toEqual(await byRows(question));
  };

  it('say to the last digit what the episodes say, whatever is asked, and read a pack once', async () => {
    await api.casebook.boards.foldBoards(org.orgId);
    const asked = questions(40, 3);
    await equal(asked);
    const { platformId } = (await board()).lines[0]!;
    const actor = administrator(org.orgId);
    const before = await api.casebook.outcomes.returnRates(actor, { platformId });
    names();
    expect(await api.casebook.outcomes.returnRates(actor, { platformId })).toEqual(before);
    expect(names().filter((name) => name.startsWith('outcomes.records'))).toEqual([]);
  });

  it('tell returns apart as a count row by row does, to the last digit, from packs and where no pack knows', async () => {
    const tables: readonly { by: Told[]; fault?: 'undercharge'; clock?: Clock }[] = [
      { by: ['family', 'fault', 'intent'] },
      { by: ['platform', 'action'], clock: 'distance' },
      { by: ['shop', 'year'] },
      { by: ['month', 'fault'], clock: 'calendar-days' },
      { by: ['action'], fault: 'undercharge' },
      { by: ['modelYear', 'plant'] },
      { by: ['fault', 'modelYear'], fault: 'undercharge' },
    ];
    for (const { by, fault, clock = 'degree-days' } of tables) {
      const group = fault === undefined ? {} : { fault };
      const answer = await api.casebook.outcomes.groupedReturns(administrator(org.orgId), { ...group, by, clock });
      const figures = answer.lines.map(({ keys, episodes, vehicles, returns, shops, observed, linkedShare }) => ({
        path: keys.map(({ value }) => value).join(' | '),
        figures: [episodes, vehicles, returns, shops, observed, linkedShare],
      }));
      const rows = await byCount(by, fault ?? null, clock);
      expect([answer.left, answer.episodes - answer.unread]).toEqual([Math.max(0, rows.cells.length - 500), rows.episodes]);
      expect(answer.clockFit).toEqual(rows.fit);
      expect(rows.cells.length).toBeGreaterThan(1);
      expect(rows.cells).toEqual(expect.arrayContaining(figures));
    }
  });

  it('tell returns apart in a thread of its own as here, and refuse there what is refused here', async () => {
    // Threads run what was built.
    const built = new URL('../../dist/apps/api/outcomes/table-threads.js', import.meta.url).href;
    const { tableThread } = (await import(built)) as typeof import('#apps/api/outcomes/table-threads.js');
    const tables = tableThread(api.database.appUrl);
    try {
      const actor = administrator(org.orgId);
      for (const question of [{ by: ['family', 'fault', 'intent'] as const }, { by: ['modelYear', 'plant'] as const }]) {
        const asked = { by: [...question.by] };
        expect(await tables.group(actor, asked, now)).toEqual(await api.casebook.outcomes.groupedReturns(actor, asked));
      }
      await expect(tables.group({ ...actor, permissions: [] }, { by: ['fault'] }, now)).rejects.toMatchObject({ name: 'Forbidden' });
    } finally {
      await tables.close();
    }
  });

  /** The cells of a table from rows of the database, grouped by their texts alone. */
  async function byCount(by: readonly Told[], fault: string | null, clock: Clock) {
    return api.casebook.context.inTenant(org.orgId, async (tx) => {
      const all = await toldSpans(tx, org.orgId, by, fault);
      const { clocks, fit } = fittedClock(all, clocksOf(await shopClimates(tx, org.orgId), now, COMMON_RULES), now);
      const horizon = DEFAULT_HORIZONS[clock][1]!;
      const spans = clock === 'distance' ? all.filter(({ distanceKm }) => distanceKm !== null) : all;
      const owns = new Map<string, ToldSpan[]>();
      for (const span of spans) {
        const path = span.told.map((one) => one ?? '').join(' | ');
        owns.set(path, [...(owns.get(path) ?? []), span]);
      }
      const cells = [...owns].map(([path, own]) => {
        const { probability, followed } = returnProbability(
          sampleOf(own, { clock, horizons: [horizon], clocks, asOf: now }),
          RETURNED,
          horizon,
        );
        const count = (values: readonly unknown[]) => new Set(values).size;
        return {
          path,
          figures: [
            own.length,
            count(own.map(({ vehicleId }) => vehicleId)),
            own.filter(({ end }) => isReturn(end)).length,
            count(own.map(({ shopId }) => shopId)),
            own.length >= MINIMUM_EPISODES && followed ? probability : null,
            own.filter(({ linkedBy }) => linkedBy !== 'none').length / own.length,
          ],
        };
      });
      return { cells, fit, episodes: spans.length };
    });
  }

  it('count at once what another process has written, before the fold and after it', async () => {
    const other = elsewhere();
    const actor = administrator(org.orgId);
    const { platformId } = (await board()).lines[0]!;
    const question = { platformId, fault: 'undercharge' } as const;
    const before = await api.casebook.outcomes.returnRates(actor, question);
    const vehicle = region.vehicleIds.slice(1);
    let caseId: string | null = null;
    for (const id of vehicle) {
      const history = await other.history.vehicleHistory(actor, id);
      if (history.vehicle.platformId === platformId && history.visits.length > 0) caseId = history.visits.at(-1)!.caseId;
      if (caseId !== null) break;
    }
    const nothing = { parts: [], recoveredG: null, chargedG: null, labourHours: null, cost: null, note: null };
    await other.repairs.recordRepair(actor, caseId!, {
      fault: 'undercharge',
      action: 'replace-hose',
      intent: 'permanent',
      day: '2026-12-30',
      ...nothing,
    });
    const after = await api.casebook.outcomes.returnRates(actor, question);
    expect(after.episodes).toBe(before.episodes + 1);
    await equal([question, ...questions(6, 4)]);
    await other.boards.foldBoards(org.orgId);
    await equal([question, { platformId }, {}, ...questions(6, 5)]);
    // A vehicle that is deleted is no longer counted as one: its episodes stay.
    const [gone] = region.vehicleIds.slice(-1);
    await other.leaving.deleteVehicle(actor, gone!);
    await equal([{}, question]);
    await other.boards.foldBoards(org.orgId);
    await equal([{}, question]);
    expect(await other.boards.differingPacks(org.orgId)).toBe(0);
  });
});
