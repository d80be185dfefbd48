import { createHash, randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { type Casebook, openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { type ImportLine, NewCase } from '#libs/contracts/index.js';
import { newPlatform, newShop } from '../support/api.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

/**
 * Rows of one file are stored together. The result must be that of storing them one by one: every row of every table, but for identifiers and keyed
 * hashes, which differ by organisation.
 */
const NOW = new Date('2026-06-01T08:00:00Z');
let database: TestDatabase;
let casebook: Casebook;
beforeAll(async () => {
  database = await testDatabase();
  casebook = openCasebook(database.pool, Buffer.alloc(32, 7), () => NOW);
});
afterAll(() => database?.close());

async function newOrganisation() {
  const { orgId } = await casebook.access.foundOrganisation({ name: 'Region', slug: randomUUID(), demo: false });
  const actor = {
    orgId,
    credentialId: orgId,
    role: 'integrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'test',
  } as const;
  await casebook.shops.addShop(actor, newShop('quay'));
  await casebook.shops.addShop(actor, { ...newShop('hill', 900), timeZone: 'Pacific/Kiritimati' });
  await casebook.platforms.addPlatform(actor, newPlatform('knot-r', { vinPatterns: ['1M8GDM9A'] }));
  await casebook.platforms.addPlatform(actor, newPlatform('heron-c'));
  return actor;
}
type Owner = Awaited<ReturnType<typeof newOrganisation>>;

async function importFile(actor: Owner, lines: readonly ImportLine[], backfill = false) {
  const bytes = Buffer.from(lines.map((line) => JSON.stringify(line)).join('\n'));
  const { run } = await casebook.imports.receive(actor, {
    requestKey: randomUUID(),
    format: 'ndjson',
    gzip: false,
    bytes: (async function* () {
      yield bytes;
    })(),
    statedDigest: null,
    query: { backfill: backfill ? 'true' : 'false' },
  });
  await casebook.imports.carryOut(actor.orgId, run.id);
  const { data } = await casebook.imports.listRows(actor, run.id, {}, { first: 100 });
  return data.map(({ outcome, reference, problems }) => ({ outcome, reference, problems }));
}

/** The calls an integrator without files would make. Lines whose order is there already are not sent. */
async function callOneByOne(actor: Owner, lines: readonly ImportLine[]) {
  for (const { repairs = [], proofs = [], closure, voided, ...written } of lines) {
    // As the contract hands it on: an instant in its one spelling, which the order's hash is made of.
    const { case: opened } = await casebook.cases.openCase(actor, NewCase.parse(written)).catch(() => ({ case: null }));
    if (!opened) continue;
    const day = new Intl.DateTimeFormat('en-CA', { timeZone: written.shopCode === 'hill' ? 'Pacific/Kiritimati' : 'Europe/Madrid' }).format(
      new Date(opened.openedAt),
    );
    for (const proof of proofs) await casebook.repairs.recordProof(actor, opened.id, { ...proof, note: proof.note ?? null });
    for (const repair of repairs) {
      await casebook.repairs.recordRepair(actor, opened.id, {
        ...{ intent: 'unknown' as const, day, parts: [], recoveredG: null, chargedG: null, labourHours: null, cost: null, note: null },
        ...repair,
      });
    }
    const { version } = await casebook.cases.getCase(actor, opened.id);
    if (voided !== undefined) await casebook.cases.voidCase(actor, opened.id, voided, version);
    else if (closure) await casebook.cases.closeCase(actor, opened.id, closure, version);
  }
}

const TABLES: Readonly<Record<string, string>> = {
  vehicle: 'id',
  shop_case: 'id',
  case_evidence: 'case_id, revision',
  sighting: 'vehicle_id, day, shop_id',
  proof: 'id',
  repair: 'id',
  episode: 'repair_id',
  audit_event: 'id',
  outbox_event: 'id',
};

/**
 * Everything stored but `record`, which the database makes of other columns, with names in the place of identifiers: a case is called by its order, a
 * vehicle by its first case, and so on.
 */
async function stored({ orgId }: Owner) {
  const read = (table: string, order: string) =>
    casebook.context.inTenant(orgId, async (tx) => {
      const text = `select to_jsonb(t) - 'record' as row from ${table} t where org_id = $1 order by ${order}`;
      const { rows } = await tx.query<{ row: Record<string, unknown> }>({
        name: createHash('md5').update(text).digest('hex'),
        text,
        values: [orgId],
      });
      return rows.map(({ row }) => row);
    });
  const names = new Map<unknown, string>([[orgId, 'organisation']]);
  const called = (id: unknown, name: string) => names.set(id, names.get(id) ?? name);
  for (const table of ['shop', 'platform']) for (const row of await read(table, 'code')) called(row['id'], `${table} ${row['code']}`);
  const tables: Record<string, Record<string, unknown>[]> = {};
  for (const [table, order] of Object.entries(TABLES)) tables[table] = await read(table, order);
  for (const row of tables['shop_case']!) {
    called(row['id'], `case ${row['source_reference']}`);
    called(row['vehicle_id'], `vehicle of ${row['source_reference']}`);
  }
  for (const table of ['proof', 'repair'])
    for (const row of tables[table]!) called(row['id'], `${table} of ${names.get(row['case_id'])} ${row['note']}`);
  const renamed = (value: unknown): unknown => {
    if (typeof value === 'string') return names.get(value) ?? value;
    if (Array.isArray(value)) return value.map(renamed);
    if (typeof value !== 'object' || value === null) return value;
    return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, renamed(inner)]));
  };
  const bare = (table: string, row: Record<string, unknown>) => {
    const { vin_hash: vin, plate_hash: plate, request_id: _request, ...rest } = row;
    // Only what the other rows are called by keeps its identifier.
    if (['sighting', 'episode', 'audit_event', 'outbox_event'].includes(table)) delete rest['id'];
    return renamed({ ...rest, ...(table === 'vehicle' ? { hasVin: vin !== null, hasPlate: plate !== null } : {}) });
  };
  return Object.fromEntries(
    Object.entries(tables).map(([table, rows]) => {
      const plain = rows.map((row) => JSON.stringify(bare(table, row)));
      // In the order they happened where that means something: for each case.
      const order = (row: string) => (JSON.parse(row) as Record<string, string>)['subject_id'] ?? row;
      return [
        table,
        plain
          .map((row, i) => ({ row, i }))
          .sort((a, b) => (order(a.row) < order(b.row) ? -1 : order(a.row) > order(b.row) ? 1 : a.i - b.i))
          .map(({ row }) => row),
      ];
    }),
  );
}

