import { createServer, type Server } from 'node:http';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { exportJWK, exportSPKI, generateKeyPair, type JWTPayload, SignJWT } from 'jose';
import { openCasebook } from '#libs/casebook/index.js';
import { instantText } from '#libs/contracts/index.js';
import { request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

/** Access tokens of a sign-in service that runs here, and everything that is not one (RFC 8725, RFC 9068). */
let now = Date.parse('2026-06-01T08:00:00Z');
let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;
let service: Server;
let issuer: string;
let asked: string[] = [];
let memberId: string;
const pairs = new Map<string, Awaited<ReturnType<typeof generateKeyPair>>>();
const published: string[] = [];
const aud = (orgId = org.orgId) => `urn:uuid:${orgId}`;

async function newKey(kid: string, alg = 'ES256'): Promise<void> {
  pairs.set(kid, await generateKeyPair(alg, { extractable: true }));
  published.push(kid);
}

interface Making {
  readonly kid?: string;
  readonly alg?: string;
  readonly header?: Record<string, unknown>;
  readonly claims?: JWTPayload;
  readonly without?: readonly string[];
}

async function token({ kid = 'first', alg = 'ES256', header = {}, claims = {}, without = [] }: Making = {}): Promise<string> {
  const at = Math.floor(now / 1000);
  const payload: JWTPayload = {
    iss: issuer,
    aud: aud(),
    sub: 'ana@example',
    iat: at,
    exp: at + 300,
    client_id: 'console',
    jti: 'x',
    ...claims,
  };
  for (const claim of without) delete payload[claim];
  return new SignJWT(payload).setProtectedHeader({ alg, kid, typ: 'at+jwt', ...header }).sign(pairs.get(kid)!.privateKey);
}

const me = (secret: string) => request(api, secret, 'GET', '/v1/me');

beforeAll(async () => {
  service = createServer(async (message, reply) => {
    asked.push(message.url!);
    const keys = await Promise.all(published.map(async (kid) => ({ ...(await exportJWK(pairs.get(kid)!.publicKey)), kid, use: 'sig' })));
    reply.setHeader('content-type', 'application/json');
    reply.end(JSON.stringify(message.url === '/keys' ? { keys } : { issuer, jwks_uri: `${issuer}/keys` }));
  });
  await new Promise<void>((resolve) => service.listen(0, '127.0.0.1', resolve));
  issuer = `http://127.0.0.1:${(service.address() as { port: number }).port}`;
  await newKey('first');
  api = await testApi({ clock: () => new Date(now), webhooksToLoopback: true });
  org = await testOrganisation(api);
  other = await testOrganisation(api);
  const made = await request(api, org.keys.administrator, 'POST', '/v1/members', {
    name: 'Ana',
    role: 'technician',
    shopIds: null,
    subject: 'ana@example',
  });
  memberId = made.body.id;
});
afterAll(async () => {
  await api?.close();
  service?.close();
});

describe('a sign-in service', () => {
  it('is trusted by name, and its tokens open what their person may do', async () => {
    expect((await me(await token())).status).toBe(401);
    const set = await request(api, org.keys.administrator, 'POST', '/v1/sign-in-service', { issuer });
    expect([set.status, set.body]).toEqual([200, { issuer, audience: aud(), createdAt: instantText(new Date(now)) }]);
    const answer = await me(await token());
    expect(answer.body).toMatchObject({ organisationId: org.orgId, role: 'technician', memberId, credentialId: memberId });
    expect((await request(api, await token(), 'GET', '/v1/keys')).status).toBe(403);
    const graph = await request(api, await token(), 'POST', '/graphql', { query: '{ me { memberId } }' });
    expect(graph.body.data.me.memberId).toBe(memberId);
  });

  it('narrows by a scope that names permissions', async () => {
    const narrow = await me(await token({ claims: { scope: 'openid cases:read keys:write' } }));
    expect(narrow.body.permissions).toEqual(['cases:read']);
    expect((await me(await token({ claims: { scope: 'openid profile' } }))).body.permissions.length).toBeGreaterThan(3);
  });

  it('signs somebody in to the console for as long as they are active', async () => {
    const shared = await request(api, await token(), 'POST', '/v1/session', { shared: true });
    expect(shared.body.code).toBe('access/shared_needs_key');
    const opened = await request(api, await token(), 'POST', '/v1/session', { shared: false });
    expect([opened.status, opened.body.person?.id]).toEqual([201, memberId]);
    const page = { cookie: opened.headers.get('set-cookie')!.split(';')[0]!, 'sec-fetch-site': 'same-origin' };
    now += 6 * 3_600_000;
    expect((await request(api, null, 'GET', '/v1/cases', undefined, page)).status).toBe(200);
    const patch = (active: boolean, version: string) =>
      request(api, org.keys.administrator, 'PATCH', `/v1/members/${memberId}`, { active }, { 'if-match': version });
    expect((await patch(false, '"1"')).status).toBe(200);
    now += 10_000;
    expect((await request(api, null, 'GET', '/v1/cases', undefined, page)).status).toBe(401);
    expect((await me(await token())).status).toBe(401);
    expect((await patch(true, '"2"')).status).toBe(200);
    now += 10_000;
    expect((await me(await token())).status).toBe(200);
  });

  it('may turn its keys over: a new one is fetched when it is first met', async () => {
    await newKey('second', 'RS256');
    now += 60_000;
    expect((await me(await token({ kid: 'second', alg: 'RS256' }))).status).toBe(200);
  });

  it('is refused inwards, over plain http, and with a subject taken twice', async () => {
    const strict = openCasebook(api.database.pool, Buffer.alloc(32, 7));
    const actor = await strict.access.authenticate(org.keys.administrator, 'test');
    for (const inward of [
      'https://127.0.0.1/',
      'https://169.254.169.254',
      'https://[::1]/',
      'http://login.example',
      'https://localhost',
      'nonsense',
    ])
      await expect(strict.tokens.setSignInService(actor, { issuer: inward })).rejects.toMatchObject({ code: 'access/issuer_refused' });
    const twice = await request(api, org.keys.administrator, 'POST', '/v1/members', {
      name: 'Another Ana',
      role: 'director',
      shopIds: null,
      subject: 'ana@example',
    });
    expect([twice.status, twice.body.code]).toEqual([409, 'access/subject_taken']);
    // One that describes itself as another is not believed.
    const set = (named: string) => request(api, org.keys.administrator, 'POST', '/v1/sign-in-service', { issuer: named });
    expect((await set(`${issuer}/elsewhere`)).status).toBe(200);
    const unreachable = await me(await token({ claims: { iss: `${issuer}/elsewhere` } }));
    expect([unreachable.status, unreachable.body.code]).toEqual([503, 'access/issuer_unreachable']);
    expect((await set(issuer)).status).toBe(200);
  });
});

describe('what is not a token of ours', () => {
  const encode = (part: object) => Buffer.from(JSON.stringify(part)).toString('base64url');
  const FORGED: Readonly<Record<string, () => Promise<string>>> = {
    'of another issuer': () => token({ claims: { iss: 'https://elsewhere.example' } }),
    'for another audience': () => token({ claims: { aud: 'https://api.example' } }),
    'for an organisation that trusts nobody': () => token({ claims: { aud: aud(other.orgId) } }),
    'for two organisations, the first of which trusts nobody': () => token({ claims: { aud: [aud(other.orgId), aud()] } }),
    'that has ended': () => token({ claims: { exp: Math.floor(now / 1000) - 61 } }),
    'that is not valid yet': () => token({ claims: { nbf: Math.floor(now / 1000) + 120 } }),
    'without an end': () => token({ without: ['exp'] }),
    'without a subject': () => token({ without: ['sub'] }),
    'of somebody unknown': () => token({ claims: { sub: 'eve@example' } }),
    'of a subject with NUL': () => token({ claims: { sub: 'ana@example\u0000' } }),
    'of another type': () => token({ header: { typ: 'JWT' } }),
    'that is an identity token without a type': () => token({ header: { typ: undefined } }),
    'with an unknown critical header': async () => {
      const [, body, signature] = (await token()).split('.');
      return `${encode({ alg: 'ES256', kid: 'first', typ: 'at+jwt', crit: ['ours'], ours: true })}.${body}.${signature}`;
    },
    'of an unknown key': async () => {
      pairs.set('unknown', await generateKeyPair('ES256'));
      return token({ kid: 'unknown' });
    },
    'with a path for a key': async () => {
      pairs.set('../../etc/passwd', await generateKeyPair('ES256'));
      return token({ kid: '../../etc/passwd' });
    },
    'with a key of its own in the header': async () => {
      const pair = await generateKeyPair('ES256', { extractable: true });
      pairs.set('own', pair);
      return token({ kid: 'own', header: { jwk: await exportJWK(pair.publicKey) } });
    },
    'with algorithm none': async () => {
      const [, body] = (await token()).split('.');
      return `${encode({ alg: 'none', typ: 'at+jwt' })}.${body}.`;
    },
    'signed with the public key as an HMAC secret': async () => {
      const secret = Buffer.from(await exportSPKI(pairs.get('first')!.publicKey));
      const at = Math.floor(now / 1000);
      return new SignJWT({ iss: issuer, aud: aud(), sub: 'ana@example', iat: at, exp: at + 300 })
        .setProtectedHeader({ alg: 'HS256', kid: 'first', typ: 'at+jwt' })
        .sign(secret);
    },
    'with another signature': async () => {
      const [head, body, signature] = (await token()).split('.');
      return `${head}.${body}.${signature!.startsWith('A') ? 'B' : 'A'}${signature!.slice(1)}`;
    },
    'with another body': async () => {
      const [head, , signature] = (await token()).split('.');
      const at = Math.floor(now / 1000);
      return `${head}.${encode({ iss: issuer, aud: aud(), sub: 'ana@example', iat: at, exp: at + 9_000 })}.${signature}`;
    },
    'of nine thousand characters': () => token({ claims: { padding: 'x'.repeat(6_500) } }),
    'that is no JSON': async () => 'eyJ.eyJ.eyJ',
    'of three empty parts': async () => 'ey..',
  };

  it.each(Object.keys(FORGED))('a token %s is 401, like any other fault', async (name) => {
    const answer = await me(await FORGED[name]!());
    expect([answer.status, answer.body.code, answer.headers.get('www-authenticate')]).toEqual([
      401,
      'access/unauthenticated',
      expect.stringContaining('Bearer'),
    ]);
    expect(answer.body.detail).toMatch(/^This (token is not one|is not a key)/);
  });

  it('a header of a megabyte is not read', async () => {
    const answer = await fetch(`${api.url}/v1/me`, { headers: { authorization: `Bearer ey${'x'.repeat(1_000_000)}.a.b` } }).catch(
      () => null,
    );
    expect(answer === null || answer.status === 431).toBe(true);
    expect((await me(org.keys.director)).status).toBe(200);
  });

  it('has its keys fetched once in a cool-down, however many unknown keys are named', async () => {
    now += 60_000;
    await me(await token());
    asked = [];
    for (let i = 0; i < 20; i++) {
      pairs.set(`made up ${i}`, pairs.get('unknown')!);
      expect((await me(await token({ kid: `made up ${i}` }))).status).toBe(401);
    }
    expect(asked.length).toBeLessThanOrEqual(1);
  });

  it('is told a minute of tolerance either way', async () => {
    const at = Math.floor(now / 1000);
    expect((await me(await token({ claims: { exp: at - 30, jti: 'late' } }))).status).toBe(200);
    expect((await me(await token({ claims: { nbf: at + 30, jti: 'early' } }))).status).toBe(200);
  });

  it('opens nothing once the service is not trusted any more', async () => {
    const last = await token({ claims: { jti: 'last' } });
    expect((await me(last)).status).toBe(200);
    expect((await request(api, org.keys.administrator, 'DELETE', '/v1/sign-in-service')).status).toBe(200);
    expect((await me(last)).status).toBe(401);
    expect((await request(api, org.keys.administrator, 'GET', '/v1/sign-in-service')).body).toEqual({
      issuer: null,
      audience: aud(),
      createdAt: null,
    });
  });
});
