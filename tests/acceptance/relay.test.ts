import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { isObjectType } from 'graphql';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;
const ids: Record<string, string> = {};
const shops: string[] = [];

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  other = await testOrganisation(api, 'Other region');
  const send = (path: string, body: unknown) => request(api, org.keys.administrator, 'POST', path, body);
  for (const code of ['east', 'west']) shops.push((await send('/v1/shops', newShop(code))).body.id);
  ids['Platform'] = (await send('/v1/platforms', newPlatform('heron'))).body.id;
  for (let i = 0; i < 101; i++) {
    const made = await send('/v1/cases', {
      shopId: shops[i % 2],
      vehicle: { plate: `AB ${100 + (i % 7)}`, platformCode: 'heron' },
      complaint: 'noise',
    });
    ids['Case'] = made.body.id;
    ids['Vehicle'] = made.body.vehicleId;
  }
  ids['Shop'] = shops[0]!;
});
afterAll(() => api?.close());

const ask = (query: string, variables: Record<string, unknown> = {}, key = org.keys.administrator) => graphql(api, key, query, variables);

describe('a list of a hundred with three relations', () => {
  it('takes at most five statements', async () => {
    const query = '{ cases(first: 100) { data { id shop { code } platform { code } vehicle { id linkedBy platform { code } } } } }';
    for (let run = 0; run < 3; run++) {
      api.takeStatements();
      const { body } = await ask(query);
      expect(body.errors).toBeUndefined();
      expect(body.data.cases.data.length).toBe(100);
      expect(new Set(body.data.cases.data.map((one: { shop: { code: string } }) => one.shop.code))).toEqual(new Set(['east', 'west']));
      expect(body.data.cases.data.every((one: { vehicle: { platform: { code: string } } }) => one.vehicle.platform.code === 'heron')).toBe(
        true,
      );
      expect(api.takeStatements().length).toBeLessThanOrEqual(5);
    }
  });

  it('leaves null what the key may not read, and says why', async () => {
    const issued = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'narrow',
      role: 'technician',
      permissions: ['cases:read', 'shops:read'],
      shopIds: [shops[0]],
      expiresAt: null,
    });
    const { body } = await ask('{ cases(first: 2) { data { shop { id } platform { code } } } }', {}, issued.body.secret);
    expect(body.data.cases.data).toEqual([
      { shop: { id: shops[0] }, platform: null },
      { shop: { id: shops[0] }, platform: null },
    ]);
    expect(body.errors.map((one: { extensions: { code: string } }) => one.extensions.code)).toEqual([
      'access/forbidden',
      'access/forbidden',
    ]);
  });
});

describe('connections', () => {
  it('have edges whose cursors lead on from any row, as Relay defines them', async () => {
    const page = 'edges { cursor node { id } } pageInfo { hasNextPage hasPreviousPage startCursor endCursor } data { id } next';
    const { body } = await ask(`{ cases(first: 5) { ${page} } }`);
    const { edges, pageInfo, data, next } = body.data.cases;
    expect(edges.map(({ node }: { node: unknown }) => node)).toEqual(data);
    expect(pageInfo).toEqual({ hasNextPage: true, hasPreviousPage: false, startCursor: edges[0].cursor, endCursor: next });
    const after = await ask(`query ($after: String) { cases(first: 5, after: $after) { ${page} } }`, { after: edges[2].cursor });
    expect(after.body.data.cases.data.slice(0, 2)).toEqual(data.slice(3));
    const last = await ask('{ cases(first: 100, filter: { status: closed }) { pageInfo { hasNextPage endCursor } edges { cursor } } }');
    expect(last.body.data.cases).toEqual({ pageInfo: { hasNextPage: false, endCursor: null }, edges: [] });
  });

  it('are every list with pages', async () => {
    const schema = api.app.getHttpAdapter().getInstance().graphql.schema;
    const paged = Object.values(schema.getQueryType()!.getFields()).filter(({ args }) => args.some(({ name }) => name === 'after'));
    expect(paged.length).toBeGreaterThan(8);
    for (const field of paged) {
      const type = schema.getType(String(field.type).replace('!', ''));
      expect([field.name, isObjectType(type) && Object.keys(type.getFields())]).toEqual([
        field.name,
        expect.arrayContaining(['edges', 'pageInfo']),
      ]);
      // Those that need an identifier of something else are walked by their own tests.
      if (field.args.some((argument) => String(argument.type).endsWith('!'))) continue;
      const { body } = await ask(`{ ${field.name}(first: 2) { edges { cursor } pageInfo { endCursor } next } }`);
      expect([field.name, body.errors]).toEqual([field.name, undefined]);
    }
  });
});

describe('node and nodes', () => {
  it('find anything again by its nodeId and by its plain id', async () => {
    for (const kind of ['Case', 'Platform', 'Shop', 'Vehicle']) {
      const id = ids[kind]!;
      for (const asked of [id, `${kind}:${id}`]) {
        const { body } = await ask('query ($id: ID!) { node(id: $id) { __typename id nodeId } }', { id: asked });
        expect(body).toMatchObject({ data: { node: { __typename: kind, id, nodeId: `${kind}:${id}` } } });
      }
    }
    const { body } = await ask(
      'query ($ids: [ID!]!) { nodes(ids: $ids) { id ... on Shop { code } ... on Case { complaint shop { code } } } }',
      {
        ids: [ids['Shop'], 'Shop:nothing', ids['Case'], `Platform:${ids['Case']}`, 'Webhook:0'],
      },
    );
    expect(body.data.nodes).toEqual([
      { id: ids['Shop'], code: 'east' },
      null,
      { id: ids['Case'], complaint: 'noise', shop: { code: expect.any(String) } },
      null,
      null,
    ]);
  });

  it('find nothing of another organisation, nor of a shop the key may not open', async () => {
    for (const kind of ['Case', 'Platform', 'Shop', 'Vehicle']) {
      for (const asked of [ids[kind], `${kind}:${ids[kind]}`]) {
        const { body } = await ask('query ($id: ID!) { node(id: $id) { id } }', { id: asked }, other.keys.administrator);
        expect([kind, body.data, body.errors]).toEqual([kind, { node: null }, undefined]);
      }
    }
    const issued = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'west',
      role: 'technician',
      shopIds: [shops[1]],
      expiresAt: null,
    });
    const { body } = await ask('query ($id: ID!) { node(id: $id) { id } }', { id: shops[0] }, issued.body.secret);
    expect(body.data).toEqual({ node: null });
  });
});
