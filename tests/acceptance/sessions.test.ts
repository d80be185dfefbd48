import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { KeyUsage, type UsageOfKey } from '#libs/contracts/index.js';
import { type Answer, graphql, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';

const START = Date.parse('2026-06-01T08:00:00Z');
let now = START;
const later = (minutes: number) => {
  now += minutes * 60_000;
};
let api: TestApi;
let org: TestOrganisation;
let other: TestOrganisation;
let quay: string;
let hill: string;
let ana: string;
let ben: string;

/** A browser: keeps its cookie, says where it comes from, sees no secret. */
function browser(headers: Record<string, string> = { 'sec-fetch-site': 'same-origin' }) {
  let cookie = '';
  return {
    get cookie() {
      return cookie;
    },
    set cookie(value: string) {
      cookie = value;
    },
    async send(method: string, path: string, body?: unknown, more: Record<string, string> = {}): Promise<Answer> {
      const key = more['key'] ?? null;
      const { key: _key, ...rest } = more;
      const answer = await request(api, key, method, path, body, { ...headers, ...(cookie === '' ? {} : { cookie }), ...rest });
      const set = answer.headers.get('set-cookie');
      if (set) cookie = set.split(';')[0]!;
      return answer;
    },
  };
}

async function tablet(shopIds: string[] | null = [quay]) {
  const issued = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
    name: 'tablet',
    role: 'administrator',
    shopIds,
    expiresAt: null,
  });
  const one = browser();
  const opened = await one.send('POST', '/v1/session', { shared: true }, { key: issued.body.secret });
  expect(opened.status).toBe(201);
  return Object.assign(one, { opened, keyId: issued.body.key.id as string });
}

beforeAll(async () => {
  api = await testApi({ clock: () => new Date(now) });
  org = await testOrganisation(api);
  other = await testOrganisation(api);
  const admin = org.keys.administrator;
  quay = (await request(api, admin, 'POST', '/v1/shops', newShop('quay'))).body.id;
  hill = (await request(api, admin, 'POST', '/v1/shops', newShop('hill'))).body.id;
  const add = async (name: string, role: string, shopIds: string[] | null, pin: string) => {
    const member = await request(api, admin, 'POST', '/v1/members', { name, role, shopIds });
    expect(member.body.hasPin).toBe(false);
    const set = await request(api, admin, 'POST', `/v1/members/${member.body.id}/pin`, { pin });
    expect([set.status, set.body.hasPin]).toEqual([200, true]);
    return member.body.id as string;
  };
  ana = await add('Ana', 'technician', [quay], '4093');
  ben = await add('Ben', 'technician', [hill], '7218');
});
afterAll(() => api?.close());

describe('a session of a key', () => {
  it('acts as the key until it is ended; scripts and other sites cannot use its cookie', async () => {
    const one = browser();
    const opened = await one.send('POST', '/v1/session', { shared: false }, { key: org.keys.director });
    expect(opened.status).toBe(201);
    expect(opened.headers.get('set-cookie')).toMatch(/^coolback_session=cbs_\w+; Max-Age=\d+; Path=\/; HttpOnly; SameSite=Strict$/);
    expect(JSON.stringify(opened.body)).not.toContain('cbs_');
    expect((await one.send('GET', '/v1/cases')).status).toBe(200);
    expect((await one.send('POST', '/graphql', { query: '{ me { role } }' })).body.data.me.role).toBe('director');
    const stranger = browser({ 'sec-fetch-site': 'cross-site', origin: 'https://elsewhere.example' });
    const silent = browser({});
    const old = browser({ origin: api.url });
    const forged = browser({ origin: 'https://elsewhere.example' });
    for (const page of [stranger, silent, old, forged]) page.cookie = one.cookie;
    expect((await stranger.send('POST', '/graphql', { query: '{ me { role } }' })).body.code).toBe('access/cross_site');
    expect((await stranger.send('GET', '/v1/me')).status).toBe(403);
    expect((await silent.send('DELETE', '/v1/session')).status).toBe(403);
    expect((await forged.send('DELETE', '/v1/session')).status).toBe(403);
    expect((await silent.send('GET', '/v1/me')).status).toBe(200);
    expect((await old.send('POST', '/graphql', { query: '{ me { role } }' })).status).toBe(200);
    const ended = await one.send('DELETE', '/v1/session');
    expect(ended.headers.get('set-cookie')).toContain('Max-Age=0');
    one.cookie = old.cookie;
    expect((await one.send('GET', '/v1/me')).body.code).toBe('access/no_session');
  });

  it('cannot beget another, and a damaged or foreign cookie is none', async () => {
    const one = browser();
    await one.send('POST', '/v1/session', { shared: false }, { key: org.keys.director });
    expect((await one.send('POST', '/v1/session', { shared: false })).status).toBe(401);
    one.cookie = `${one.cookie}0`;
    expect((await one.send('GET', '/v1/me')).body.code).toBe('access/no_session');
    expect((await request(api, org.keys.director, 'GET', '/v1/session')).body.code).toBe('access/no_session');
  });

  it('carries Secure where the public address is https', async () => {
    const { createServer } = await import('#apps/api/server.js');
    const { casebook, database } = api;
    const app = await createServer({
      casebook,
      pool: database.pool,
      ratePerMinute: 100,
      logLevel: 'silent',
      publicUrl: 'https://coolback.example',
    });
    try {
      const answer = await app
        .getHttpAdapter()
        .getInstance()
        .inject({
          method: 'POST',
          url: '/v1/session',
          payload: { shared: false },
          headers: { authorization: `Bearer ${org.keys.director}` },
        });
      expect(answer.headers['set-cookie']).toMatch(/; Secure$/);
    } finally {
      await app.close();
    }
  });

  it('ends with its key', async () => {
    const { send, keyId, ...rest } = await tablet();
    expect(rest.opened.body).toMatchObject({ shared: true, person: null, permissions: [] });
    await request(api, org.keys.administrator, 'POST', `/v1/keys/${keyId}/revocation`);
    later(1);
    expect((await send('GET', '/v1/session')).body.code).toBe('access/no_session');
  });
});

