import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { describedOperations } from '#apps/api/http/operation.js';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { listen, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import type { Document } from './compare.js';
import { committedOpenApi, exampleOf, filledPath, isStream, type Route, routesOf } from './documents.js';

/** Every example of the description is sent as it stands; what comes back is held against the schema the description promises. */
let api: TestApi;
let org: TestOrganisation;
const document: Document = committedOpenApi();
const routes = routesOf(document);
const ids: Record<string, string> = {};
const SAMPLE_SHOP = '0197a2b4-7c00-7000-8000-000000000001';
const SAMPLE_PLATFORM = '0197a2b4-7c00-7000-8000-000000000002';
const SAMPLE_VEHICLE = '0197a2b4-7c00-7000-8000-000000000003';

const routeOf = (id: string): Route => routes.find(({ operation }) => operation.operationId === id)!;
const bodyOf = (id: string): unknown => exampleOf(routeOf(id))?.body;
const send = (method: string, path: string, body?: unknown, headers: Record<string, string> = {}) =>
  request(api, org.keys.administrator, method, path, body, headers);

/** What the description says of an answer, checked by the schema it was made from. */
function expectDescribed({ operation }: Route, answer: { status: number; body: unknown; headers: Headers }): void {
  expect([operation.operationId, answer.status, answer.status < 300 ? '' : answer.body]).toEqual([
    operation.operationId,
    answer.status,
    '',
  ]);
  const { content } = operation.responses[answer.status]!;
  const type = answer.headers.get('content-type')!.split(';')[0]!;
  expect(Object.keys(content!).map((range) => (range === 'image/*' && type.startsWith('image/') ? type : range))).toEqual([type]);
  const { reply } = describedOperations().find(({ id }) => id === operation.operationId)!;
  expect([operation.operationId, reply.safeParse(answer.body).error?.issues ?? []]).toEqual([operation.operationId, []]);
}

/** Examples name a shop by a stand-in. */
const withShop = (example: unknown): unknown =>
  JSON.parse(
    JSON.stringify(example)
      .replaceAll(SAMPLE_SHOP, ids['shop']!)
      .replaceAll(SAMPLE_PLATFORM, ids['platform']!)
      .replaceAll(SAMPLE_VEHICLE, ids['otherVehicle'] ?? ''),
  );

async function anotherVehicle(): Promise<string> {
  const vehicle = { plate: `B ${Math.floor(Math.random() * 1e9)}` };
  return (await send('POST', '/v1/sightings', { shopId: ids['shop'], vehicle, day: '2026-05-01' })).body.vehicleId;
}

async function newCase(): Promise<{ id: string; etag: string }> {
  const made = await send('POST', '/v1/cases', bodyOf('openCase'));
  return { id: made.body.id, etag: made.headers.get('etag')! };
}

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  for (const [name, id] of [
    ['shop', 'addShop'],
    ['platform', 'addPlatform'],
  ] as const) {
    const made = await send('POST', routeOf(id).path, bodyOf(id));
    expectDescribed(routeOf(id), made);
    ids[name] = made.body.id;
  }
  const made = await send('POST', '/v1/cases', bodyOf('openCase'));
  expectDescribed(routeOf('openCase'), made);
  ids['vehicle'] = made.body.vehicleId;
  const member = await send('POST', '/v1/members', bodyOf('addMember'));
  ids['member'] = member.body.id;
  const task = await api.casebook.context.inTenant(org.orgId, async (tx) =>
    tx.query<{ id: string }>({
      name: 'test.task',
      text: `insert into task (org_id, id, kind, state, done, total, created_at, updated_at)
             values ($1, gen_random_uuid(), 'test', 'done', 1, 1, now(), now()) returning id`,
      values: [org.orgId],
    }),
  );
  ids['task'] = task.rows[0]!.id;
  const policy = await send('POST', '/v1/policies', {
    platformId: ids['platform'],
    fault: 'undercharge',
    action: 'top-up',
    rule: 'forbid',
  });
  ids['policy'] = policy.body.id;
  ids['rediagnosis'] = (await send('POST', '/v1/rediagnoses', {})).body.id;
});
afterAll(() => api?.close());

