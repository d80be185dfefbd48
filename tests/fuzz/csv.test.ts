import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { parse } from 'csv-parse/sync';
import { stringify } from 'csv-stringify/sync';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { ODD_TEXTS } from './odd-values.js';

let api: TestApi;
let org: TestOrganisation;
const send = (method: string, path: string, body?: unknown, headers: Record<string, string> = {}) =>
  request(api, org.keys.administrator, method, path, body, headers);
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  await send('POST', '/v1/shops', newShop('quay'));
}, 300_000);
afterAll(() => api?.close());

/** Text a cell can hold and a row can keep: cells are trimmed, and what cannot be stored is another test's. */
const texts = [...new Set(ODD_TEXTS.map((text) => text.trim()))].filter(
  (text) => text !== '' && text.isWellFormed() && !text.includes('\u0000') && !text.includes('\ufffd'),
);

async function stored(file: string): Promise<{ id: string; opened: number; rejected: number }> {
  const sent = await send('POST', '/v1/imports', file, { 'content-type': 'text/csv' });
  expect(sent.status).toBe(202);
  await importCases(api.casebook, org.orgId, sent.body.id, { isLastTry: true });
  return (await send('GET', `/v1/imports/${sent.body.id}`)).body;
}

it('rows that were refused come back as a file in which nothing is computed, and sent again mended it stores what was meant', async () => {
  const heading = ['shop_code', 'reference', 'opened_at', 'complaint', 'notes'];
  const rows = texts.map((text, n) => ['quay', `T-${n}`, '2026-05-04T09:00:00Z', 'nois', text]);
  const run = await stored(stringify([heading, ...rows]));
  expect(run.rejected).toBe(texts.length);
  const errors = (await send('GET', `/v1/imports/${run.id}/errors?format=csv`)).body as string;
  const [columns, ...sent] = parse(errors, { relax_quotes: false }) as string[][];
  // What a spreadsheet computes begins with one of these (OWASP, CSV injection).
  expect(sent.flat().filter((cell) => /^[=+\-@\t\r]/.test(cell))).toEqual([]);
  const complaint = columns!.indexOf('complaint');
  const kept = columns!.filter((name) => heading.includes(name)).length;
  const mended = sent.map((record) => record.slice(0, kept).map((cell, i) => (i === complaint ? 'noise' : cell)));
  const again = await stored(stringify([columns!.slice(0, kept), ...mended]));
  expect(again).toMatchObject({ opened: texts.length, rejected: 0 });
  const found = await api.casebook.context.inTenant(org.orgId, (tx) =>
    tx.query<{ reference: string; notes: string }>({
      name: 'test.notes',
      text: 'select source_reference as reference, notes from shop_case where org_id = $1',
      values: [org.orgId],
    }),
  );
  const notes = new Map(found.rows.map((row) => [row.reference, row.notes]));
  expect(texts.filter((text, n) => notes.get(`T-${n}`) !== text)).toEqual([]);
}, 600_000);
