import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { request as httpRequest, type IncomingHttpHeaders } from 'node:http';
import { connect } from 'node:net';
import { join } from 'node:path';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it, jest } from '@jest/globals';
import fastifyOf from 'fastify';
import { parse } from 'yaml';
import { DiagnosisController } from '#apps/api/diagnosis/diagnosis.controller.js';
import { SIMILAR_QUESTION_EXAMPLE } from '#apps/api/diagnosis/diagnosis.examples.js';
import { preferredCoding } from '#apps/api/http/compression.js';
import { Readiness } from '#apps/api/http/health.controller.js';
import { loggerOptions } from '#apps/api/http/logging.js';
import { openApiDocument } from '#apps/api/http/openapi.js';
import { describedOperations, Operation } from '#apps/api/http/operation.js';
import { shedLoad } from '#apps/api/http/overload.js';
import { PERMISSIONS, Problem } from '#libs/contracts/index.js';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { ROOT } from './documents.js';

const ENDING = { since: '2026-01-15', sunset: '2027-02-01', instead: 'Ask GET /v1/me.', successor: '/v1/me' };
let api: TestApi;
let org: TestOrganisation;
beforeAll(async () => {
  // The list of units as if it were to end: the mechanism is there before anything needs it.
  const units = describedOperations().find(({ id }) => id === 'listUnits')!;
  const listUnits = Object.getOwnPropertyDescriptor(DiagnosisController.prototype, 'listUnits')!;
  Operation({ ...units, deprecated: ENDING })(DiagnosisController.prototype, 'listUnits', listUnits);
  api = await testApi({ securityContact: 'mailto:security@region.example' });
  org = await testOrganisation(api);
  for (let i = 0; i < 12; i++) await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop(`quay-${i}`));
});
afterAll(() => api?.close());

interface Raw {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly bytes: Buffer;
}

/** One request whose answer is not unpacked on the way. */
function raw(path: string, headers: Record<string, string> = {}, method = 'GET', body?: string): Promise<Raw> {
  return new Promise((resolve, reject) => {
    const sent = httpRequest(`${api.url}${path}`, { method, headers }, (response) => {
      const parts: Buffer[] = [];
      response.on('data', (part: Buffer) => parts.push(part));
      response.on('end', () => resolve({ status: response.statusCode!, headers: response.headers, bytes: Buffer.concat(parts) }));
    });
    sent.on('error', reject).end(body);
  });
}
const asked = (encoding: string) => ({ authorization: `Bearer ${org.keys.administrator}`, 'accept-encoding': encoding });

