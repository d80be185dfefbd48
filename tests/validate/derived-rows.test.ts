import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it, jest } from '@jest/globals';
import { type Casebook, openCasebook } from '#libs/casebook/index.js';
import { DomainError, type FaultCode, type RepairAction, type RepairIntent } from '#libs/contracts/index.js';
import { createPool, type Pool, type Tx } from '#libs/database/index.js';
import { DEMO_PLATFORMS, DEMO_SHOPS } from '#libs/demo/index.js';
import { type TestDatabase, testDatabase } from '../support/database.js';
import { administrator } from '../support/region.js';
import { seeded } from './outcomes-random.js';
import { FULL, tell } from './outcomes-size.js';

// Whatever is derived equals what is derived again from the cases, to the last digit, after random work of eight writers on the same vehicles: cases that
// come late, corrections, orders that turn out to be about another car, voids, proofs, repairs, sightings, records that are merged and taken apart again, vehicles
// that are forgotten and whose orders then turn out to be about another, and folds in between.
const WRITERS = 8;
const OPERATIONS = FULL ? 50_000 : 1_600;
const VEHICLES = FULL ? 1_500 : 120;
const DAY_MS = 86_400_000;
const NOW = Date.parse('2027-01-01T00:00:00Z');

const WORK: readonly (readonly [FaultCode, RepairAction, RepairIntent])[] = [
  ['undercharge', 'top-up', 'temporary'],
  ['undercharge', 'replace-seals', 'permanent'],
  ['filter-cartridge', 'replace-filter-cartridge', 'temporary'],
  ['condenser-passages', 'replace-condenser', 'permanent'],
  ['compressor-wear', 'replace-compressor', 'permanent'],
  ['moisture', 'no-repair', 'temporary'],
];
const WORK_KINDS = ['opened', 'revised', 'repaired', 'proved', 'amended', 'voided', 'sighted', 'merged', 'unmerged', 'forgotten'].concat(
  'forgotten, then about another car',
);
const COMPLAINTS = ['cools-poorly', 'cools-not', 'leak', 'noise', 'smell'] as const;

// An hour was not enough for the whole of it where the machine was busy with other work.
jest.setTimeout(FULL ? 14_400_000 : 900_000);
let database: TestDatabase;
let pool: Pool;
let casebook: Casebook;
let orgId: string;
let shopIds: string[];
let platformIds: string[];

beforeAll(async () => {
  database = await testDatabase();
  // A machine that is busy with other things makes writers wait for each other longer than an answer may take; only a circle is a fault here.
  const url = new URL(database.appUrl);
  url.searchParams.set('options', '-c lock_timeout=300s -c statement_timeout=300s -c idle_in_transaction_session_timeout=300s');
  pool = createPool(url.toString(), { max: WRITERS + 2, connectionTimeoutMs: 300_000 });
  casebook = openCasebook(pool, Buffer.alloc(32, 7), () => new Date(NOW));
  ({ orgId } = await casebook.access.foundOrganisation({ name: 'Random work', slug: randomUUID(), demo: false }));
  const actor = administrator(orgId);
  shopIds = [];
  for (const shop of DEMO_SHOPS.slice(0, 6)) shopIds.push((await casebook.shops.addShop(actor, shop)).id);
  platformIds = [];
  for (const platform of DEMO_PLATFORMS.slice(0, 5)) platformIds.push((await casebook.platforms.addPlatform(actor, platform)).id);
});
afterAll(async () => {
  await pool?.end();
  await database?.close();
});