/** What an import and the founding of an organisation tell of themselves is not what a file stores. */
const withoutImports = (tables: Record<string, string[]>) => ({
  ...tables,
  audit_event: tables['audit_event']!.filter((row) => row.includes('"subject_type":"case"')),
  outbox_event: tables['outbox_event']!.filter((row) => !row.includes('import.')),
});

const FAULTS = ['condenser-dirt', 'compressor-wear', 'undercharge', 'air-in-system'] as const;
const optional = <T>(arbitrary: fc.Arbitrary<T>) => fc.option(arbitrary, { nil: undefined, freq: 2 });
const note = fc.integer({ min: 0, max: 1e9 }).map(String);
const anyLine = fc
  .record({
    shopCode: fc.constantFrom('quay', 'quay', 'hill', 'nowhere'),
    vehicle: fc.record({
      vin: optional(fc.constantFrom('1M8GDM9AXKP042788', '1M8GDM9A1KP042789', '1HXXX', '1hxxx')),
      plate: optional(fc.constantFrom('A 1', 'A-1', 'B 2')),
      platformCode: optional(fc.constantFrom('knot-r', 'heron-c', 'none-such')),
      modelYear: optional(fc.constantFrom(2015, 2019)),
      vinChecked: optional(fc.boolean()),
    }),
    odometer: optional(fc.record({ value: fc.constantFrom(1000, 52_000, 90_000, 4e6), unit: fc.constantFrom('km', '[mi_i]', 'bar') })),
    openedAt: fc.constantFrom(
      '2025-05-04T23:30:00Z',
      '2025-05-04T12:00:00.1234567+02:00',
      '2025-07-01T09:00:00Z',
      '2025-09-01T09:00:00Z',
      '2026-02-01T09:00:00Z',
    ),
    complaint: fc.constantFrom('cools-poorly', 'noise', 'service'),
    complaintText: optional(fc.constantFrom('Warm in traffic', 'warm, WARM again', 'ab')),
    notes: optional(fc.constantFrom('seen twice', 'Öl am Schlauch')),
    backfill: optional(fc.boolean()),
    evidence: optional(
      fc.record({
        conditions: fc.constantFrom({}, { outsideAir: { value: 31, unit: 'Cel' } }),
        readings: fc.array(
          fc.record({
            quantity: fc.constant('pressure' as const),
            place: optional(fc.constantFrom('low-side-port' as const, 'high-side-port' as const)),
            phase: fc.constant('running' as const),
            reference: fc.constant('vented-gauge' as const),
            value: fc.constantFrom(2.6, 19.5, 900),
            unit: fc.constantFrom('bar', 'bar', '[psi]', 'barr'),
          }),
          { maxLength: 3 },
        ),
      }),
    ),
    proofs: optional(
      fc.array(
        fc.record({
          faults: fc.array(fc.constantFrom(...FAULTS), { minLength: 1, maxLength: 2 }),
          method: fc.constantFrom('opened-part' as const, 'judgement' as const),
          note,
        }),
        { maxLength: 2 },
      ),
    ),
    repairs: optional(
      fc.array(
        fc.record(
          {
            fault: fc.constantFrom(...FAULTS),
            action: fc.constantFrom('clean-condenser' as const, 'replace-compressor' as const, 'top-up' as const, 'no-repair' as const),
            intent: fc.constantFrom('temporary' as const, 'permanent' as const),
            day: fc.constantFrom('2025-07-01', '2025-09-02'),
            cost: fc.constantFrom(12, 99.5),
            note,
          },
          { requiredKeys: ['fault', 'action', 'note'] },
        ),
        { maxLength: 2 },
      ),
    ),
    closure: optional(fc.record({ outcome: fc.constant('repaired' as const), note: fc.constant('done') })),
    voided: fc.option(fc.constant('twice'), { nil: undefined, freq: 8 }),
  })
  .map((line) => JSON.parse(JSON.stringify(line)) as ImportLine);