describe('compression', () => {
  it.each([
    ['br', 'br'],
    ['gzip, deflate, br', 'br'],
    ['gzip;q=1, br;q=0.5', 'gzip'],
    ['*', 'br'],
    ['br;q=0, gzip;q=0', null],
    ['deflate, identity', null],
  ])('of "%s" is %s', (header, coding) => expect(preferredCoding(header)).toBe(coding));

  it('makes lists smaller without changing them, and says what it depends on', async () => {
    const plain = await raw('/v1/shops', asked('identity'));
    expect(plain.headers['content-encoding']).toBeUndefined();
    for (const [coding, unpack] of [
      ['br', brotliDecompressSync],
      ['gzip', gunzipSync],
    ] as const) {
      const packed = await raw('/v1/shops', asked(coding));
      expect(packed.headers).toMatchObject({ 'content-encoding': coding, vary: 'Authorization, Cookie, Accept-Encoding' });
      expect(unpack(packed.bytes).equals(plain.bytes)).toBe(true);
      expect(packed.bytes.length).toBeLessThan(plain.bytes.length / 2);
    }
  });

  it('packs what is streamed as it comes: a whole export, a script of the documentation', async () => {
    const plain = await raw('/v1/export', asked('identity'));
    const packed = await raw('/v1/export', asked('gzip'));
    // One line more: that the first export was made stands in the audit trail.
    expect(gunzipSync(packed.bytes).toString().split('\n').length).toBe(plain.bytes.toString().split('\n').length + 1);
    const script = await raw('/docs/assets/swagger-ui-bundle.js', { 'accept-encoding': 'br' });
    expect([script.status, script.headers['content-encoding'], script.headers['content-length']]).toEqual([200, 'br', undefined]);
    expect(brotliDecompressSync(script.bytes).length).toBeGreaterThan(500_000);
  });

  it('does not say of a problem what was true of the stream that broke before its first byte', async () => {
    const broken = jest.spyOn(api.casebook.leaving, 'exportAll').mockImplementation(async function* () {
      yield await Promise.reject(new Error('the database went away'));
    });
    const answer = await raw('/v1/export', asked('br'));
    broken.mockRestore();
    expect([answer.status, answer.headers['content-encoding'], answer.headers['content-disposition']]).toEqual([500, undefined, undefined]);
    expect(JSON.parse(answer.bytes.toString())).toMatchObject({ status: 500, code: 'internal' });
  });

  it('leaves alone fresh secrets, tagged resources, and the asking for the head', async () => {
    const body = JSON.stringify({ name: 'k'.repeat(100), role: 'technician', shopIds: null, expiresAt: null });
    const issued = await raw('/v1/keys', { ...asked('br'), 'content-type': 'application/json' }, 'POST', body);
    expect([issued.status, issued.headers['cache-control'], issued.headers['content-encoding']]).toEqual([
      201,
      'no-store, no-transform',
      undefined,
    ]);
    for (const { id, secret } of describedOperations()) {
      expect([id, secret === true]).toEqual([id, ['issueKey', 'rotateKey', 'createWebhook', 'rotateWebhookSecret'].includes(id)]);
    }
    const { body: shops } = await request(api, org.keys.administrator, 'GET', '/v1/shops');
    const shop = await raw(`/v1/shops/${shops.data[0].id}`, asked('br'));
    expect(shop.bytes.length).toBeGreaterThan(1_024 / 4);
    expect([shop.headers.etag, shop.headers['content-encoding']]).toEqual(['"1"', undefined]);
    expect((await raw('/v1/shops', asked('br'), 'HEAD')).headers['content-encoding']).toBeUndefined();
  });
});

describe('an operation that will end', () => {
  it('says since when, until when and what comes instead, on every answer and in the description', async () => {
    const { headers } = await request(api, null, 'GET', '/v1/units');
    // RFC 9745, section 2.1: seconds since 1970 as a structured date. RFC 8594, section 3: an HTTP date.
    expect(headers.get('deprecation')).toBe('@1768435200');
    expect(headers.get('sunset')).toBe('Mon, 01 Feb 2027 00:00:00 GMT');
    expect(headers.get('link')).toBe('</docs>; rel="deprecation"; type="text/html", </v1/me>; rel="successor-version"');
    const { paths } = openApiDocument('1.0.0') as { paths: Record<string, Record<string, object>> };
    expect(paths['/v1/units']!['get']).toMatchObject({ deprecated: true, description: expect.stringContaining('Ask GET /v1/me.') });
    expect((await request(api, null, 'GET', '/v1/shops')).headers.get('deprecation')).toBeNull();
  });

  it('gives twelve months of notice, or is not described at all', () => {
    const short = { ...ENDING, sunset: '2027-01-14' };
    const facts = { ...describedOperations()[0]!, deprecated: short };
    expect(() => Operation(facts)(class {}.prototype, 'none', { value: () => 0 })).toThrow(/12 months/);
  });
});

describe('what machines look for first', () => {
  it('the catalogue leads to both descriptions, and every link in it to something', async () => {
    const answer = await request(api, null, 'GET', '/.well-known/api-catalog');
    expect(answer.headers.get('content-type')).toMatch(
      /^application\/linkset\+json; profile="https:\/\/www\.rfc-editor\.org\/info\/rfc9727"/,
    );
    const links = (answer.body.linkset as Record<string, { href: string; type: string }[]>[]).flatMap(({ anchor: _, ...relations }) =>
      Object.values(relations).flat(),
    );
    expect(links.length).toBeGreaterThan(4);
    for (const { href, type } of links) {
      expect(href.startsWith(api.url)).toBe(true);
      const found = await fetch(href);
      expect([href, found.status, found.headers.get('content-type')!.split(';')[0]]).toEqual([href, 200, type.split(';')[0]]);
    }
    const [json, yaml] = await Promise.all(['json', 'yaml'].map(async (kind) => (await fetch(`${api.url}/openapi.${kind}`)).text()));
    expect(parse(yaml!)).toEqual(JSON.parse(json!));
  });

  it('the protected resource says how to be let in', async () => {
    const { body } = await request(api, null, 'GET', '/.well-known/oauth-protected-resource');
    expect(body).toMatchObject({ resource: api.url, bearer_methods_supported: ['header'], scopes_supported: [...PERMISSIONS] });
  });

  it('security.txt names a contact and a day within a year', async () => {
    const { body, headers } = await request(api, null, 'GET', '/.well-known/security.txt');
    expect(headers.get('content-type')).toBe('text/plain; charset=utf-8');
    expect(body).toMatch(/^Contact: mailto:security@region\.example\r\nExpires: \d{4}-\d\d-\d\dT00:00:00\.000Z\r\n/);
    const days = (Date.parse(/Expires: (\S+)/.exec(body)![1]!) - Date.now()) / 86_400_000;
    expect(days).toBeGreaterThan(170);
    expect(days).toBeLessThan(365);
  });
});