/** One writer: draws its work, and keeps going where the casebook refuses it. Anything else, a deadlock above all, ends the test. */
async function writer(number: number, operations: number, done: Map<string, number>): Promise<void> {
  const random = seeded(7 + number);
  const actor = administrator(orgId);
  const below = (n: number) => Math.floor(random.uniform() * n);
  const pick = <T>(of: readonly T[]): T => of[below(of.length)]!;
  const cases: string[] = [];
  const references = new Map<string, string>();
  const merges: { readonly vehicleId: string; readonly id: string }[] = [];
  const revisions = new Map<string, number>();
  const vehicle = () => {
    const car = below(VEHICLES);
    // Every fourth car by its VIN, so that records with and without one are merged.
    const name = car % 4 === 0 ? { vin: `RW9AB00000${String(car).padStart(7, '0')}` } : { plate: `RW ${car}` };
    const named = random.uniform() < 0.7 ? { platformId: platformIds[car % platformIds.length]! } : {};
    return random.uniform() < 0.03 ? {} : { ...name, ...named };
  };
  const opened = () => new Date(NOW - Math.floor(random.uniform() * 900 * DAY_MS)).toISOString();
  const order = (reference: string) => {
    const revision = (revisions.get(reference) ?? 0) + 1;
    revisions.set(reference, revision);
    return {
      shopId: pick(shopIds),
      vehicle: vehicle(),
      complaint: pick(COMPLAINTS),
      openedAt: opened(),
      odometer: { value: 20_000 + below(150_000), unit: 'km' },
      source: { system: 'random', reference, revision },
    };
  };
  const vehicleOf = async (caseId: string) => (await casebook.cases.getCase(actor, caseId)).vehicleId;
  const opens = async (reference: string) => {
    const opened = await casebook.cases.openCase(actor, order(reference));
    cases.push(opened.case.id);
    references.set(opened.case.id, reference);
  };
  const counted = (name: string) => done.set(name, (done.get(name) ?? 0) + 1);
  const work: readonly (readonly [string, number, () => Promise<unknown>])[] = [
    ['opened', 28, () => opens(`${number}-${below(operations)}`)],
    ['revised', 12, async () => (revisions.size > 0 ? casebook.cases.openCase(actor, order(pick([...revisions.keys()]))) : undefined)],
    [
      'repaired',
      24,
      async () => {
        const [fault, action, intent] = pick(WORK);
        const day = new Date(NOW - below(900) * DAY_MS).toISOString().slice(0, 10);
        const nothing = { parts: [], recoveredG: null, chargedG: null, labourHours: null, cost: null, note: null };
        await casebook.repairs.recordRepair(actor, pick(cases), { fault, action, intent, day, ...nothing });
      },
    ],
    [
      'proved',
      16,
      async () => {
        const method = random.uniform() < 0.8 ? 'opened-part' : 'judgement';
        await casebook.repairs.recordProof(actor, pick(cases), { faults: [pick(WORK)[0]], method, note: null });
      },
    ],
    [
      'amended',
      6,
      async () => {
        const { id, version } = await casebook.cases.getCase(actor, pick(cases));
        await casebook.cases.amendCase(actor, id, { platformId: pick(platformIds), complaint: pick(COMPLAINTS) }, version);
      },
    ],
    [
      'voided',
      4,
      async () => {
        const { id, version } = await casebook.cases.getCase(actor, pick(cases));
        await casebook.cases.voidCase(actor, id, 'opened by mistake', version);
      },
    ],
    [
      'sighted',
      8,
      async () => {
        const seen = { shopId: pick(shopIds), vehicle: { plate: `RW ${below(VEHICLES)}` }, day: opened().slice(0, 10) };
        await casebook.vehicles.recordSighting(actor, seen);
      },
    ],
    [
      'merged',
      2,
      async () => {
        const [kept, merged] = [await vehicleOf(pick(cases)), await vehicleOf(pick(cases))];
        if (kept === null || merged === null) return;
        const { id } = await casebook.merges.mergeVehicles(actor, kept, { mergedId: merged, reason: 'one car' });
        merges.push({ vehicleId: kept, id });
      },
    ],
    [
      'unmerged',
      1.5,
      async () => {
        if (merges.length === 0) return;
        const [{ vehicleId, id }] = merges.splice(below(merges.length), 1) as [(typeof merges)[number]];
        await casebook.merges.undoMerge(actor, vehicleId, id);
      },
    ],
    [
      'forgotten',
      1,
      async () => {
        const caseId = pick(cases);
        const vehicleId = await vehicleOf(caseId);
        if (vehicleId === null) return;
        await casebook.leaving.deleteVehicle(actor, vehicleId);
        if (random.uniform() < 0.4) return;
        await casebook.cases.openCase(actor, order(references.get(caseId)!));
        counted('forgotten, then about another car');
      },
    ],
    ['folded', 1, async () => casebook.boards.foldBoards(orgId)],
  ];
  const total = work.reduce((sum, [, weight]) => sum + weight, 0);
  for (let i = 0; i < operations; i++) {
    const at = random.uniform() * total;
    const [name, , carryOut] = work.find((_, k) => at < work.slice(0, k + 1).reduce((sum, [, weight]) => sum + weight, 0))!;
    if (cases.length === 0 && name !== 'opened' && name !== 'sighted') continue;
    // A fold of a region takes longer than all the rest: a few are enough.
    if (name === 'folded' && random.uniform() > 0.15) continue;
    try {
      await carryOut();
      counted(name);
    } catch (error) {
      if (!(error instanceof DomainError)) throw error;
      counted(`${name}, refused`);
    }
  }
}

const stored = (table: string, columns: string, where = 'true') =>
  casebook.context.inTenant(orgId, async (tx) => {
    const { rows } = await tx.query({
      name: `test.${table}.${where}`,
      text: `select ${columns} from ${table} where org_id = $1 and ${where} order by ${columns}`,
      values: [orgId],
    });
    return rows;
  });
const EPISODE = `repair_id, case_id, vehicle_id, platform_id, shop_id, fault, action, intent, started_on, end_kind, ended_on, end_case_id, end_shop_id, distance_km,
  linked_by, home_shop_id, rules`;
const PACK = 'platform_id, fault, intent, episodes, digest, columns, distances';
const LINE = `clock, platform_id, fault, intent, episodes, linked, returns, shops, recent, own, effective_n, effective_events, probability, low, high, borrowed, shown_from`;

