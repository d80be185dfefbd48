import { Readable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { NEW_PHOTOGRAPH_EXAMPLE } from '#apps/api/photographs/photographs.examples.js';
import { NEW_WEATHER_EXAMPLE } from '#apps/api/shops/shops.examples.js';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { openCasebook } from '#libs/casebook/index.js';
import { createPool } from '#libs/database/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

const VIN = '1M8GDM9AXKP042788';
const PASSPHRASE = 'a long way from home';
let api: TestApi;
let org: TestOrganisation;
const admin = (method: string, path: string, body?: unknown, headers: Record<string, string> = {}) =>
  request(api, org.keys.administrator, method, path, body, headers);

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  const { body: shop } = await admin('POST', '/v1/shops', { ...newShop('quay'), name: '=HYPERLINK("x")' });
  expect((await admin('PUT', `/v1/shops/${shop.id}/weather`, NEW_WEATHER_EXAMPLE)).status).toBe(200);
  await admin('POST', '/v1/platforms', newPlatform('knot-r'));
  const lines = Array.from({ length: 230 }, (_, i) =>
    JSON.stringify({
      shopCode: 'quay',
      vehicle: i % 50 === 0 ? { vin: VIN, platformCode: 'knot-r' } : { plate: `E ${i % 40}`, platformCode: 'knot-r' },
      openedAt: new Date(Date.UTC(2025, 0, 1) + i * 86_400_000).toISOString(),
      complaint: 'cools-poorly',
      notes: `order ${i} “ünïcödé”`,
      source: { system: 'orders', reference: `E-${i}`, revision: 1 },
      evidence: {
        readings: [
          { quantity: 'pressure', place: 'low-side-port', phase: 'running', reference: 'vented-gauge', value: 30.1, unit: '[psi]' },
          { quantity: 'temperature', place: 'vent', phase: 'running', value: 12.3, unit: 'Cel' },
        ],
      },
      ...(i % 20 === 0 ? { diagnose: true } : {}),
      ...(i % 3 === 0 ? { repairs: [{ fault: 'undercharge', action: 'top-up', intent: 'temporary', cost: 60.1 }] } : {}),
    }),
  );
  const sent = await admin('POST', '/v1/imports', lines.join('\n'), { 'content-type': 'application/x-ndjson' });
  await importCases(api.casebook, org.orgId, sent.body.id, { isLastTry: true });
  // More than are read at once.
  const { body: cases } = await admin('GET', '/v1/cases?first=1');
  for (let i = 0; i < 9; i++) {
    const photograph = { ...NEW_PHOTOGRAPH_EXAMPLE, caption: `number ${i}` };
    expect((await admin('POST', `/v1/cases/${cases.data[0].id}/photographs`, photograph)).status).toBe(201);
  }
});
afterAll(() => api?.close());

const exported = async (key: string, passphrase?: string): Promise<string> => {
  const response = await fetch(`${api.url}/v1/export`, {
    headers: { authorization: `Bearer ${key}`, ...(passphrase ? { 'export-passphrase': passphrase } : {}) },
  });
  expect(response.status).toBe(200);
  return response.text();
};
const rowsIn = async (orgId: string): Promise<Record<string, number>> =>
  asAdministrator(api.database.superUrl, async (client) => {
    const { rows } = await client.query<{ name: string }>(
      `select table_name as name from information_schema.columns where table_schema = 'public' and column_name = 'org_id'`,
    );
    const counts: Record<string, number> = {};
    for (const { name } of rows) {
      const { rows: found } = await client.query<{ n: number }>(`select count(*)::int as n from "${name}" where org_id = $1`, [orgId]);
      counts[name] = found[0]!.n;
    }
    return counts;
  });