describe('a shared device', () => {
  it('does nothing for nobody, then what the person, the key and a PIN allow together', async () => {
    const { send } = await tablet();
    expect((await send('GET', '/v1/cases')).body.code).toBe('access/nobody_signed_in');
    expect((await send('POST', '/graphql', { query: '{ cases { next } }' })).status).toBe(401);
    const people = await send('GET', '/v1/session/people');
    expect(people.body.data).toEqual([{ id: ana, name: 'Ana', role: 'technician' }]);
    const signed = await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' });
    expect(signed.status).toBe(200);
    expect(signed.body).toMatchObject({ person: { id: ana, name: 'Ana' }, role: 'technician', shopIds: [quay] });
    const opened = await send('POST', '/v1/cases', { shopId: quay, vehicle: {}, complaint: 'noise' });
    expect(opened.status).toBe(201);
    const audit = await request(api, org.keys.administrator, 'GET', `/v1/audit?subjectId=${opened.body.id}`);
    expect(audit.body.data[0]).toMatchObject({ action: 'case.opened', memberId: ana });
    expect((await send('GET', '/v1/me')).body.memberId).toBe(ana);
    expect((await send('GET', '/v1/keys')).status).toBe(403);
    expect((await send('DELETE', '/v1/session/person')).body.person).toBeNull();
    expect((await send('GET', '/v1/cases')).status).toBe(401);
  });

  it('opens nothing dangerous by a PIN, even for an administrator', async () => {
    const { send } = await tablet(null);
    const made = await request(api, org.keys.administrator, 'POST', '/v1/members', { name: 'Cleo', role: 'administrator', shopIds: null });
    await request(api, org.keys.administrator, 'POST', `/v1/members/${made.body.id}/pin`, { pin: '905142' });
    const signed = await send('POST', '/v1/session/person', { memberId: made.body.id, pin: '905142' });
    expect(signed.body.permissions).toContain('cases:write');
    for (const one of ['keys:write', 'members:write', 'organisation:export', 'vehicles:delete', 'webhooks:write', 'shops:write'])
      expect(signed.body.permissions).not.toContain(one);
    expect((await send('GET', '/v1/export')).status).toBe(403);
  });

  it('forgets who was there after half an hour of nothing', async () => {
    const { send } = await tablet();
    await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' });
    later(29);
    expect((await send('GET', '/v1/cases')).status).toBe(200);
    later(29);
    expect((await send('GET', '/v1/cases')).status).toBe(200);
    later(31);
    expect((await send('GET', '/v1/cases')).body.code).toBe('access/nobody_signed_in');
    expect((await send('GET', '/v1/session')).body.person).toBeNull();
  });

  it('knows nobody of another shop or organisation, and says no more of them than of a wrong PIN', async () => {
    const { send } = await tablet();
    const foreign = await request(api, other.keys.administrator, 'POST', '/v1/members', {
      name: 'Dee',
      role: 'technician',
      shopIds: null,
    });
    await request(api, other.keys.administrator, 'POST', `/v1/members/${foreign.body.id}/pin`, { pin: '4093' });
    const wrong = await send('POST', '/v1/session/person', { memberId: ana, pin: '4094' });
    expect([wrong.status, wrong.body.code]).toEqual([422, 'access/pin_refused']);
    await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' });
    for (const [memberId, pin] of [
      [ben, '7218'],
      [foreign.body.id, '4093'],
    ]) {
      const refused = await send('POST', '/v1/session/person', { memberId, pin });
      expect([refused.status, refused.body.code, refused.body.errors]).toEqual([422, 'access/pin_refused', wrong.body.errors]);
    }
    const outside = await request(api, org.keys.administrator, 'POST', `/v1/members/${foreign.body.id}/pin`, { pin: '5093' });
    expect(outside.status).toBe(404);
  });
});