describe('a refused credential', () => {
  const metadata = () => `Bearer realm="coolback", resource_metadata="${api.url}/.well-known/oauth-protected-resource"`;
  it.each([
    ['none', null, 401, ''],
    ['a damaged one', 'cbk_damaged', 401, ', error="invalid_token"'],
  ])('%s', async (_what, key, status, error) => {
    const answer = await request(api, key, 'GET', '/v1/shops');
    expect([answer.status, answer.headers.get('www-authenticate')]).toEqual([status, `${metadata()}${error}`]);
    const graph = await request(api, key, 'POST', '/graphql', { query: '{ me { role } }' });
    expect(graph.headers.get('www-authenticate')).toBe(`${metadata()}${error}`);
  });

  it('one without the right says which one', async () => {
    const { status, headers } = await request(api, org.keys.technician, 'GET', '/v1/keys');
    expect([status, headers.get('www-authenticate')]).toEqual([403, `${metadata()}, error="insufficient_scope", scope="keys:read"`]);
  });
});

describe('what is no request of ours is refused like any other', () => {
  const problemOf = ({ status, headers, bytes }: Raw): Problem => {
    expect(headers['content-type']).toBe('application/problem+json; charset=utf-8');
    const problem = Problem.parse(JSON.parse(bytes.toString()));
    expect(problem.status).toBe(status);
    return problem;
  };

  it('a wrong method, with those that are right', async () => {
    const answer = await raw('/v1/shops', asked('identity'), 'DELETE');
    expect([problemOf(answer).code, answer.headers.allow]).toEqual(['request/method_not_allowed', 'GET, HEAD, POST']);
    const other = await raw('/v1/cases/some-id/repairs', asked('identity'), 'PUT');
    expect([other.status, other.headers.allow]).toEqual([405, 'POST']);
    expect(problemOf(await raw('/v1/nothing', asked('identity'), 'DELETE')).code).toBe('request/no_such_route');
  });

  it('a PATCH in another language, with ours', async () => {
    const headers = { ...asked('identity'), 'content-type': 'application/json-patch+json', 'if-match': '"1"' };
    const answer = await raw('/v1/shops/0197a2b4-7c00-7000-8000-000000000001', headers, 'PATCH', '[]');
    expect([problemOf(answer).status, answer.headers['accept-patch']]).toEqual([415, 'application/merge-patch+json']);
  });

  it('an address that cannot be decoded, and one that is too long', async () => {
    expect(problemOf(await raw('/v1/shops/%zz', asked('identity'))).code).toBe('request/unreadable');
    expect(problemOf(await raw(`/v1/shops/${'x'.repeat(300)}`, asked('identity'))).status).toBeLessThan(500);
  });

  it.each([
    ['no HTTP at all', 'HELLO\r\n\r\n', 400, 'request/unreadable'],
    [
      'two lengths',
      'POST /v1/cases HTTP/1.1\r\nhost: a\r\ncontent-length: 3\r\ntransfer-encoding: chunked\r\n\r\n0\r\n\r\n',
      400,
      'request/unreadable',
    ],
    ['headers without end', `GET /livez HTTP/1.1\r\nhost: a\r\nx: ${'y'.repeat(40_000)}\r\n\r\n`, 431, 'request/headers_too_large'],
  ])('%s', async (_what, bytes, status, code) => {
    const socket = connect(Number(new URL(api.url).port), '127.0.0.1');
    let text = '';
    socket.on('data', (part) => {
      text += part.toString();
    });
    socket.on('error', () => {});
    socket.write(bytes);
    await once(socket, 'close');
    expect(text).toMatch(new RegExp(`^HTTP/1.1 ${status} `));
    const problem = Problem.parse(JSON.parse(text.split('\r\n\r\n')[1]!));
    expect([problem.code, problem.status]).toEqual([code, status]);
  });
});

