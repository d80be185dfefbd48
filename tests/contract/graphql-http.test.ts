import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { getIntrospectionQuery } from 'graphql';
import { serverAudits } from 'graphql-http';
import { type Answer, graphql, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

/** GraphQL over HTTP: the reference implementation's audit, then what this server adds: limits, cost, trusted documents. */
let api: TestApi;
let org: TestOrganisation;
const MODERN = 'application/graphql-response+json';

beforeAll(async () => {
  api = await testApi({ ratePerMinute: 100_000 });
  org = await testOrganisation(api);
});
afterAll(() => api?.close());

const ask = (body: unknown, headers: Record<string, string> = {}, key: string | null = org.keys.administrator): Promise<Answer> =>
  request(api, key, 'POST', '/graphql', body, headers);
const get = (parameters: Record<string, string>, headers: Record<string, string> = {}) =>
  request(api, org.keys.administrator, 'GET', `/graphql?${new URLSearchParams(parameters)}`, undefined, headers);

describe('the audit of graphql-http', () => {
  const audits = serverAudits({
    url: () => `${api.url}/graphql`,
    fetchFn: (url: string, init: RequestInit = {}) =>
      fetch(url, { ...init, headers: { ...init.headers, authorization: `Bearer ${org.keys.administrator}` } }),
  });
  it('has 61 checks', () => expect(audits.length).toBe(61));
  it.each(audits.map((audit) => [`${audit.id} ${audit.name}`, audit] as const))('%s', async (_name, audit) => {
    const result = await audit.fn();
    expect(result.status === 'ok' ? 'ok' : result.reason).toBe('ok');
  });
});

describe('answers', () => {
  it('carry statuses in the newer media type, and 200 for all well-formed GraphQL in the older', async () => {
    for (const [query, status] of [
      ['{ me { role } }', 200],
      ['{ nothing }', 400],
      ['{', 400],
      ['query ($id: ID!) { case(id: $id) { id } }', 400],
    ] as const) {
      expect([query, (await ask({ query }, { accept: MODERN })).status]).toEqual([query, status]);
      expect([query, (await ask({ query })).status]).toEqual([query, 200]);
    }
    const partial = await ask({ query: '{ case(id: "01980000-0000-7000-8000-000000000001") { id } }' }, { accept: MODERN });
    expect([partial.status, partial.body.data, partial.body.errors[0].extensions.code]).toEqual([200, null, 'cases/not_found']);
    expect((await ask({ query: '{ me { role } }' }, { accept: `${MODERN};q=0.5, application/json` })).headers.get('content-type')).toMatch(
      /^application\/json/,
    );
  });

  it('refuse who may not ask with 401 and 403, a change by GET with 405, batches and forms with 4xx', async () => {
    expect((await ask({ query: '{ me { role } }' }, {}, null)).status).toBe(401);
    const change = await get({ query: 'mutation { revokeKey(id: "01980000-0000-7000-8000-000000000001") { id } }' });
    expect([change.status, change.headers.get('allow')]).toEqual([405, 'POST']);
    expect((await ask([{ query: '{ me { role } }' }])).status).toBe(400);
    expect((await ask({ query: '{ me { role } }', documentId: 'sha256:0' })).status).toBe(400);
    expect((await get({ query: '{ me { role } }', variables: '{"a":1,"a":2}' })).status).toBe(400);
    expect((await ask('query=%7Bme%7Brole%7D%7D', { 'content-type': 'application/x-www-form-urlencoded' })).status).toBe(415);
  });

  it('run the operation that is named, every time, also when another of the same document is compiled', async () => {
    const query = 'query A { me { role } } query B { me { organisationName } } ';
    for (let i = 0; i < 3; i++) {
      expect((await ask({ query, operationName: 'A' })).body.data).toEqual({ me: { role: 'administrator' } });
      expect((await ask({ query, operationName: 'B' })).body.data).toEqual({ me: { organisationName: 'Test region' } });
    }
    expect((await ask({ query })).body.errors[0].message).toMatch(/operationName/);
    expect((await ask({ query, operationName: 'C' })).body.errors[0].message).toMatch(/no operation named "C"/);
  });
});

describe('what one document may hold', () => {
  const aliases = (n: number, field: string) => `{ ${Array.from({ length: n }, (_, i) => `a${i}: ${field}`).join(' ')} }`;
  const HOSTILE: readonly (readonly [string, string])[] = [
    ['10 000 levels', `{ me ${'{ a '.repeat(10_000)}${'}'.repeat(10_000)} }`],
    ['11 levels', '{ cases { data { shop { a { b { c { d { e { f { g { h } } } } } } } } } } }'],
    ['10 000 aliases', aliases(10_000, 'me { role }')],
    ['16 aliases of __typename', aliases(16, '__typename')],
    ['aliases by fragments', `query { ${'...F '.repeat(8)} } fragment F on Query { a: __typename b: __typename }`],
    ['10 000 directives', `{ me ${'@include(if: true) '.repeat(10_000)} { role } }`],
    ['11 directives', `{ me { role ${'@include(if: true) '.repeat(11)} } }`],
    ['six root fields', '{ me { role } units { code } faults { code } shops { next } cases { next } keys { next } }'],
    ['a query of a megabyte', `{ me { role } } # ${'x'.repeat(1_000_000)}`],
    ['a hundred introspections', aliases(100, '__schema { types { name } }')],
    ['a circle of introspection', `{ __schema { ${'types { fields { type { '.repeat(6)} name ${'} } } '.repeat(6)} } }`],
    ['fragments in a circle', '{ me { ...A } } fragment A on Me { role ...B } fragment B on Me { role ...A }'],
    ['one variable twice', 'query ($a: ID!, $a: ID!) { case(id: $a) { id } }'],
    [
      'fragments that multiply',
      `{ me { ...F0 } } ${Array.from({ length: 30 }, (_, i) => `fragment F${i} on Me { ...F${i + 1} x${i}: role ...F${i + 1} }`).join(' ')} fragment F30 on Me { role }`,
    ],
  ];

  it.each(HOSTILE)('refuses %s before any statement is sent', async (_name, query) => {
    await ask({ query: '{ me { role } }' });
    api.takeStatements();
    const answer = await ask({ query }, { accept: MODERN });
    expect([answer.status, answer.body.data]).toEqual([400, undefined]);
    // Whose key it is may be looked up again: that is known for five seconds only.
    expect(api.takeStatements().filter((name) => name !== 'access.credential')).toEqual([]);
  });

  it('refuses a batch of a hundred, and takes what tools ask to know the schema', async () => {
    expect((await ask(Array.from({ length: 100 }, () => ({ query: '{ me { role } }' })))).status).toBe(400);
    const known = await ask({ query: getIntrospectionQuery() });
    expect(known.body.errors).toBeUndefined();
    expect(known.body.data.__schema.types.length).toBeGreaterThan(100);
  });

  it('refuses more than could be read at once, by the variables of the request', async () => {
    const rows = (n: number) =>
      `${n === 0 ? '' : `a${n}: `}cases(first: $n) { data { shop { id } platform { id } vehicle { platform { id } } } }`;
    const query = `query ($n: Int) { ${[0, 1, 2, 3, 4].map(rows).join(' ')} }`;
    expect((await ask({ query, variables: { n: 10 } })).body.extensions.cost.nodes).toBe(250);
    api.takeStatements();
    const refused = await ask({ query, variables: { n: 100 } });
    expect([refused.status, refused.body.errors[0].message]).toEqual([400, 'The query has 2500 nodes; the limit is 2000.']);
    expect(api.takeStatements()).toEqual([]);
  });

  it('says which limit was passed', async () => {
    const { body } = await ask({ query: aliases(16, '__typename') });
    expect(body.errors[0].message).toBe('The query has 16 aliases; the limit is 15.');
    expect(body.errors[0].extensions).toMatchObject({ code: 'graphql/too_large', status: 400 });
  });
});

describe('cost', () => {
  it('is known before anything runs, told, and spent from the minute of the key', async () => {
    const query = 'query ($n: Int) { cases(first: $n) { data { id shop { code } platform { code } vehicle { maker } } } }';
    for (const [first, nodes, points] of [
      [1, 4, 1],
      [50, 200, 2],
      [100, 400, 4],
    ]) {
      const before = (await ask({ query: '{ me { role } }' })).body.extensions.cost;
      const answer = await ask({ query, variables: { n: first } });
      expect(answer.body.extensions.cost).toEqual({
        requested: points,
        nodes,
        remaining: before.remaining - points!,
        resetAt: before.resetAt,
      });
      expect(answer.headers.get('ratelimit')).toBe(
        `"credential";r=${before.remaining - points!};t=${answer.headers.get('ratelimit')!.split('t=')[1]}`,
      );
    }
    const change = await graphql(api, org.keys.administrator, 'mutation ($input: NewShopInput!) { addShop(input: $input) { id } }', {
      input: newShop('cost'),
    });
    expect(change.body.extensions.cost.requested).toBe(5);
    expect((await ask({ query: '{ cases { data { id } } }' })).body.extensions.cost.nodes).toBe(20);
  });

  it('refuses with 429 when the minute is used up, before anything runs', async () => {
    const poor = await testApi({ ratePerMinute: 10 });
    try {
      const { keys } = await testOrganisation(poor);
      const query = 'query ($n: Int) { cases(first: $n) { data { shop { id } platform { id } vehicle { id } } } }';
      expect((await graphql(poor, keys.director, query, { n: 100 })).status).toBe(200);
      expect((await graphql(poor, keys.director, query, { n: 100 })).status).toBe(200);
      poor.takeStatements();
      const refused = await graphql(poor, keys.director, query, { n: 100 });
      expect([refused.status, refused.body.code]).toEqual([429, 'request/too_many']);
      expect(Number(refused.headers.get('retry-after'))).toBeGreaterThan(0);
      expect(poor.takeStatements()).toEqual([]);
    } finally {
      await poor.close();
    }
  });
});

describe('trusted documents', () => {
  const query = 'query Some($n: Int) { shops(first: $n) { data { code } } }';
  const documentId = `sha256:${createHash('sha256').update(query).digest('hex')}`;

  it('are asked for by their hash, with POST and with a GET that may be kept and asked again', async () => {
    const unknown = await ask({ documentId });
    expect([unknown.status, unknown.body.errors.length, unknown.body.errors[0].extensions.code]).toEqual([404, 1, 'documents/not_found']);
    const trusted = await request(api, org.keys.integrator, 'POST', '/v1/documents', { query });
    expect([trusted.status, trusted.body.documentId]).toEqual([201, documentId]);
    expect((await request(api, org.keys.integrator, 'POST', '/v1/documents', { query })).body.id).toBe(trusted.body.id);
    const posted = await ask({ documentId, variables: { n: 5 } });
    expect(posted.body.data.shops.data).toEqual([{ code: 'cost' }]);
    const got = await get({ documentId, variables: '{"n":5}' });
    expect(got.body).toEqual({ data: posted.body.data });
    expect(got.headers.get('cache-control')).toBe('private, no-cache');
    expect(got.headers.get('vary')).toBe('Authorization, Cookie, Accept');
    const again = await get({ documentId, variables: '{"n":5}' }, { 'if-none-match': got.headers.get('etag')! });
    expect([again.status, again.body]).toEqual([304, '']);
    await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('another'));
    expect((await get({ documentId, variables: '{"n":5}' }, { 'if-none-match': got.headers.get('etag')! })).status).toBe(200);
  });

  it('are all that a key held to them may ask, and it trusts none itself', async () => {
    const issued = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'kiosk',
      role: 'integrator',
      shopIds: null,
      expiresAt: null,
      trustedDocumentsOnly: true,
    });
    expect(issued.body.key.trustedDocumentsOnly).toBe(true);
    const strict = issued.body.secret as string;
    expect((await ask({ documentId }, {}, strict)).body.data.shops.data.length).toBe(2);
    const refused = await ask({ query }, {}, strict);
    expect([refused.status, refused.body.errors[0].extensions.code]).toEqual([403, 'documents/only_trusted']);
    expect((await request(api, strict, 'POST', '/v1/documents', { query: '{ me { role } }' })).status).toBe(403);
    const opened = await request(api, strict, 'POST', '/v1/session', { shared: false });
    const cookie = opened.headers.get('set-cookie')!.split(';')[0]!;
    expect((await request(api, null, 'POST', '/graphql', { query }, { cookie, 'sec-fetch-site': 'same-origin' })).status).toBe(403);
  });

  it('must be documents that could be asked, and belong to one organisation', async () => {
    for (const bad of ['{ nothing }', '{', 'query A { me { role } } query B { me { role } }', `{ ${'a: __typename '.repeat(16)} }`])
      expect((await request(api, org.keys.integrator, 'POST', '/v1/documents', { query: bad })).status).toBeGreaterThanOrEqual(400);
    const other = await testOrganisation(api, 'Other region');
    expect((await ask({ documentId }, {}, other.keys.administrator)).status).toBe(404);
    const { body } = await request(api, org.keys.integrator, 'GET', '/v1/documents');
    await request(api, org.keys.integrator, 'DELETE', `/v1/documents/${body.data[0].id}`);
    expect((await ask({ documentId })).status).toBe(404);
  });
});
