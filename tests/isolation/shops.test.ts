import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { buildSchema } from 'graphql';
import { contractDocuments } from '#apps/cli/contract.js';
import type { Role } from '#libs/contracts/index.js';
import type { Document } from '../contract/compare.js';
import { graphql, request, type TestApi, testApi } from '../support/api.js';
import { graphqlProbes, type Probe, restProbes } from './probes.js';
import { sendProbe } from './sending.js';
import { buildWorld, EVIDENCE, ROLES, type World } from './world.js';

/**
 * A key limited to one shop, in an organisation that has two. Vehicles, platforms and figures belong to the whole organisation; cases, and who
 * saw what, belong to the shop: a vehicle's past and similar cases are told without naming another shop or its cases.
 */
let api: TestApi;
let world: World;
let probes: Probe[];
const limited = {} as Record<Role, string>;
let foreign: string[];

beforeAll(async () => {
  const made = await contractDocuments();
  const document = JSON.parse(made.openApi) as Document;
  api = await testApi();
  world = await buildWorld(api, '1M8GDM9AXKP042788');
  for (const role of ROLES) {
    const key = await request(api, world.org.keys.administrator, 'POST', '/v1/keys', {
      name: role,
      role,
      shopIds: [world.ids.shop],
      expiresAt: null,
    });
    limited[role] = key.body.secret;
  }
  foreign = [world.ids.secondShop, world.ids.secondCase, `Second ${world.canary}`, `second-${world.canary}`];
  probes = [...restProbes(document, world), ...graphqlProbes(buildSchema(made.sdl), document, world)];
});
afterAll(() => api?.close());

const named = (text: string) => foreign.filter((one) => text.includes(one));
const other: Partial<Record<string, string>> = {};

describe('a key limited to one shop', () => {
  it.each(ROLES)('of a %s is told nothing of another shop, by any route or field', async (role) => {
    other['shop'] = world.ids.secondShop;
    other['case'] = world.ids.secondCase;
    const problems: string[] = [];
    for (const probe of probes) {
      // Kinds that belong to a shop are asked about with the other shop's; the rest with something that is nowhere.
      const asked = (probe.kind && other[probe.kind]) ?? randomUUID();
      const heard = await sendProbe(api, limited[role], probe, asked);
      problems.push(...named(heard.text).map((one) => `${probe.name}: ${one} in ${heard.text.slice(0, 300)}`));
      if (heard.status >= 500 || heard.code === 'internal') problems.push(`${probe.name}: ${heard.status}`);
      if (probe.kind === 'shop' || probe.kind === 'case') {
        const nowhere = await sendProbe(api, limited[role], probe, randomUUID());
        if (nowhere.status !== heard.status || nowhere.code !== heard.code || (heard.code !== null && nowhere.text !== heard.text)) {
          problems.push(
            `${probe.name}: ${heard.status} ${heard.code} for another shop's, ${nowhere.status} ${nowhere.code} for one that is nowhere`,
          );
        }
      }
    }
    expect(problems).toEqual([]);
  });

  it('lists its own cases, in full', async () => {
    const { body } = await request(api, limited.technician, 'GET', '/v1/cases?first=100');
    expect(new Set(body.data.map(({ shopId }: { shopId: string }) => shopId))).toEqual(new Set([world.ids.shop]));
    expect(body.data.some(({ id }: { id: string }) => id === world.ids.case)).toBe(true);
    const shops = await request(api, limited.technician, 'GET', '/v1/shops');
    expect(shops.body.data.map(({ id }: { id: string }) => id)).toEqual([world.ids.shop]);
  });

  it("sees a vehicle's whole past and similar cases, without names", async () => {
    const history = await request(api, limited.technician, 'GET', `/v1/vehicles/${world.ids.vehicle}/history`);
    expect(history.status).toBe(200);
    const visits = history.body.visits as { ownShop: boolean; shopId: string | null; caseId: string | null; provedFaults: string[] }[];
    expect(visits.filter(({ ownShop }) => !ownShop)).toMatchObject([{ shopId: null, caseId: null, provedFaults: ['filter-cartridge'] }]);
    expect(history.body.episodes[0]).toMatchObject({ end: 'same-fault', endShopId: null, endCaseId: null });
    const question = { platformId: world.ids.platform, shopId: world.ids.shop, evidence: EVIDENCE };
    const similar = await request(api, limited.technician, 'POST', '/v1/similar-cases', { question });
    const data = similar.body.data as { caseId: string | null; shopId: string | null }[];
    expect(data.some(({ caseId, shopId }) => caseId === null && shopId === null)).toBe(true);
    expect(data.some(({ caseId }) => caseId === world.ids.case)).toBe(true);
    const over = await graphql(api, limited.technician, `{ similarToCase(caseId: "${world.ids.case}") { data { caseId shopId } } }`);
    for (const text of [history, similar, over].map(({ body }) => JSON.stringify(body))) expect(named(text)).toEqual([]);
  });

  it('opens no case at another shop, by identifier or code, and revises no order of it', async () => {
    for (const shop of [{ shopId: world.ids.secondShop }, { shopCode: `second-${world.canary}` }]) {
      const { status, body } = await request(api, limited.integrator, 'POST', '/v1/cases', { ...shop, vehicle: {}, complaint: 'noise' });
      expect([status, body.code]).toEqual([404, 'shops/not_found']);
    }
    const order = { system: 'orders', reference: 'A-2', revision: 7 };
    const revised = await request(api, limited.integrator, 'POST', '/v1/cases', {
      shopId: world.ids.shop,
      vehicle: {},
      complaint: 'noise',
      source: order,
    });
    expect([revised.status, revised.body.code]).toEqual([409, 'cases/source_elsewhere']);
    expect(named(JSON.stringify(revised.body))).toEqual([]);
  });

  it('issues and ends no key and changes nobody beyond its shop', async () => {
    const wide = await request(api, limited.administrator, 'POST', '/v1/keys', {
      name: 'wide',
      role: 'technician',
      shopIds: null,
      expiresAt: null,
    });
    expect([wide.status, wide.body.code]).toEqual([422, 'access/key_too_wide']);
    const keys = await request(api, world.org.keys.administrator, 'GET', '/v1/keys?first=100');
    const all = keys.body.data.find((key: { shopIds: unknown }) => key.shopIds === null).id;
    expect((await request(api, limited.administrator, 'POST', `/v1/keys/${all}/revocation`)).status).toBe(404);
    const person = await request(
      api,
      limited.administrator,
      'PATCH',
      `/v1/members/${world.ids.member}`,
      { active: false },
      { 'if-match': '"1"' },
    );
    expect(person.status).toBe(404);
    const widened = await request(api, limited.administrator, 'POST', '/v1/members', { name: 'x', role: 'director', shopIds: null });
    expect([widened.status, widened.body.code]).toEqual([422, 'access/key_too_wide']);
  });
});