describe('under load', () => {
  it('what could only wait is refused at once, probes are answered', async () => {
    const pool = { waitingCount: 0, options: { max: 10 } };
    const fastify = fastifyOf();
    shedLoad(fastify, pool);
    fastify.setErrorHandler((error, _request, reply) => reply.code(503).send((error as { code?: string }).code));
    for (const path of ['/v1/cases', '/livez']) fastify.get(path, async () => 'served');
    const both = async () => [(await fastify.inject('/v1/cases')).body, (await fastify.inject('/livez')).body];
    expect(await both()).toEqual(['served', 'served']);
    pool.waitingCount = 640;
    expect(await both()).toEqual(['service/overloaded', 'served']);
    await fastify.close();
  });

  it('the measures tell routes, operations and the pool, and no organisation', async () => {
    await request(api, org.keys.director, 'POST', '/graphql', { query: 'query Mine { me { role } }' });
    const { body } = await request(api, null, 'GET', '/metrics');
    expect(body).toMatch(/coolback_http_request_seconds_count\{method="GET",route="\/v1\/shops\/:id",status="200"\} \d/);
    expect(body).toMatch(/coolback_graphql_operation_seconds_count\{kind="query",field="me",outcome="data"\} \d/);
    expect(body).toMatch(/coolback_pool_waiting_requests 0\n/);
    expect(body).toMatch(/nodejs_eventloop_lag_p99_seconds /);
    expect(body).not.toContain(org.orgId);
    expect(body).not.toContain('Mine');
  });
});

