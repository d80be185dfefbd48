import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it, jest } from '@jest/globals';
import { hasCases, warmCases, warmEndedRepairs } from '#libs/casebook/history/history.queries.js';
import { KnownSignatures } from '#libs/casebook/history/known-signatures.js';
import { signatureCode } from '#libs/casebook/history/signature-code.js';
import { type Casebook, openCasebook } from '#libs/casebook/index.js';
import type { Tx } from '#libs/database/index.js';
import { DEMO_SHOPS } from '#libs/demo/index.js';
import { signatureDimensions, signatureVersion } from '#libs/engine/index.js';
import { type TestDatabase, testDatabase } from '../support/database.js';
import { administrator } from '../support/region.js';

// Signatures in memory are those in the database, whichever process wrote them and whenever its transaction began.
const KIND = { version: signatureVersion, layout: 'valve-receiver' };
const CASES = 33;

jest.setTimeout(300_000);
let database: TestDatabase;
let casebook: Casebook;
let orgId: string;
let caseIds: string[];
let statements: string[] = [];

beforeAll(async () => {
  database = await testDatabase({ onStatement: ({ name }) => statements.push(name) });
  casebook = openCasebook(database.pool, Buffer.alloc(32, 7));
  ({ orgId } = await casebook.access.foundOrganisation({ name: 'Kept in mind', slug: randomUUID(), demo: false }));
  const actor = administrator(orgId);
  const shop = await casebook.shops.addShop(actor, DEMO_SHOPS[0]!);
  caseIds = [];
  for (let i = 0; i < CASES; i++) {
    const { case: opened } = await casebook.cases.openCase(actor, {
      shopId: shop.id,
      vehicle: {},
      complaint: 'leak',
      openedAt: '2026-03-02T09:00:00Z',
    });
    caseIds.push(opened.id);
  }
});
afterAll(() => database?.close());

const inTenant = <T>(work: (tx: Tx) => Promise<T>) => casebook.context.inTenant(orgId, work);
/** What the case of a number has at first. */
const level = (i: number) => i / 4 - 4;
const signature = (first: number) => signatureDimensions.map((_, d) => (d < 4 ? first + d / 8 : null));

/** As the product stores one; without a code as an older program may have left it. */
async function store(
  tx: Tx,
  caseId: string,
  values: (number | null)[],
  code: Buffer | null = signatureCode(values),
  layout = KIND.layout,
): Promise<void> {
  await tx.query({
    name: 'test.store-signature',
    text: `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values, code)
           values ($1, $2, $3, $4, null, now(), $5, $6)
           on conflict (org_id, case_id) do update set layout = excluded.layout, values = excluded.values, code = excluded.code, written_in = excluded.written_in`,
    values: [orgId, caseId, KIND.version, layout, values, code],
  });
}

const nearest = (known: KnownSignatures, first: number) =>
  inTenant(async (tx) => (await known.of(tx, orgId, KIND)).nearest(signature(first), 2, 1).ids);

describe('signatures that are kept in memory', () => {
  it('are read once, also those without a code or with one of an older program', async () => {
    await inTenant(async (tx) => {
      for (const [i, caseId] of caseIds.slice(0, 30).entries()) {
        await store(tx, caseId, signature(level(i)), i % 3 === 0 ? null : i % 3 === 1 ? Buffer.alloc(11, 1) : undefined);
      }
    });
    const known = new KnownSignatures(1);
    for (const i of [0, 1, 2, 17, 29]) expect(await nearest(known, level(i))).toEqual([caseIds[i]]);
    statements = [];
    expect(await nearest(known, level(4))).toEqual([caseIds[4]]);
    expect(statements).toEqual(['history.changed-signatures']);
    // Few are not worth the room: they are read each time.
    const unkept = new KnownSignatures(31);
    await nearest(unkept, level(4));
    statements = [];
    expect(await nearest(unkept, level(4))).toEqual([caseIds[4]]);
    expect(statements).toContain('history.signature-page');
  });

  it('follow what others write: new ones, others in place of old ones, and what a transaction wrote that began before the last question', async () => {
    const known = new KnownSignatures(1);
    expect(await nearest(known, 5)).toEqual([caseIds[29]]);
    let written = () => {};
    let proceed = () => {};
    const hasWritten = new Promise<void>((resolve) => {
      written = resolve;
    });
    const mayEnd = new Promise<void>((resolve) => {
      proceed = resolve;
    });
    const slow = inTenant(async (tx) => {
      await store(tx, caseIds[30]!, signature(5));
      written();
      await mayEnd;
    });
    await hasWritten;
    await inTenant((tx) => store(tx, caseIds[31]!, signature(6)));
    const before = await nearest(known, 5);
    proceed();
    await slow;
    expect(before).toEqual([caseIds[31]]);
    expect(await nearest(known, 5)).toEqual([caseIds[30]]);
    await inTenant((tx) => store(tx, caseIds[5]!, signature(7.5)));
    expect(await nearest(known, 7.5)).toEqual([caseIds[5]]);
    await inTenant((tx) => store(tx, caseIds[30]!, signature(9)));
    expect(await nearest(known, 9)).toEqual([caseIds[30]]);
  });

  it('belong to their organisation', async () => {
    const known = new KnownSignatures(1);
    await nearest(known, level(4));
    const other = await casebook.access.foundOrganisation({ name: 'Another', slug: randomUUID(), demo: false });
    const shelf = await casebook.context.inTenant(other.orgId, (tx) => known.of(tx, other.orgId, KIND));
    expect(shelf.nearest(signature(1), 2, 5)).toEqual({ count: 0, ids: [] });
  });

  it('are looked up in pages that are read ahead: each case and each repair that ended is passed once', async () => {
    const passed = async (warm: typeof warmCases) => {
      const lasts: string[] = [];
      for (let last: string | null = null; ; lasts.push(last)) {
        last = await inTenant((tx) => warm(tx, orgId, last, 10));
        if (last === null) return lasts;
      }
    };
    const ordered = [...caseIds].sort();
    expect(await passed(warmCases)).toEqual([ordered[9], ordered[19], ordered[29], ordered[32]]);
    expect(await passed(warmEndedRepairs)).toEqual([]);
    expect(await inTenant((tx) => hasCases(tx, orgId, CASES))).toBe(true);
    expect(await inTenant((tx) => hasCases(tx, orgId, CASES + 1))).toBe(false);
  });

  it('are picked from, but what is void by now or of another layout is not shown', async () => {
    const actor = administrator(orgId);
    const similar = async (limit: number) =>
      (await casebook.history.similarToCase(actor, caseIds[10]!, limit)).data.map(({ caseId }) => caseId);
    const before = await similar(3);
    expect(before).toHaveLength(3);
    const [first, second, third] = before as [string, string, string];
    const { version } = await casebook.cases.getCase(actor, first);
    await casebook.cases.voidCase(actor, first, 'opened by mistake', version);
    await inTenant((tx) => store(tx, second, signature(level(10)), undefined, 'orifice-accumulator'));
    const after = await similar(3);
    expect(after).toHaveLength(3);
    expect(after[0]).toBe(third);
    expect(after).not.toContain(second);
    expect(await similar(40)).toHaveLength(29);
  });
});