/** A path with identifiers of things that are there, and the tag to change them by. */
async function filled({ path, method }: Route): Promise<{ path: string; etag: string | null }> {
  if (!path.includes('{id}')) return { path, etag: null };
  const kind = path.split('/')[2]!;
  if (kind === 'cases') {
    const { id, etag } = await newCase();
    if (path.endsWith('/{repairId}')) {
      const repair = await send('POST', `/v1/cases/${id}/repairs`, bodyOf('recordRepair'));
      const after = await send('GET', `/v1/cases/${id}`);
      return { path: filledPath(path, (name) => (name === 'id' ? id : repair.body.id)), etag: after.headers.get('etag') };
    }
    if (!path.endsWith('/{photographId}')) return { path: path.replace('{id}', id), etag };
    const photograph = await send('POST', `/v1/cases/${id}/photographs`, bodyOf('addPhotograph'));
    return { path: filledPath(path, (name) => (name === 'id' ? id : photograph.body.id)), etag: null };
  }
  if (kind === 'imports') {
    // Its second line is refused, so that there is a row to correct.
    const good = JSON.stringify(bodyOf('importCases'));
    const sent = await send('POST', '/v1/imports', `${good}\n{"shopCode":"nowhere"}\n`, { 'content-type': 'application/x-ndjson' });
    await importCases(api.casebook, org.orgId, sent.body.id, { isLastTry: true });
    return { path: filledPath(path, () => sent.body.id), etag: null };
  }
  if (kind === 'webhooks') {
    const { webhook } = (await send('POST', '/v1/webhooks', { url: 'https://example.com/all', kinds: [] })).body;
    await newCase();
    await api.casebook.delivery.fanOut(org.orgId);
    const deliveries = await send('GET', `/v1/webhooks/${webhook.id}/deliveries`);
    return { path: filledPath(path, (name) => (name === 'id' ? webhook.id : deliveries.body.data[0].id)), etag: null };
  }
  const holding = ({ machines: 'addMachine', cylinders: 'addCylinder', 'refrigerant-entries': 'addRefrigerantEntry' } as const)[kind];
  if (holding !== undefined) {
    const made = await send('POST', `/v1/${kind}`, withShop(bodyOf(holding)));
    return { path: path.replace('{id}', made.body.id), etag: made.headers.get('etag') };
  }
  if (path.endsWith('/merges/{mergeId}')) {
    const mergedId = await anotherVehicle();
    const merge = await send('POST', `/v1/vehicles/${ids['vehicle']}/merges`, { mergedId, reason: 'to be undone' });
    return { path: filledPath(path, (name) => (name === 'id' ? ids['vehicle']! : merge.body.id)), etag: null };
  }
  if (path.endsWith('/merges')) ids['otherVehicle'] = await anotherVehicle();
  // A vehicle of its own, since others are asked about later.
  if (kind === 'vehicles' && method === 'DELETE') {
    const made = await send('POST', '/v1/cases', { ...(bodyOf('openCase') as object), vehicle: { plate: 'TO GO' } });
    return { path: filledPath(path, () => made.body.vehicleId), etag: null };
  }
  if (kind === 'keys') {
    const issued = await send('POST', '/v1/keys', bodyOf('issueKey'));
    return { path: path.replace('{id}', issued.body.key.id), etag: null };
  }
  if (kind === 'documents') {
    const made = await send('POST', '/v1/documents', { query: '{ me { role } } # to be forgotten' });
    return { path: path.replace('{id}', made.body.id), etag: null };
  }
  const id = ids[kind === 'policies' ? 'policy' : kind === 'rediagnoses' ? 'rediagnosis' : kind.replace(/s$/, '')]!;
  const etag = kind === 'shops' || kind === 'platforms' ? (await send('GET', `/v1/${kind}/${id}`)).headers.get('etag') : '"1"';
  return { path: path.replace('{id}', id), etag };
}

/** What a page of the console would send: the cookie of a session of its own, at a device where somebody has signed in. */
async function asPage(): Promise<Record<string, string>> {
  await send('POST', `/v1/members/${ids['member']}/pin`, bodyOf('setPin'));
  const opened = await send('POST', '/v1/session', bodyOf('openSession'));
  const page = { cookie: opened.headers.get('set-cookie')!.split(';')[0]!, 'sec-fetch-site': 'same-origin' };
  const body = { ...(bodyOf('signIn') as object), memberId: ids['member'] };
  expect((await request(api, null, 'POST', '/v1/session/person', body, page)).status).toBe(200);
  return page;
}

describe('the examples of the API description', () => {
  it('stand at every operation that takes a body or must be told something in its address', () => {
    const without = routes.filter(
      (route) =>
        (route.operation.requestBody && exampleOf(route)?.body === undefined) ||
        route.operation.parameters?.some((one) => one.in === 'query' && one.required && one.example === undefined),
    );
    expect(without.map(({ operation }) => operation.operationId)).toEqual([]);
  });

  it.each(routes.map((route) => [route.operation.operationId, route] as const))('%s works as described', async (id, route) => {
    const { path, etag } = await filled(route);
    const query = new URLSearchParams(
      (route.operation.parameters ?? []).flatMap(({ name, example }) =>
        example === undefined ? [] : [[name, String(withShop(example))] as [string, string]],
      ),
    ).toString();
    if (isStream(route)) {
      const heard = await listen(api, org.keys.administrator, id === 'streamEvents' ? `${path}?after=0` : path, 500);
      expect([heard.status, heard.headers.get('content-type')?.split(';')[0]]).toEqual([200, 'text/event-stream']);
      expect(heard.body).toMatch(/^event: \S+$/m);
      expect(() => [...heard.body.matchAll(/^data: (.+)$/gm)].map(([, data]) => JSON.parse(data!))).not.toThrow();
      return;
    }
    let body = exampleOf(route)?.body;
    if (body !== undefined) body = withShop(body);
    // Codes are unique: the set-up sent these two as they stand.
    if (id === 'addShop' || id === 'addPlatform') body = { ...(body as object), code: 'another-code' };
    const headers: Record<string, string> = body === undefined ? {} : { 'content-type': exampleOf(route)!.type };
    const tagged = etag !== null && (route.operation.parameters ?? []).some(({ name }) => name === 'If-Match');
    if (tagged) headers['if-match'] = etag;
    if (describedOperations().find((one) => one.id === id)!.sessionOnly) {
      const page = await asPage();
      if (id === 'signIn') body = { ...(body as object), memberId: ids['member'] };
      expectDescribed(route, await request(api, null, route.method, path, body, { ...headers, ...page }));
      return;
    }
    expectDescribed(route, await send(route.method, query === '' ? path : `${path}?${query}`, body, headers));
  });
});