describe('what is derived', () => {
  it('follows an order that turns out to be about a car of another platform, whichever of the two was known first', async () => {
    const actor = administrator(orgId);
    const order = (car: number, revision: number) => ({
      shopId: shopIds[0]!,
      vehicle: { plate: `OTHER ${car}`, platformId: platformIds[car]! },
      complaint: 'cools-poorly' as const,
      openedAt: '2026-03-02T09:00:00Z',
      source: { system: 'moved', reference: '1', revision },
    });
    const { case: opened } = await casebook.cases.openCase(actor, order(0, 1));
    const nothing = { parts: [], recoveredG: null, chargedG: null, labourHours: null, cost: null, note: null };
    const done = { fault: 'undercharge', action: 'top-up', intent: 'temporary', day: '2026-03-02' } as const;
    await casebook.repairs.recordRepair(actor, opened.id, { ...done, ...nothing });
    await casebook.boards.foldBoards(orgId);
    for (const [revision, car] of [
      [2, 1],
      [3, 0],
    ] as const) {
      await casebook.cases.openCase(actor, order(car, revision));
      await casebook.boards.foldBoards(orgId);
      expect(await stored('board_line', 'clock, platform_id, episodes')).toEqual(
        ['calendar-days', 'degree-days', 'distance'].map((clock) => ({ clock, platform_id: platformIds[car], episodes: 1 })),
      );
      expect(await casebook.boards.differingLines(orgId)).toBe(0);
    }
  });

  it('equals a rebuild after random work of eight writers at once, without a deadlock', async () => {
    const done = new Map<string, number>();
    await Promise.all(Array.from({ length: WRITERS }, (_, i) => writer(i, OPERATIONS / WRITERS, done)));
    tell('random work', Object.fromEntries(done));
    const missing = WORK_KINDS.filter((kind) => !done.has(kind));
    expect(missing).toEqual([]);
    await casebook.boards.foldBoards(orgId);
    const task = await casebook.tasks.startTask(orgId, 'derived.check', 0);
    const found = await casebook.rebuilds.rebuild(orgId, task, { check: true });
    expect(found).toMatchObject({ missing: 0, different: 0, gone: 0, boardLines: 0, packs: 0, repairs: [] });
    expect(found.vehicles).toBeGreaterThan(VEHICLES / 3);

    // Once more from nothing: episodes that can be derived are taken away, the boards as well.
    const episodes = await stored('episode', EPISODE);
    const lines = await stored('board_line', LINE);
    const packs = await stored('episode_pack', PACK);
    expect(episodes.length).toBeGreaterThan(OPERATIONS / 20);
    expect(lines.length).toBeGreaterThan(10);
    await casebook.context.inTenant(orgId, async (tx) => {
      await tx.query({ name: 'test.forget', text: 'delete from episode where org_id = $1 and vehicle_id is not null', values: [orgId] });
      await tx.query({ name: 'test.forget-boards', text: 'delete from board_roll where org_id = $1', values: [orgId] });
      await tx.query({ name: 'test.forget-packs', text: 'delete from episode_pack where org_id = $1', values: [orgId] });
    });
    const again = await casebook.tasks.startTask(orgId, 'derived.rebuild', 0);
    const rebuilt = await casebook.rebuilds.rebuild(orgId, again, { check: false });
    expect(rebuilt).toMatchObject({
      different: 0,
      gone: 0,
      missing: episodes.length - (await stored('episode', 'id', 'vehicle_id is null')).length,
    });
    expect(await stored('episode', EPISODE)).toEqual(episodes);
    expect(await stored('board_line', LINE)).toEqual(lines);
    expect(await stored('episode_pack', PACK)).toEqual(packs);
  });

  it('is found out where it is not what the cases give', async () => {
    await casebook.context.inTenant(orgId, async (tx) => {
      await tx.query({
        name: 'test.falsify',
        text: `update episode set end_kind = 'left' where org_id = $1 and id = (select id from episode where org_id = $1 and vehicle_id is not null limit 1)`,
        values: [orgId],
      });
      await tx.query({
        name: 'test.falsify-board',
        text: `update board_line set low = low / 2 where org_id = $1 and (clock, platform_id, fault, intent) =
                 (select clock, platform_id, fault, intent from board_line where org_id = $1 limit 1)`,
        values: [orgId],
      });
    });
    const falsifiedPack = async (tx: Tx) =>
      tx.query({
        name: 'test.falsify-pack',
        text: `update episode_pack set columns = set_byte(columns, length(columns) - 1, 99) where org_id = $1 and (platform_id, fault, intent) =
                 (select platform_id, fault, intent from episode_pack where org_id = $1 limit 1)`,
        values: [orgId],
      });
    await casebook.context.inTenant(orgId, falsifiedPack);
    const check = async () => casebook.rebuilds.rebuild(orgId, await casebook.tasks.startTask(orgId, 'derived.check', 0), { check: true });
    expect(await check()).toMatchObject({ different: 1, missing: 0, gone: 0, repairs: [expect.any(String)] });
    expect((await check()).boardLines).toBeGreaterThan(0);
    expect((await check()).packs).toBeGreaterThan(0);
    await casebook.rebuilds.rebuild(orgId, await casebook.tasks.startTask(orgId, 'derived.rebuild', 0), { check: false });
    expect(await check()).toMatchObject({ different: 0, missing: 0, gone: 0, boardLines: 0, packs: 0 });
  });
});