const withOrder = (lines: readonly ImportLine[], orders: readonly [reference: number, revision: number][]) =>
  lines.map((line, i): ImportLine => {
    const [reference, revision] = orders[i]!;
    return { ...line, source: { system: 'orders', reference: `R${reference}`, revision } };
  });

it('a file is stored as its rows would be by single calls', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(anyLine, { minLength: 1, maxLength: 14 }), async (lines) => {
      const orders = withOrder(
        lines,
        lines.map((_, i) => [i, 1]),
      );
      const [together, single] = [await newOrganisation(), await newOrganisation()];
      await importFile(together, orders);
      await callOneByOne(single, orders);
      expect(withoutImports(await stored(together))).toEqual(withoutImports(await stored(single)));
    }),
    { numRuns: Number(process.env['COOLBACK_RUNS'] ?? 12) },
  );
}, 240_000);

it('a file with orders that come again, changed or not, is stored as files of one row each would be', async () => {
  const cases = fc.array(fc.tuple(anyLine, fc.tuple(fc.integer({ min: 0, max: 5 }), fc.integer({ min: 1, max: 3 }))), {
    minLength: 2,
    maxLength: 14,
  });
  await fc.assert(
    fc.asyncProperty(cases, fc.boolean(), async (given, backfill) => {
      const orders = withOrder(
        given.map(([line]) => line),
        given.map(([, order]) => order),
      );
      const [together, single] = [await newOrganisation(), await newOrganisation()];
      const outcomes = await importFile(together, orders, backfill);
      const byRow = [];
      for (const order of orders) byRow.push(...(await importFile(single, [order], backfill)));
      expect(outcomes).toEqual(byRow);
      expect(withoutImports(await stored(together))).toEqual(withoutImports(await stored(single)));
      // The same file once more changes nothing.
      const before = withoutImports(await stored(together));
      await importFile(together, orders, backfill);
      const { audit_event: _audit, ...after } = withoutImports(await stored(together));
      const { audit_event: _before, ...unchanged } = before;
      expect(after).toEqual(unchanged);
    }),
    { numRuns: Number(process.env['COOLBACK_RUNS'] ?? 12) },
  );
}, 240_000);

it('a new order that asks for a diagnosis gets one, and is refused whole where its system is not known', async () => {
  const owner = await newOrganisation();
  const line = (vehicle: ImportLine['vehicle'], diagnose: boolean): ImportLine => ({
    shopCode: 'quay',
    vehicle,
    openedAt: '2025-07-01T09:00:00Z',
    complaint: 'cools-poorly',
    ...(diagnose ? { diagnose } : {}),
  });
  const outcomes = await importFile(
    owner,
    withOrder(
      [line({ platformCode: 'heron-c' }, true), line({ platformCode: 'heron-c' }, false), line({}, true), line({}, false)],
      [1, 2, 3, 4].map((reference) => [reference, 1]),
    ),
  );
  expect(outcomes.map(({ outcome }) => outcome)).toEqual(['opened', 'opened', 'rejected', 'opened']);
  expect(outcomes[2]!.problems[0]).toMatchObject({ pointer: '/vehicle/platformId' });
  const { data } = await casebook.cases.listCases(owner, {}, { first: 10 });
  const answered = await Promise.all(data.map(async ({ id }) => (await casebook.diagnosis.listDiagnoses(owner, id)).length));
  expect([...answered].sort()).toEqual([0, 0, 1]);
});
