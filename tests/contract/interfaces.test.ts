import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { PROBLEMS } from '#apps/api/docs/problem-pages.js';
import { NEW_PLATFORM_EXAMPLE } from '#apps/api/platforms/platforms.examples.js';
import { NEW_SHOP_EXAMPLE } from '#apps/api/shops/shops.examples.js';
import { STATUS_OF_KIND } from '#libs/contracts/index.js';
import { graphql, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { ROOT } from './documents.js';

const PAGE = readFileSync(join(ROOT, 'docs', 'interfaces.md'), 'utf8');
let api: TestApi;
let org: TestOrganisation;
const known = new Map<string, string>();

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  for (const [path, body] of [
    ['/v1/shops', NEW_SHOP_EXAMPLE],
    ['/v1/platforms', NEW_PLATFORM_EXAMPLE],
  ] as const) {
    expect((await request(api, org.keys.administrator, 'POST', path, body)).status).toBe(201);
  }
});
afterAll(() => api?.close());

const filled = (text: string) => text.replace(/\{(case|etag)\}/g, (_, name: string) => known.get(name)!);

describe('the page for integrators', () => {
  const blocks = [...PAGE.matchAll(/```http (\d+)\n(\w+) (\S+)\n((?:[\w-]+: .+\n)*)(?:\n([\s\S]*?))?```/g)];
  it('has requests to send', () => {
    expect(blocks.length).toBe([...PAGE.matchAll(/```http/g)].length);
    expect(blocks.length).toBeGreaterThan(4);
  });

  it.each(
    blocks.map(([, status, method, path, headers, body]) => ({
      status: Number(status),
      method: method!,
      path: path!,
      headers: headers!,
      body,
    })),
  )('$method $path is answered with $status', async ({ status, method, path, headers, body }) => {
    const sent = Object.fromEntries(
      [...headers.matchAll(/^([\w-]+): (.+)$/gm)].map(([, name, value]) => [name!.toLowerCase(), filled(value!)]),
    );
    const answer = await request(api, org.keys.integrator, method, filled(path), body === undefined ? undefined : JSON.parse(body), sent);
    expect([answer.status, answer.status === status ? null : answer.body]).toEqual([status, null]);
    if (answer.status === 422) expect(answer.body.errors).toHaveLength(3);
    if (answer.headers.get('etag')) known.set('etag', answer.headers.get('etag')!).set('case', answer.body.id);
  });

  it('has a query that runs', async () => {
    const [query] = [...PAGE.matchAll(/```graphql\n([\s\S]*?)```/g)].map(([, text]) => text!);
    const { status, body } = await graphql(api, org.keys.integrator, query!);
    expect([status, body.errors]).toEqual([200, undefined]);
    expect(body.data.cases.data[0]).toMatchObject({ complaint: 'cools_not' });
  });

  it('names every status a refusal can have, and codes that exist', () => {
    const table = PAGE.slice(PAGE.indexOf('## Refusals'), PAGE.indexOf('## GraphQL'));
    const statuses = new Set([...table.matchAll(/^\| ([\d, ]+) \|/gm)].flatMap(([, list]) => list!.split(', ').map(Number)));
    for (const status of Object.values(STATUS_OF_KIND)) expect(statuses).toContain(status);
    const codes = [...PAGE.matchAll(/`([a-z]+\/[a-z_]+)`/g)].map(([, code]) => code!).filter((code) => !code.startsWith('application/'));
    expect(codes.length).toBeGreaterThan(3);
    expect(codes.filter((code) => !PROBLEMS.some((one) => one.code === code))).toEqual([]);
  });

  it('is right about a resource that was not changed', async () => {
    const path = `/v1/cases/${known.get('case')}`;
    const read = await request(api, org.keys.integrator, 'GET', path);
    const again = await request(api, org.keys.integrator, 'GET', path, undefined, { 'if-none-match': read.headers.get('etag')! });
    expect([again.status, again.body]).toEqual([304, '']);
  });
});
