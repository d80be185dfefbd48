import { randomUUID } from 'node:crypto';
import { NEW_PHOTOGRAPH_EXAMPLE } from '#apps/api/photographs/photographs.examples.js';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { rediagnose } from '#apps/worker/jobs/rediagnose.job.js';
import { judgeBatch } from '#libs/casebook/index.js';
import type { Role } from '#libs/contracts/index.js';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

/** One organisation with something of everything in it, every text of which carries its canary. */
export interface World {
  readonly org: TestOrganisation;
  /** Lower case letters and digits that stand in every text of this world and nowhere else. */
  readonly canary: string;
  /** By kind, as paths and fields name them; `secondShop` and `secondCase` are of the other shop. */
  readonly ids: Readonly<Record<Kind, string>>;
  /** Every identifier the world's own administrator is ever shown. */
  readonly identifiers: ReadonlySet<string>;
  readonly shopCode: string;
  readonly platformCode: string;
  readonly vin: string;
  readonly cursors: Readonly<Record<string, string>>;
}
export type Kind =
  | 'shop'
  | 'secondShop'
  | 'platform'
  | 'vehicle'
  | 'case'
  | 'secondCase'
  | 'key'
  | 'member'
  | 'task'
  | 'import'
  | 'policy'
  | 'rediagnosis'
  | 'machine'
  | 'cylinder'
  | 'entry'
  | 'otherVehicle'
  | 'merge'
  | 'webhook'
  | 'document'
  | 'delivery'
  | 'photograph'
  | 'repair';

const psi = (place: string, phase: string, value: number) => ({
  quantity: 'pressure',
  place,
  instrument: 'manifold-gauge',
  phase,
  reference: 'vented-gauge',
  value,
  unit: '[psi]',
});

export const EVIDENCE = {
  conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12, hoursSoaked: 8 },
  readings: [
    psi('high-side-port', 'rest', 82),
    psi('high-side-port', 'running', 160),
    psi('low-side-port', 'running', 27),
    { quantity: 'temperature', place: 'vent', phase: 'running', instrument: 'thermometer', value: 13, unit: 'Cel' },
  ],
};