describe('wrong PINs', () => {
  it('pause a person after five, however many come at once, on every device; an administrator ends the pause', async () => {
    const one = await tablet([hill]);
    const two = await tablet([hill]);
    const tries = await Promise.all(
      Array.from({ length: 12 }, (_, i) => (i % 2 ? one : two).send('POST', '/v1/session/person', { memberId: ben, pin: `${3500 + i}` })),
    );
    const codes = tries.map(({ body }) => body.code as string);
    expect(codes.filter((code) => code === 'access/pin_refused').length).toBe(4);
    expect(codes.filter((code) => code === 'access/pin_paused').length).toBe(8);
    const paused = await two.send('POST', '/v1/session/person', { memberId: ben, pin: '7218' });
    expect([paused.status, Number(paused.headers.get('retry-after'))]).toEqual([429, 900]);
    later(16);
    expect((await two.send('POST', '/v1/session/person', { memberId: ben, pin: '7218' })).status).toBe(200);
    for (let i = 0; i < 5; i++) await one.send('POST', '/v1/session/person', { memberId: ben, pin: '0000' });
    expect((await one.send('POST', '/v1/session/person', { memberId: ben, pin: '7218' })).status).toBe(429);
    await request(api, org.keys.administrator, 'POST', `/v1/members/${ben}/pin`, { pin: '6150' });
    expect((await one.send('POST', '/v1/session/person', { memberId: ben, pin: '6150' })).status).toBe(200);
  });

  it('pause a device after twenty, whoever is tried', async () => {
    const { send } = await tablet();
    const nobody = '0197a2b4-7c00-7000-8000-00000000dead';
    for (let i = 0; i < 19; i++) {
      const refused = await send('POST', '/v1/session/person', { memberId: nobody, pin: '1357' });
      expect(refused.status).toBe(422);
    }
    expect((await send('POST', '/v1/session/person', { memberId: nobody, pin: '1357' })).status).toBe(429);
    expect((await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' })).status).toBe(429);
  });

  it('are not in the database or the answer; weak ones are refused', async () => {
    const { rows } = await api.casebook.context.inTenant(org.orgId, (tx) =>
      tx.query<{ salt: Buffer; pin_hash: Buffer }>({
        name: 'test.pins',
        text: 'select salt, pin_hash from member_pin where org_id = $1',
        values: [org.orgId],
      }),
    );
    expect(new Set(rows.map(({ pin_hash }) => pin_hash.toString('hex'))).size).toBe(rows.length);
    expect(rows.every(({ salt, pin_hash }) => salt.length === 16 && pin_hash.length === 32)).toBe(true);
    for (const pin of ['1111', '1234', '87654321', '7890', '9012'])
      expect((await request(api, org.keys.administrator, 'POST', `/v1/members/${ana}/pin`, { pin })).body.code).toBe('access/pin_weak');
    for (const pin of ['123', '123456789', '12a4', '１２３４'])
      expect((await request(api, org.keys.administrator, 'POST', `/v1/members/${ana}/pin`, { pin })).status).toBe(422);
  });
});

describe('a PIN', () => {
  it('is changed by its owner, and its removal signs out everywhere', async () => {
    const { send } = await tablet();
    expect((await send('POST', '/v1/session/pin', { currentPin: '4093', pin: '5820' })).body.code).toBe('access/nobody_signed_in');
    await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' });
    const wrong = await send('POST', '/v1/session/pin', { currentPin: '4094', pin: '5820' });
    expect(wrong.body.errors[0].pointer).toBe('/currentPin');
    expect((await send('POST', '/v1/session/pin', { currentPin: '4093', pin: '5820' })).status).toBe(200);
    expect((await send('POST', '/v1/session/person', { memberId: ana, pin: '4093' })).status).toBe(422);
    expect((await send('POST', '/v1/session/person', { memberId: ana, pin: '5820' })).status).toBe(200);
    const removed = await request(api, org.keys.administrator, 'DELETE', `/v1/members/${ana}/pin`);
    expect(removed.body.hasPin).toBe(false);
    expect((await send('GET', '/v1/cases')).status).toBe(401);
    expect((await send('GET', '/v1/session/people')).body.data.map(({ id }: { id: string }) => id)).not.toContain(ana);
  });
});

describe('the use of keys', () => {
  const usage = (key: string, query = '') => request(api, key, 'GET', `/v1/keys/usage${query}`);

  it('is counted by key and day: requests, refusals, rows of files, sessions with their key', async () => {
    const region = await testOrganisation(api);
    const { administrator, integrator, director } = region.keys;
    await request(api, administrator, 'POST', '/v1/shops', newShop('pier'));
    await api.casebook.usage.writeDown();
    later(24 * 60);
    const day = new Date(now).toISOString().slice(0, 10);
    await request(api, integrator, 'GET', '/v1/me');
    await request(api, integrator, 'GET', '/v1/webhooks');
    await request(api, integrator, 'GET', '/v1/keys');
    await request(api, integrator, 'POST', '/graphql', { query: '{ me { role } }' });
    const file = await fetch(`${api.url}/v1/imports?shopCode=pier&system=orders`, {
      method: 'POST',
      headers: { authorization: `Bearer ${integrator}`, 'content-type': 'application/x-ndjson', 'idempotency-key': 'file' },
      body: '{"complaint":"noise"}\n{"complaint":"noise"}\n',
    });
    expect(file.status).toBe(202);
    const one = browser();
    await one.send('POST', '/v1/session', { shared: false }, { key: director });
    await one.send('GET', '/v1/me');
    await request(api, null, 'GET', '/v1/me');
    await api.casebook.usage.writeDown();
    // Counted again later on the same day: added to what was written down.
    await request(api, integrator, 'GET', '/v1/me');
    await api.casebook.usage.writeDown();
    const seen = await usage(administrator, `?since=${day}`);
    expect(KeyUsage.safeParse(seen.body).error).toBeUndefined();
    expect(seen.body).toMatchObject({ since: day, isOwnOnly: false, left: 0 });
    expect(seen.body.keys.map(({ name, requests, refused, rows }: UsageOfKey) => [name, requests, refused, rows])).toEqual([
      ['integrator', 6, 1, 2],
      ['director', 2, 0, 0],
    ]);
    expect(seen.body.keys[0].days).toEqual([{ day, requests: 6, refused: 1, rows: 2 }]);
    const month = await usage(administrator);
    expect(month.body.keys.map(({ name }: UsageOfKey) => name).sort()).toEqual(['administrator', 'director', 'integrator']);
    const asked = await graphql(api, administrator, '{ keyUsage { keys { name days { requests } } } }');
    expect(asked.body.data.keyUsage.keys).toHaveLength(3);
  });

  it('is told of one’s own key without keys:read, of nobody else’s, and to no other organisation', async () => {
    const { body: own } = await usage(org.keys.technician);
    expect([own.isOwnOnly, own.keys.length <= 1]).toEqual([true, true]);
    await api.casebook.usage.writeDown();
    const told = await usage(org.keys.technician);
    expect(told.body.keys.map(({ name }: UsageOfKey) => name)).toEqual(['technician']);
    const all = await usage(org.keys.administrator);
    const admins = all.body.keys.find(({ name }: UsageOfKey) => name === 'administrator');
    expect((await usage(org.keys.technician, `?keyId=${admins.keyId}`)).body.code).toBe('access/key_not_found');
    expect((await usage(other.keys.administrator, `?keyId=${admins.keyId}`)).body.keys).toEqual([]);
    for (const period of ['?since=2026-06-01&until=2026-06-01', '?since=2026-01-01&until=2026-12-01'])
      expect((await usage(org.keys.administrator, period)).body.code).toBe('access/usage_period');
  });

  it('made before refrigerant had a right of its own keeps what it could do', async () => {
    const { body: issued } = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'narrow',
      role: 'technician',
      permissions: ['cases:write'],
      shopIds: null,
      expiresAt: null,
    });
    expect((await request(api, issued.secret, 'GET', '/v1/me')).body.permissions).toEqual(['cases:write']);
    await asAdministrator(api.database.superUrl, (client) =>
      client.query('update access_key set rights_edition = 1 where id = $1', [issued.key.id]),
    );
    later(1);
    expect((await request(api, issued.secret, 'GET', '/v1/me')).body.permissions).toEqual(['cases:write', 'refrigerant:write']);
  });
});
