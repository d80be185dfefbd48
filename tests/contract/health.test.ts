import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { Readiness } from '#apps/api/http/health.controller.js';
import { request, type TestApi, testApi } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

let api: TestApi;
beforeAll(async () => {
  api = await testApi();
});
afterAll(() => api?.close());

const sql = (text: string, values: readonly string[] = []) =>
  asAdministrator(api.database.superUrl, (client) => client.query(text, [...values]));
const ready = async () => {
  const { status, body, headers } = await request(api, null, 'GET', '/readyz');
  return { status, body, retryAfter: headers.get('retry-after') };
};

it('requests are sent elsewhere while the schema lacks a migration', async () => {
  const name = '20261217090000_key_usage';
  const rename = (from: string, to: string) =>
    sql('update _prisma_migrations set migration_name = $2 where migration_name = $1', [from, to]);
  await rename(name, 'planted');
  expect(await ready()).toEqual({ status: 503, body: { status: 'migrations-pending', pending: [name] }, retryAfter: '10' });
  await rename('planted', name);
  expect(await ready()).toEqual({ status: 200, body: { status: 'ready' }, retryAfter: null });
});

it('and while the disk of the embedded database is full; a disk that is not ours is not looked at', async () => {
  const readiness = api.app.get(Readiness);
  expect(await readiness.freeBytes()).toBeNull();
  expect(await new Readiness('/').freeBytes()).toBeGreaterThan(0);
  readiness.freeBytes = async () => 63 * 1024 ** 2;
  expect(await ready()).toEqual({ status: 503, body: { status: 'disk-full', freeBytes: 63 * 1024 ** 2 }, retryAfter: '30' });
  readiness.freeBytes = async () => 65 * 1024 ** 2;
  expect((await ready()).status).toBe(200);
});

it('the measures tell how long events have waited, of all organisations together', async () => {
  const age = async () => {
    const { body } = await request(api, null, 'GET', '/metrics');
    return Number(/^coolback_queue_oldest_seconds\{job="events.fan-out"\} (\S+)$/m.exec(body as string)![1]);
  };
  expect(await age()).toBe(0);
  // No worker is here: what is due waits.
  await sql("select graphile_worker.add_job('events.fan-out', '{}', run_at := now() - interval '90 seconds')");
  expect(await age()).toBeGreaterThanOrEqual(90);
  await sql("select graphile_worker.add_job('webhooks.deliver', '{}', run_at := now() + interval '1 day')");
  expect((await request(api, null, 'GET', '/metrics')).body).toMatch(/coolback_queue_oldest_seconds\{job="webhooks.deliver"\} 0\n/);
});