describe('a walk through the pages of a list', () => {
  const AT = '2026-03-01T10:00:00.123456Z';
  let columns: string[];
  /** Copies of the one case there is, all of one microsecond. */
  const copies = (count: number) =>
    api.casebook.context.inTenant(org.orgId, async (tx) => {
      columns ??= (
        await tx.query<{ name: string }>({
          name: 'test.columns',
          text: `select column_name as name from information_schema.columns where table_name = 'shop_case' and is_generated = 'NEVER'`,
          values: [],
        })
      ).rows.map(({ name }) => name);
      const given: Readonly<Record<string, string>> = { id: 'gen_random_uuid()', opened_at: '$2::timestamptz' };
      const { rows } = await tx.query<{ id: string }>({
        name: 'test.copies',
        text: `insert into shop_case (${columns.join()}) select ${columns.map((name) => given[name] ?? name).join()}
                 from (select * from shop_case where org_id = $1 limit 1) one, generate_series(1, $3) returning id`,
        values: [org.orgId, AT, count],
      });
      return rows.map(({ id }) => id);
    });

  it('meets every row once while others are added and changed, five hundred of them on one microsecond', async () => {
    await request(api, org.keys.technician, 'POST', '/v1/cases', { shopCode: 'quay-1', vehicle: {}, complaint: 'noise', openedAt: AT });
    const old = await copies(500);
    const seen: string[] = [];
    for (let path: string | null = '/v1/cases?first=37'; path !== null; ) {
      const page = await request(api, org.keys.technician, 'GET', path);
      seen.push(...page.body.data.map(({ id }: { id: string }) => id));
      path = /^<([^>]+)>; rel="next"$/.exec(page.headers.get('link') ?? '')?.[1] ?? null;
      if (seen.length > 5_000) break;
      await copies(70);
      await api.casebook.context.inTenant(org.orgId, (tx) =>
        tx.query({
          name: 'test.touch',
          text: `update shop_case set status = 'closed', updated_at = now() where id in (select id from shop_case where org_id = $1 order by random() limit 20)`,
          values: [org.orgId],
        }),
      );
    }
    expect(new Set(seen).size).toBe(seen.length);
    expect(old.filter((id) => !seen.includes(id))).toEqual([]);
  });

  it('is not led astray by a cursor of another list, of another filter, or a damaged one', async () => {
    const { body } = await request(api, org.keys.technician, 'GET', '/v1/cases?first=2');
    for (const path of [
      `/v1/cases?status=open&after=${body.next}`,
      `/v1/shops?after=${body.next}`,
      `/v1/cases?after=${body.next.slice(0, -3)}`,
    ]) {
      const refused = await request(api, org.keys.technician, 'GET', path);
      expect([path, refused.status, refused.body.code]).toEqual([path, 422, 'paging/bad_cursor']);
    }
    const older = Buffer.from(
      Buffer.from(body.next, 'base64url')
        .toString()
        .replace(/^\[\d+,/, '[0,'),
    ).toString('base64url');
    expect((await request(api, org.keys.technician, 'GET', `/v1/cases?after=${older}`)).body.detail).toContain('another version');
  });
});

describe('a request from outside', () => {
  it('gets its trace back, the quota of its key, no store, and no leave for pages of other sites', async () => {
    const headers = { traceparent: '00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01', origin: 'https://elsewhere.example' };
    const answer = await request(api, org.keys.technician, 'GET', '/v1/cases?first=0', undefined, headers);
    expect([answer.status, answer.body.traceId]).toEqual([422, '4bf92f3577b34da6a3ce929d0e0e4736']);
    expect(answer.headers.get('ratelimit-policy')).toBe('"credential";q=1000000;w=60');
    expect(answer.headers.get('ratelimit')).toMatch(/^"credential";r=\d+;t=\d+$/);
    expect(answer.headers.get('cache-control')).toBe('no-store');
    expect([...answer.headers.keys()].filter((name) => name.startsWith('access-control'))).toEqual([]);
    expect(answer.headers.get('content-security-policy')).toContain("default-src 'self'");
  });

  it('a question by QUERY is answered as by POST, and both say what they take', async () => {
    const [query, post] = await Promise.all(
      ['QUERY', 'POST'].map((method) => request(api, org.keys.technician, method, '/v1/similar-cases', SIMILAR_QUESTION_EXAMPLE)),
    );
    expect([query!.status, query!.body]).toEqual([200, post!.body]);
    for (const { headers } of [query!, post!]) expect(headers.get('accept-query')).toBe('"application/json"');
  });

  it('is written down as one line without its key, whatever it holds', () => {
    const lines: string[] = [];
    const { log } = fastifyOf({ logger: { ...loggerOptions('info'), stream: { write: (line: string) => lines.push(line) } } });
    const forged = 'a\r\n{"level":50}\u001b[31m';
    const request = { headers: { authorization: 'Bearer cbk_secret', cookie: 'coolback_session=secret', host: 'a' } };
    log.error(
      {
        req: request,
        err: new Error(forged, { cause: Object.assign(new Error('row of a person'), { code: '23514', detail: 'row of a person' }) }),
      },
      forged,
    );
    expect(lines).toHaveLength(1);
    for (const control of ['\r', '\n', '\u001b']) expect(lines[0]!.trimEnd()).not.toContain(control);
    expect(lines[0]).not.toMatch(/cbk_secret|session=secret|row of a person/);
    expect(JSON.parse(lines[0]!)).toMatchObject({ service: 'api', msg: forged, err: { message: forged, cause: { code: '23514' } } });
  });

  it('is sent elsewhere by the probe while the server ends, and served until then', async () => {
    expect((await request(api, null, 'GET', '/readyz')).status).toBe(200);
    api.app.get(Readiness).draining = true;
    expect([(await request(api, null, 'GET', '/readyz')).status, (await request(api, null, 'GET', '/livez')).status]).toEqual([503, 200]);
    api.app.get(Readiness).draining = false;
  });
});

describe('the table of conventions', () => {
  it('names for every row a test that is there', () => {
    const page = readFileSync(join(ROOT, 'docs', 'conventions.md'), 'utf8');
    const rows = [...page.matchAll(/^\| \*\*(.+?)\*\* \|.*\|$/gm)].map(([row, name]) => ({ name: name!, row }));
    expect(rows.length).toBeGreaterThan(30);
    for (const { name, row } of rows) {
      const proofs = [...row.matchAll(/`((?:tests|libs|apps)\/[\w/.-]+\.test\.ts)`(?: “([^”]+)”)?/g)];
      expect([name, proofs.length > 0]).toEqual([name, true]);
      for (const [, file, title] of proofs) {
        const source = readFileSync(join(ROOT, file!), 'utf8');
        expect([name, file, title === undefined || source.includes(title)]).toEqual([name, file, true]);
      }
    }
  });
});