describe('an export', () => {
  it('founds the same organisation again: every row, and cars that are known by their number', async () => {
    const text = await exported(org.keys.administrator, PASSPHRASE);
    expect(text).not.toContain(VIN);
    const restored = await api.casebook.leaving.restoreOrganisation(Readable.from(text.split('\n')), PASSPHRASE);
    const again = await exported(restored.secret);
    const rowsOf = (whole: string) =>
      whole
        .split('\n')
        .slice(1, -2)
        .filter((line) => !line.startsWith('{"table":"audit_event"'));
    expect(rowsOf(again)).toEqual(rowsOf(text));
    expect(restored.rows).toBeGreaterThan(1_200);
    const { data: cases } = (await request(api, restored.secret, 'GET', '/v1/cases?first=1')).body;
    const photographs = await request(api, restored.secret, 'GET', `/v1/cases/${cases[0].id}/photographs`);
    expect(photographs.body.data).toHaveLength(9);
    const file = await request(api, restored.secret, 'GET', `/v1/cases/${cases[0].id}/photographs/${photographs.body.data[0].id}`);
    expect([file.status, file.headers.get('etag')]).toEqual([200, `"${photographs.body.data[0].sha256}"`]);
    const car = await request(api, restored.secret, 'POST', '/v1/vehicles/lookup', { vin: VIN });
    const here = await admin('POST', '/v1/vehicles/lookup', { vin: VIN });
    expect(car.body).toEqual(here.body);
    const list = (key: string) => request(api, key, 'GET', '/v1/cases?first=100');
    expect((await list(restored.secret)).body).toEqual((await list(org.keys.administrator)).body);
    const recurrences = (key: string) => request(api, key, 'GET', '/v1/outcomes/episodes?first=100');
    expect((await recurrences(restored.secret)).body.data).toEqual((await recurrences(org.keys.administrator)).body.data);
  });

  it('that was cut, altered, or opened with another passphrase founds nothing', async () => {
    const text = await exported(org.keys.administrator, PASSPHRASE);
    const lines = text.split('\n');
    const before = await asAdministrator(api.database.superUrl, (client) => client.query('select count(*) as n from organisation'));
    const restore = (part: string[], passphrase: string | null = PASSPHRASE) =>
      api.casebook.leaving.restoreOrganisation(Readable.from(part), passphrase);
    await expect(restore(lines.slice(0, 50))).rejects.toThrow(/cut/);
    await expect(restore([...lines.slice(0, 5), ...lines.slice(6)])).rejects.toThrow(/hold/);
    await expect(restore(lines, 'another passphrase')).rejects.toThrow(/passphrase/);
    await expect(restore(['{}'])).rejects.toThrow(/first line/);
    await expect(restore([lines[0]!, '{"table":"organisation","row":{}}'])).rejects.toThrow(/known table/);
    const after = await asAdministrator(api.database.superUrl, (client) => client.query('select count(*) as n from organisation'));
    expect(after.rows).toEqual(before.rows);
  });

  it('made before a table had all its columns founds it with what the table gives them; one of a newer version is refused', async () => {
    const lines = (await exported(org.keys.administrator, PASSPHRASE)).split('\n');
    const changed = (change: (row: Record<string, unknown>) => void) =>
      lines.map((line) => {
        if (!line.startsWith('{"table":"diagnosis"')) return line;
        const value = JSON.parse(line) as { row: Record<string, unknown> };
        change(value.row);
        return JSON.stringify(value);
      });
    const older = changed((row) => {
      for (const young of ['shown', 'blind', 'expectation_version']) delete row[young];
    });
    // A table that is none any more, with what the last line counted of it.
    const last = older.findLastIndex((line) => line.startsWith('{"end"'));
    const tail = JSON.parse(older[last]!) as { rows: Record<string, number> };
    older.splice(
      last,
      1,
      '{"table":"case_word","row":{"word":"warm","case_id":"x"}}',
      JSON.stringify({ ...tail, rows: { ...tail.rows, case_word: 1 } }),
    );
    const restored = await api.casebook.leaving.restoreOrganisation(Readable.from(older), PASSPHRASE);
    const diagnoses = (await exported(restored.secret)).split('\n').filter((line) => line.startsWith('{"table":"diagnosis"'));
    expect(diagnoses.length).toBeGreaterThan(5);
    for (const line of diagnoses)
      expect((JSON.parse(line) as { row: unknown }).row).toMatchObject({ shown: true, blind: false, expectation_version: null });
    const restore = (part: string[]) => api.casebook.leaving.restoreOrganisation(Readable.from(part), PASSPHRASE);
    await expect(restore(changed((row) => Object.assign(row, { colour: 'red' })))).rejects.toThrow(/colour.*newer/);
    await expect(restore(changed((row) => Object.assign(row, { '"; drop table shop_case; --': 1 })))).rejects.toThrow(/newer/);
    await expect(restore(changed((row) => delete row['engine_version']))).rejects.toThrow(/engine_version/);
  });

  it('is for administrators of all shops, is audited, and wants a passphrase that is one', async () => {
    for (const role of ['integrator', 'director', 'technician'] as const)
      expect((await request(api, org.keys[role], 'GET', '/v1/export')).status).toBe(403);
    expect((await admin('GET', '/v1/export', undefined, { 'export-passphrase': 'short' })).status).toBe(422);
    const { body } = await admin('GET', '/v1/audit?first=100');
    expect(body.data.map(({ action }: { action: string }) => action)).toContain('organisation.exported');
  });

  it('names every table of an organisation, or leaves it behind on purpose', async () => {
    const { EXPORTED, ERASED } = await import('#libs/casebook/leaving/tables.js');
    const known = Object.keys(await rowsIn(org.orgId)).sort();
    expect([...ERASED].sort()).toEqual(known);
    expect(Object.keys(EXPORTED).every((table) => known.includes(table))).toBe(true);
  });

  it('of cases as CSV keeps formulas from being computed', async () => {
    const { body } = await request(api, org.keys.director, 'GET', '/v1/export/cases.csv?status=open');
    const lines = (body as string).split('\r\n');
    expect(lines[0]).toMatch(/^id,shopId,vehicleId/);
    expect(lines).toHaveLength(232);
    const { csvLine } = await import('#apps/api/leaving/csv-lines.js');
    for (const cell of ['=1+1', '+1', '-1', '@x', '\tx', '\rx']) expect(csvLine([cell])).toMatch(/^"?'/);
    expect(csvLine(['a,b', 'c"d', 'plain'])).toBe('"a,b","c""d",plain\r\n');
  });

  it('of episodes and of the audit trail as CSV is the whole list, for those who may see it', async () => {
    const lines = async (key: string, path: string) => ((await request(api, key, 'GET', path)).body as string).trimEnd().split('\r\n');
    const everything = async (path: string) => {
      const ids: string[] = [];
      for (let after = ''; ; ) {
        const { body } = await request(api, org.keys.administrator, 'GET', `${path}?first=100${after}`);
        ids.push(...body.data.map(({ id }: { id: string }) => id));
        if (body.next === null) return ids;
        after = `&after=${body.next}`;
      }
    };
    for (const [file, list] of [
      ['episodes', '/v1/outcomes/episodes'],
      ['audit', '/v1/audit'],
    ] as const) {
      const [head, ...rows] = await lines(org.keys.administrator, `/v1/export/${file}.csv`);
      expect(head).toMatch(/^id,/);
      expect(rows.map((row) => row.slice(0, 36))).toEqual(await everything(list));
      expect(rows.length).toBeGreaterThan(2);
    }
    expect((await request(api, org.keys.technician, 'GET', '/v1/export/audit.csv')).status).toBe(403);
  });
});

describe('forgetting', () => {
  it('a vehicle leaves its cases without a name, and the number finds nothing any more', async () => {
    const { body: car } = await admin('POST', '/v1/vehicles/lookup', { vin: VIN });
    const before = (await admin('GET', `/v1/cases?first=100&vehicleId=${car.id}`)).body.data as { id: string }[];
    expect(before.length).toBe(5);
    const episodes = (await admin('GET', '/v1/outcomes/episodes?first=100')).body.data.length;
    expect((await request(api, org.keys.integrator, 'DELETE', `/v1/vehicles/${car.id}`)).status).toBe(403);
    expect(await admin('DELETE', `/v1/vehicles/${car.id}`)).toMatchObject({ status: 200, body: { id: car.id } });
    expect((await admin('GET', `/v1/vehicles/${car.id}`)).status).toBe(404);
    expect((await admin('POST', '/v1/vehicles/lookup', { vin: VIN })).status).toBe(404);
    for (const { id } of before) expect((await admin('GET', `/v1/cases/${id}`)).body).toMatchObject({ id, vehicleId: null });
    expect((await admin('GET', '/v1/outcomes/episodes?first=100')).body.data.length).toBe(episodes);
    const left = await asAdministrator(api.database.superUrl, async (client) => {
      const { rows: tables } = await client.query<{ name: string }>(
        `select table_name as name from information_schema.columns where table_schema = 'public' and column_name = 'org_id' and table_name not in ('audit_event', 'outbox_event', 'idempotency_key')`,
      );
      const found: string[] = [];
      for (const { name } of tables) {
        const { rowCount } = await client.query(`select from "${name}" t where org_id = $1 and position($2 in t::text) > 0`, [
          org.orgId,
          car.id,
        ]);
        if (rowCount) found.push(name);
      }
      return found;
    });
    expect(left).toEqual([]);
    expect((await admin('DELETE', `/v1/vehicles/${car.id}`)).status).toBe(404);
    const again = await graphql(api, org.keys.administrator, `mutation { deleteVehicle(id: "${car.id}") { id } }`);
    expect(again.body.errors[0].extensions.code).toBe('vehicles/not_found');
  });

  it('an organisation leaves no row in any table, and no other loses one', async () => {
    const other = await testOrganisation(api, 'Another region');
    const kept = await rowsIn(other.orgId);
    const pool = createPool(api.database.ownerUrl, { max: 1 });
    try {
      const erased = await openCasebook(pool, Buffer.alloc(32, 7)).leaving.eraseOrganisation(org.orgId);
      expect(erased['shop_case']).toBe(230);
    } finally {
      await pool.end();
    }
    expect(Object.entries(await rowsIn(org.orgId)).filter(([, n]) => n > 0)).toEqual([]);
    expect(await rowsIn(other.orgId)).toEqual(kept);
    // A server that had seen the key lately may know it for a moment longer, and finds nothing with it.
    const asked = await admin('GET', '/v1/cases');
    expect([401, 200]).toContain(asked.status);
    expect(asked.body.data ?? []).toEqual([]);
  });
});
