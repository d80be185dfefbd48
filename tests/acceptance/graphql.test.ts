import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shopId: string;

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  const shop = await graphql(
    api,
    org.keys.administrator,
    'mutation ($input: NewShopInput!) { addShop(input: $input) { id code version } }',
    {
      input: newShop('quay', 900),
    },
  );
  shopId = shop.body.data.addShop.id;
  const enumName = (value: string) => value.replaceAll(/[^A-Za-z0-9_]/g, '_');
  const platform = newPlatform('knot-r');
  await graphql(api, org.keys.administrator, 'mutation ($input: NewPlatformInput!) { addPlatform(input: $input) { id } }', {
    input: {
      ...platform,
      layout: enumName(platform.layout),
      compressor: enumName(platform.compressor),
      refrigerant: enumName(platform.refrigerant),
      highSidePort: enumName(platform.highSidePort),
      highSideTransducer: enumName(platform.highSideTransducer),
      lowSidePort: enumName(platform.lowSidePort),
      transducerReference: enumName(platform.transducerReference),
    },
  });
});
afterAll(() => api?.close());

const OPEN = `mutation ($input: NewCaseInput!) { openCase(input: $input) { id version status complaint evidence { readings { id value unit si siUnit place } } warnings { code } } }`;

describe('the same operations over GraphQL', () => {
  it('open, read, diagnose and list a case as REST does', async () => {
    const input = {
      shopId,
      vehicle: { platformCode: 'knot-r' },
      complaint: 'cools_poorly',
      evidence: {
        readings: [{ quantity: 'pressure', place: 'low_side_port', phase: 'running', reference: 'vented_gauge', value: 30, unit: '[psi]' }],
      },
    };
    const { status, body } = await graphql(api, org.keys.technician, OPEN, { input });
    expect(status).toBe(200);
    expect(body.errors).toBeUndefined();
    const opened = body.data.openCase;
    expect(opened).toMatchObject({
      complaint: 'cools_poorly',
      status: 'open',
      evidence: { readings: [{ place: 'low_side_port', siUnit: 'Pa' }] },
    });
    const rest = await request(api, org.keys.technician, 'GET', `/v1/cases/${opened.id}`);
    expect(rest.body.complaint).toBe('cools-poorly');
    expect(rest.body.evidence.readings[0].si).toBe(opened.evidence.readings[0].si);
    const answer = await graphql(
      api,
      org.keys.technician,
      'mutation ($id: ID!) { diagnoseCase(id: $id) { result { status reason faults { code probability } nextTests { code } } } }',
      { id: opened.id },
    );
    expect(answer.body.errors).toBeUndefined();
    expect(answer.body.data.diagnoseCase.result.nextTests.length).toBeGreaterThan(0);
    const list = await graphql(api, org.keys.director, '{ cases(first: 5) { data { id status } next } }');
    expect(list.body.data.cases.data[0]).toEqual({ id: opened.id, status: 'open' });
  });

  it('refuse a value that is none of an enum, however often the same document comes: its compiled form says the same', async () => {
    const input = { shopId, vehicle: {}, complaint: 'nonsense', evidence: { readings: [] } };
    const times = [];
    for (let i = 0; i < 3; i++) times.push(await graphql(api, org.keys.technician, OPEN, { input }));
    for (const { body } of times) {
      expect(body.errors[0]).toMatchObject({
        message: expect.stringContaining('"nonsense"'),
        extensions: { code: 'graphql/invalid', status: 400 },
      });
    }
  });

  it('refuse with the code, the issues and the pointers REST gives', async () => {
    const input = { shopId, vehicle: {}, complaint: 'noise', evidence: { readings: [{ quantity: 'pressure', value: 30, unit: 'psi' }] } };
    const { body } = await graphql(api, org.keys.technician, OPEN, { input });
    expect(body.errors[0].extensions).toMatchObject({ code: 'cases/implausible', status: 422 });
    expect(body.errors[0].extensions.errors[0]).toMatchObject({ pointer: '/evidence/readings/0/unit' });
    const stale = await graphql(
      api,
      org.keys.technician,
      'mutation { closeCase(id: "01980000-0000-7000-8000-000000000001", input: { outcome: declined }, expectedVersion: 1) { id } }',
    );
    expect(stale.body.errors[0].extensions).toMatchObject({ code: 'cases/not_found', status: 404 });
    const forbidden = await graphql(api, org.keys.director, OPEN, { input: { ...input, evidence: {} } });
    expect(forbidden.body.errors[0].extensions.code).toBe('access/forbidden');
    const anonymous = await graphql(api, null, '{ me { role } }');
    expect(anonymous.status).toBe(401);
  });

  it('show the board and the return rates', async () => {
    const board = await graphql(
      api,
      org.keys.director,
      '{ recurrences { episodes lines { platformCode } cautions } returnRates(input: { fault: filter_cartridge }) { verdict message } }',
    );
    expect(board.body.errors).toBeUndefined();
    expect(board.body.data.returnRates.verdict).toBe('not_enough');
  });

  it('refuse nesting beyond the limit before anything runs', async () => {
    api.takeStatements();
    for (const deep of [
      `{ __schema { types { ${'fields { type { '.repeat(8)} name ${'} }'.repeat(8)} } } }`,
      `{ cases { data { vehicle { ${'platform { '.repeat(8)} id ${'} '.repeat(8)} } } } }`,
    ]) {
      const { body } = await graphql(api, org.keys.director, deep);
      expect(body.errors[0].extensions.code).toBe('graphql/too_large');
    }
    expect(api.takeStatements().filter((name) => !name.startsWith('access.'))).toEqual([]);
  });
});