export async function buildWorld(api: TestApi, vin: string): Promise<World> {
  const canary = `kx${randomUUID().replaceAll('-', '').slice(0, 14)}`;
  const org = await testOrganisation(api, `Region ${canary}`);
  const shown: unknown[] = [];
  const send = async (method: string, path: string, body?: unknown, headers: Record<string, string> = {}) => {
    const answer = await request(api, org.keys.administrator, method, path, body, headers);
    if (answer.status >= 300) throw new Error(`${method} ${path}: ${answer.status} ${JSON.stringify(answer.body)}`);
    shown.push(answer.body);
    return answer.body;
  };
  const shopCode = `shop-${canary}`;
  const platformCode = `platform-${canary}`;
  const shop = await send('POST', '/v1/shops', { ...newShop(shopCode), name: `Shop ${canary}` });
  const secondShop = await send('POST', '/v1/shops', { ...newShop(`second-${canary}`, 900), name: `Second ${canary}` });
  const platform = await send('POST', '/v1/platforms', { ...newPlatform(platformCode), name: `Platform ${canary}` });
  const policy = await send('POST', '/v1/policies', {
    platformId: platform.id,
    fault: 'undercharge',
    action: 'top-up',
    rule: 'forbid',
    note: `policy ${canary}`,
  });
  const { webhook } = await send('POST', '/v1/webhooks', { url: `https://example.com/${canary}`, kinds: [] });
  const machine = await send('POST', '/v1/machines', {
    shopId: shop.id,
    name: `machine ${canary}`,
    refrigerant: 'R-134a',
    scaleErrorG: 10,
  });
  const cylinder = await send('POST', '/v1/cylinders', {
    shopId: shop.id,
    label: `cylinder ${canary}`,
    refrigerant: 'R-134a',
    content: 'new',
    capacityG: 12_000,
  });
  const entry = await send('POST', '/v1/refrigerant-entries', {
    shopId: shop.id,
    kind: 'purchase',
    refrigerant: 'R-134a',
    massG: 12_000,
    day: '2026-04-20',
    cylinderId: cylinder.id,
    document: `invoice ${canary}`,
    note: `entry ${canary}`,
  });
  const visit = (shopId: string, openedAt: string, reference: string) =>
    send('POST', '/v1/cases', {
      shopId,
      vehicle: { vin, plate: 'AB 1234', vinChecked: true, platformCode, modelYear: 2019 },
      odometer: { value: 90_000, unit: 'km' },
      complaint: 'cools-poorly',
      complaintText: `complaint ${canary}`,
      notes: `notes ${canary}`,
      openedAt,
      source: { system: 'orders', reference, revision: 1, link: `https://orders.invalid/${canary}/${reference}` },
      evidence: { ...EVIDENCE, findings: [{ code: 'condenser-fins-clean', note: `finding ${canary}` }] },
      diagnose: true,
    });
  const first = await visit(shop.id, '2026-05-02T09:00:00Z', 'A-1');
  await send('POST', `/v1/cases/${first.id}/proofs`, { faults: ['filter-cartridge'], method: 'opened-part', note: `proof ${canary}` });
  const repair = await send('POST', `/v1/cases/${first.id}/repairs`, {
    fault: 'filter-cartridge',
    action: 'replace-filter-cartridge',
    intent: 'temporary',
    day: '2026-05-02',
    parts: [{ name: `part ${canary}`, quantity: 1 }],
    recoveredG: 500,
    chargedG: 560,
    labourHours: 1,
    cost: 120,
    note: `repair ${canary}`,
  });
  const photograph = await send('POST', `/v1/cases/${first.id}/photographs`, {
    ...NEW_PHOTOGRAPH_EXAMPLE,
    caption: `photograph ${canary}`,
  });
  const second = await visit(secondShop.id, '2026-07-11T09:00:00Z', 'A-2');
  await send('POST', `/v1/cases/${second.id}/proofs`, { faults: ['filter-cartridge'], method: 'opened-part', note: `proof ${canary}` });
  // A plate that was merged into the car and taken back again.
  const other = await send('POST', '/v1/sightings', { shopId: shop.id, vehicle: { plate: `M ${canary.slice(0, 8)}` }, day: '2026-05-01' });
  const merge = await send('POST', `/v1/vehicles/${first.vehicleId}/merges`, { mergedId: other.vehicleId, reason: `merge ${canary}` });
  await send('DELETE', `/v1/vehicles/${first.vehicleId}/merges/${merge.id}`);
  const key = await send('POST', '/v1/keys', { name: `key ${canary}`, role: 'technician', shopIds: [shop.id], expiresAt: null });
  const member = await send('POST', '/v1/members', { name: `member ${canary}`, role: 'technician', shopIds: [secondShop.id] });
  // Judged again in this thread, so that there is a change to see.
  const rediagnosis = await send('POST', '/v1/rediagnoses', { again: true });
  await rediagnose(api.casebook, org.orgId, rediagnosis.id, { judge: async (batch) => judgeBatch(batch), isLastTry: true });
  const document = await send('POST', '/v1/documents', { query: `{ me { role } } # ${canary}` });
  const task = randomUUID();
  await asAdministrator(api.database.superUrl, (client) =>
    client.query(
      `insert into task (org_id, id, kind, state, done, total, detail, created_at, updated_at)
       values ($1, $2, $3, 'done', 1, 1, $3, now(), now())`,
      [org.orgId, task, `task ${canary}`],
    ),
  );
  // The second line of the file is refused and kept, with what was sent.
  const lines = [
    { shopCode, vehicle: {}, complaint: 'noise', notes: `imported ${canary}`, source: { system: 'orders', reference: 'F-1', revision: 1 } },
    {
      shopCode,
      vehicle: {},
      complaint: 'none',
      notes: `refused ${canary}`,
      source: { system: 'orders', reference: `F-${canary}`, revision: 1 },
    },
  ];
  const file = lines.map((line) => `${JSON.stringify(line)}\n`).join('');
  const run = await send('POST', '/v1/imports', file, { 'content-type': 'application/x-ndjson' });
  await importCases(api.casebook, org.orgId, run.id, { isLastTry: true });
  await send('GET', `/v1/imports/${run.id}/rows`);
  await send('POST', '/v1/imports/mappings', { name: `mapping ${canary}`, mapping: { constants: [{ field: 'system', value: canary }] } });
  await api.casebook.delivery.fanOut(org.orgId);
  const deliveries = await send('GET', `/v1/webhooks/${webhook.id}/deliveries`);
  const cursors: Record<string, string> = {};
  for (const list of ['cases', 'shops', 'audit', 'keys']) cursors[list] = (await send('GET', `/v1/${list}?first=1`)).next;
  for (const path of [
    `/v1/vehicles/${first.vehicleId}/history`,
    '/v1/outcomes/episodes',
    '/v1/audit?first=100',
    '/v1/keys?first=100',
    '/v1/me',
  ]) {
    await send('GET', path);
  }
  const identifiers = new Set(JSON.stringify(shown).match(/[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}/g));
  return {
    org,
    canary,
    ids: {
      shop: shop.id,
      secondShop: secondShop.id,
      platform: platform.id,
      vehicle: first.vehicleId,
      case: first.id,
      secondCase: second.id,
      key: key.key.id,
      member: member.id,
      task,
      import: run.id,
      policy: policy.id,
      rediagnosis: rediagnosis.id,
      machine: machine.id,
      cylinder: cylinder.id,
      entry: entry.id,
      otherVehicle: other.vehicleId,
      merge: merge.id,
      webhook: webhook.id,
      document: document.id,
      delivery: deliveries.data[0].id,
      photograph: photograph.id,
      repair: repair.id,
    },
    identifiers: identifiers.add(task),
    shopCode,
    platformCode,
    vin,
    cursors,
  };
}

/** A digest of every row an organisation has, table by table, read by the administrator of the server. */
export async function digestOf(api: TestApi, orgId: string): Promise<Record<string, string>> {
  return asAdministrator(api.database.superUrl, async (client) => {
    const { rows } = await client.query<{ name: string }>(
      `select table_name as name from information_schema.columns where table_schema = 'public' and column_name = 'org_id' order by 1`,
    );
    const digests: Record<string, string> = {};
    for (const { name } of rows) {
      const { rows: found } = await client.query<{ digest: string }>(
        `select count(*) || ' ' || md5(coalesce(string_agg(t::text, '' order by t::text), '')) as digest from "${name}" t where org_id = $1`,
        [orgId],
      );
      digests[name] = found[0]!.digest;
    }
    return digests;
  });
}

export const ROLES: readonly Role[] = ['director', 'technician', 'integrator', 'administrator'];
