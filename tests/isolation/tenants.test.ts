import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { buildSchema } from 'graphql';
import { contractDocuments } from '#apps/cli/contract.js';
import type { Document } from '../contract/compare.js';
import { routesOf } from '../contract/documents.js';
import { request, type TestApi, testApi } from '../support/api.js';
import { graphqlProbes, type Probe, restProbes } from './probes.js';
import { sendProbe } from './sending.js';
import { buildWorld, digestOf, type World } from './world.js';

/**
 * Two organisations on one server. The first asks everything there is to ask, about the second's identifiers and about identifiers that exist
 * nowhere: the answers must be the same, and hold nothing of the second.
 */
let api: TestApi;
let asker: World;
let other: World;
let document: Document;
let rest: Probe[];
let fields: Probe[];
let fieldNames: string[];
let before: Record<string, string>;

beforeAll(async () => {
  const made = await contractDocuments();
  document = JSON.parse(made.openApi) as Document;
  const schema = buildSchema(made.sdl);
  api = await testApi();
  asker = await buildWorld(api, '1M8GDM9AXKP042788');
  other = await buildWorld(api, '1M8GDM9AXKP042788');
  before = await digestOf(api, other.org.orgId);
  rest = restProbes(document, asker);
  fields = graphqlProbes(schema, document, asker);
  fieldNames = [schema.getQueryType()!, schema.getMutationType()!].flatMap((type) => Object.keys(type.getFields()));
});
afterAll(() => api?.close());

/** What of the other organisation stands in a text; identifiers both worlds could know do not exist. */
const leaks = (text: string): string[] => [
  ...(text.includes(other.canary) ? [`canary in ${text.slice(0, 400)}`] : []),
  ...[...other.identifiers].filter((id) => text.includes(id)),
];

async function ask(probes: readonly Probe[]): Promise<{ problems: string[]; succeeded: number }> {
  const problems: string[] = [];
  let succeeded = 0;
  for (const probe of probes) {
    const foreign = await sendProbe(api, asker.org.keys.administrator, probe, probe.kind ? other.ids[probe.kind] : randomUUID());
    const nowhere = probe.kind ? await sendProbe(api, asker.org.keys.administrator, probe, randomUUID()) : foreign;
    if (foreign.code === null) succeeded++;
    if (foreign.status >= 500 || foreign.code === 'internal')
      problems.push(`${probe.name}: ${foreign.status} ${foreign.text.slice(0, 300)}`);
    if (foreign.status !== nowhere.status || foreign.code !== nowhere.code) {
      problems.push(
        `${probe.name}: ${foreign.status} ${foreign.code} for a foreign identifier, ${nowhere.status} ${nowhere.code} for one that is nowhere`,
      );
    } else if (foreign.code !== null && foreign.text !== nowhere.text) {
      problems.push(`${probe.name}: the refusals differ:\n${foreign.text}\n${nowhere.text}`);
    }
    problems.push(...leaks(foreign.text).map((leak) => `${probe.name}: ${leak}`));
  }
  return { problems, succeeded };
}

describe('another organisation', () => {
  it('is put to the question by every route and every field', () => {
    const routes = routesOf(document).map(({ operation }) => operation.operationId);
    expect(routes.filter((id) => !rest.some(({ operationId }) => operationId === id))).toEqual([]);
    expect(fieldNames.filter((name) => !fields.some(({ graphql }) => graphql!.query.includes(`{ ${name}`)))).toEqual([]);
    expect(rest.filter(({ kind }) => kind !== null).length).toBeGreaterThan(30);
  });

  it('answers over REST as if it were nowhere', async () => {
    const { problems, succeeded } = await ask(rest);
    expect(problems).toEqual([]);
    expect(succeeded).toBeGreaterThan(20);
  });

  it('answers over GraphQL as if it were nowhere', async () => {
    const { problems, succeeded } = await ask(fields);
    expect(problems).toEqual([]);
    expect(succeeded).toBeGreaterThan(20);
  });

  it('is not reached by its codes, cursors, order references, VIN or idempotency keys', async () => {
    const key = asker.org.keys.administrator;
    for (const [list, cursor] of Object.entries(other.cursors)) {
      const { status, body } = await request(api, key, 'GET', `/v1/${list}?first=100&after=${cursor}`);
      expect([list, status]).toEqual([list, 200]);
      expect([list, ...leaks(JSON.stringify(body))]).toEqual([list]);
    }
    for (const named of [
      { shopCode: other.shopCode, vehicle: {} },
      { shopCode: asker.shopCode, vehicle: { platformCode: other.platformCode } },
    ]) {
      const { status, body } = await request(api, key, 'POST', '/v1/cases', { ...named, complaint: 'noise' });
      expect(status).toBe(404);
      const words = JSON.stringify(body).replaceAll(other.shopCode, '').replaceAll(other.platformCode, '');
      expect(leaks(words)).toEqual([]);
    }
    // The same order of the same system, and the same key of the same client, belong to each organisation by itself.
    const order = {
      shopCode: asker.shopCode,
      vehicle: {},
      complaint: 'noise',
      source: { system: 'orders', reference: 'B-1', revision: 1 },
    };
    const theirs = await request(
      api,
      other.org.keys.integrator,
      'POST',
      '/v1/cases',
      { ...order, shopCode: other.shopCode },
      { 'idempotency-key': 'same' },
    );
    const ours = await request(api, asker.org.keys.integrator, 'POST', '/v1/cases', order, { 'idempotency-key': 'same' });
    expect([theirs.status, ours.status]).toEqual([201, 201]);
    expect(ours.headers.get('idempotency-replayed')).toBeNull();
    expect(ours.body.id).not.toBe(theirs.body.id);
    const car = await request(api, key, 'POST', '/v1/vehicles/lookup', { vin: other.vin });
    expect(car.body.id).toBe(asker.ids.vehicle);
  });

  it('has lost and gained nothing but the case it sent itself', async () => {
    const after = await digestOf(api, other.org.orgId);
    const changed = Object.keys(before).filter((table) => before[table] !== after[table]);
    const ownWork = ['access_key', 'audit_event', 'case_evidence', 'idempotency_key', 'outbox_event', 'shop_case', 'sighting', 'vehicle'];
    expect(changed.filter((table) => !ownWork.includes(table))).toEqual([]);
    const { body } = await request(api, other.org.keys.administrator, 'GET', '/v1/cases?first=100');
    // Two visits, one line of a file, and the order sent above.
    expect(body.data).toHaveLength(4);
  });

  it('would be noticed: an answer of its own is full of it', async () => {
    const { body } = await request(api, other.org.keys.administrator, 'GET', `/v1/cases/${other.ids.case}`);
    expect(leaks(JSON.stringify(body)).length).toBeGreaterThan(3);
  });
});
