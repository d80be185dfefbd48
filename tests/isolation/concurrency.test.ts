import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { graphql, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

/**
 * Many clients of many organisations over a pool of five connections, some of them hanging up in the middle and some backends killed under
 * them: every answer holds the asker's own rows and nothing else.
 */
const ORGANISATIONS = 8;
const CLIENTS = 40;
const REQUESTS = 25;

interface Tenant {
  readonly org: TestOrganisation;
  readonly canary: string;
  readonly shopId: string;
}
let api: TestApi;
const tenants: Tenant[] = [];

beforeAll(async () => {
  api = await testApi();
  for (let i = 0; i < ORGANISATIONS; i++) {
    const canary = `tenant-${String.fromCharCode(97 + i).repeat(6)}`;
    const org = await testOrganisation(api, canary);
    const shop = await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop(canary));
    tenants.push({ org, canary, shopId: shop.body.id });
    await open(tenants[i]!, 0);
  }
});
afterAll(() => api?.close());

const open = ({ org, canary }: Tenant, i: number) =>
  request(api, org.keys.integrator, 'POST', '/v1/cases', {
    shopCode: canary,
    vehicle: { plate: `P ${i}` },
    complaint: 'noise',
    notes: `${canary} ${i}`,
  });

const canaryOf = (text: string) => [...new Set(text.match(/tenant-([a-h])\1{5}/g) ?? [])];

/** One request of one client; what it heard that is not its own. */
async function step(tenant: Tenant, i: number, heard: { status: Record<number, number>; foreign: string[] }): Promise<void> {
  const { keys } = tenant.org;
  const turn = i % 6;
  const hangUp = i % 10 === 7;
  if (hangUp) {
    const controller = new AbortController();
    const left = fetch(`${api.url}/v1/cases`, { headers: { authorization: `Bearer ${keys.director}` }, signal: controller.signal }).catch(
      () => null,
    );
    setTimeout(() => controller.abort(), i % 4);
    await left;
    return;
  }
  const { status, body } =
    turn === 0
      ? await request(api, keys.technician, 'GET', '/v1/cases?first=100')
      : turn === 1
        ? await open(tenant, i)
        : turn === 2
          ? await graphql(api, keys.director, '{ shops { data { id code name } } me { organisationName } }')
          : turn === 3
            ? await request(api, keys.director, 'GET', '/v1/audit?first=50')
            : turn === 4
              ? await request(api, keys.technician, 'GET', '/v1/shops')
              : await request(api, keys.technician, 'GET', `/v1/shops/${tenants[i % tenants.length]!.shopId}`);
  heard.status[status] = (heard.status[status] ?? 0) + 1;
  const text = JSON.stringify(body);
  const own = tenant.shopId;
  const others = tenants.filter(({ shopId }) => shopId !== own && text.includes(shopId) && turn !== 5);
  heard.foreign.push(...canaryOf(text).filter((one) => one !== tenant.canary), ...others.map(({ canary }) => canary));
  if (turn === 5 && status === 200 && body.id !== own) heard.foreign.push('a shop of somebody else');
  if (turn === 0 && status === 200 && body.data.length === 0) heard.foreign.push('a list without context');
}

describe('many clients of many organisations', () => {
  it('each hear of their own alone, while some hang up and some connections die', async () => {
    const heard = { status: {} as Record<number, number>, foreign: [] as string[] };
    let over = false;
    const killer = asAdministrator(api.database.superUrl, async (client) => {
      let killed = 0;
      while (!over) {
        const { rowCount } = await client.query(
          `select pg_terminate_backend(pid) from pg_stat_activity
            where datname = current_database() and pid <> pg_backend_pid() and usename = 'coolback_app' order by random() limit 1`,
        );
        killed += rowCount ?? 0;
        await new Promise((resolve) => setTimeout(resolve, 200));
      }
      return killed;
    });
    try {
      await Promise.all(
        Array.from({ length: CLIENTS }, async (_, c) => {
          for (let i = 0; i < REQUESTS; i++) await step(tenants[c % tenants.length]!, c * 7 + i, heard);
        }),
      );
    } finally {
      over = true;
    }
    expect(await killer).toBeGreaterThan(0);
    expect(heard.foreign).toEqual([]);
    // What a killed connection costs is an honest 503, never a wrong answer and never a bug.
    expect(Object.keys(heard.status).filter((status) => !['200', '201', '404', '503'].includes(status))).toEqual([]);
    expect(heard.status[200]).toBeGreaterThan(300);
    const idle = await asAdministrator(api.database.superUrl, (client) =>
      client.query(`select 1 from pg_stat_activity where datname = current_database() and state like 'idle in transaction%'`),
    );
    expect(idle.rowCount).toBe(0);
  });

  it('left every row with its own organisation', async () => {
    await asAdministrator(api.database.superUrl, async (client) => {
      for (const { org, canary } of tenants) {
        const { rows } = await client.query<{ foreign: string; own: string }>(
          `select count(*) filter (where notes not like $2 || '%') as foreign, count(*) as own from shop_case where org_id = $1`,
          [org.orgId, canary],
        );
        expect(rows[0]!.foreign).toBe('0');
        expect(Number(rows[0]!.own)).toBeGreaterThan(1);
      }
    });
  });
});
