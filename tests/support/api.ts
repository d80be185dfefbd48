import { randomUUID } from 'node:crypto';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { createServer } from '#apps/api/server.js';
import { type Casebook, openCasebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import type { NewPlatform, NewShop, Role } from '#libs/contracts/index.js';
import { type TestDatabase, testDatabase } from './database.js';

export interface Answer {
  readonly status: number;
  readonly headers: Headers;
  // biome-ignore lint/suspicious/noExplicitAny: tests look into answers of every shape
  readonly body: any;
}

export interface TestApi {
  readonly url: string;
  readonly app: NestFastifyApplication;
  readonly casebook: Casebook;
  readonly database: TestDatabase;
  /** Statements the tenants' transactions sent since the last call. */
  takeStatements(): string[];
  close(): Promise<void>;
}

/** The real server on a port of its own, over a database of its own. */
export async function testApi(
  options: { ratePerMinute?: number; clock?: () => Date; webhooksToLoopback?: boolean; publicUrl?: string; securityContact?: string } = {},
): Promise<TestApi> {
  let statements: string[] = [];
  const database = await testDatabase({ onStatement: ({ name }) => statements.push(name) });
  const casebook = openCasebook(
    database.pool,
    Buffer.alloc(32, 7),
    options.clock,
    options.webhooksToLoopback ? { webhookTargets: { address: (address) => address === '127.0.0.1', plainHttp: true } } : {},
  );
  const { ratePerMinute = 1_000_000, publicUrl = null, securityContact = null } = options;
  const app = await createServer({ casebook, pool: database.pool, ratePerMinute, publicUrl, securityContact, logLevel: 'silent' });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = app.getHttpServer().address() as { port: number };
  return {
    url: `http://127.0.0.1:${port}`,
    app,
    casebook,
    database,
    takeStatements: () => {
      const taken = statements;
      statements = [];
      return taken;
    },
    close: async () => {
      await app.close();
      await database.close();
    },
  };
}

export interface TestOrganisation {
  readonly orgId: string;
  readonly keys: Readonly<Record<Role, string>>;
}

export async function testOrganisation(api: TestApi, name = 'Test region'): Promise<TestOrganisation> {
  const { orgId } = await api.casebook.access.foundOrganisation({ name, slug: randomUUID(), demo: false });
  const founder = {
    orgId,
    credentialId: orgId,
    role: 'administrator' as const,
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'test',
  };
  const keys = {} as Record<Role, string>;
  for (const role of Object.keys(ROLE_PERMISSIONS) as Role[]) {
    keys[role] = (await api.casebook.access.issueKey(founder, { name: role, role, shopIds: null, expiresAt: null })).secret;
  }
  return { orgId, keys };
}

/** One request over real HTTP. A POST gets an Idempotency-Key of its own unless the caller gives one. */
export async function request(
  api: Pick<TestApi, 'url'>,
  key: string | null,
  method: string,
  path: string,
  body?: unknown,
  headers: Record<string, string> = {},
): Promise<Answer> {
  const response = await fetch(`${api.url}${path}`, {
    method,
    headers: {
      ...(key === null ? {} : { authorization: `Bearer ${key}` }),
      ...(body === undefined ? {} : { 'content-type': method === 'PATCH' ? 'application/merge-patch+json' : 'application/json' }),
      ...(method === 'POST' ? { 'idempotency-key': randomUUID() } : {}),
      ...headers,
    },
    ...(body === undefined ? {} : { body: typeof body === 'string' ? body : JSON.stringify(body) }),
  });
  const isStream = (response.headers.get('content-type') ?? '').startsWith('text/event-stream');
  const text = isStream ? await beginningOf(response) : await response.text();
  const isJson = /[/+]json\b/.test(response.headers.get('content-type') ?? '');
  return { status: response.status, headers: response.headers, body: isJson && text !== '' ? JSON.parse(text) : text };
}

/** What a stream without end says at once; the connection is given up then. */
async function beginningOf(response: Response): Promise<string> {
  const reader = response.body!.getReader();
  const { value } = await reader.read();
  await reader.cancel();
  return new TextDecoder().decode(value);
}

/** What a stream of events says within a while; the connection is then cut, since it may never end by itself. */
export async function listen(
  api: Pick<TestApi, 'url'>,
  key: string,
  path: string,
  forMs: number,
  headers: Record<string, string> = {},
): Promise<Answer> {
  const cut = new AbortController();
  const response = await fetch(`${api.url}${path}`, { headers: { authorization: `Bearer ${key}`, ...headers }, signal: cut.signal });
  const isStream = response.headers.get('content-type')?.startsWith('text/event-stream') === true;
  const timer = isStream ? setTimeout(() => cut.abort(), forMs) : undefined;
  let text = '';
  try {
    for await (const part of response.body!.pipeThrough(new TextDecoderStream())) text += part;
  } catch (error) {
    if (!cut.signal.aborted) throw error;
  }
  clearTimeout(timer);
  return { status: response.status, headers: response.headers, body: isStream ? text : JSON.parse(text) };
}

/** How many a list behind a figure holds, page after page. */
export async function countBehind(api: TestApi, key: string, href: string): Promise<number> {
  let count = 0;
  for (let after = ''; ; ) {
    const { status, body } = await request(api, key, 'GET', `${href}${href.includes('?') ? '&' : '?'}first=100${after}`);
    if (status !== 200) throw new Error(`${href}: ${status}`);
    count += body.data.length;
    if (body.next === null) return count;
    after = `&after=${encodeURIComponent(body.next)}`;
  }
}

export async function graphql(
  api: Pick<TestApi, 'url'>,
  key: string | null,
  query: string,
  variables: Record<string, unknown> = {},
): Promise<Answer> {
  return request(api, key, 'POST', '/graphql', { query, variables });
}

export const NORMALS = [8, 9, 12, 15, 19, 24, 28, 27, 23, 17, 12, 9].map((meanC) => ({ meanC, sdC: 3.5 }));

export function newShop(code: string, elevationM = 250): NewShop {
  return { code, name: code, elevationM, timeZone: 'Europe/Madrid', normals: NORMALS, currency: 'EUR', labourRate: 50 };
}

export function newPlatform(code: string, parts: Partial<NewPlatform> = {}): NewPlatform {
  return {
    code,
    name: code,
    family: code,
    layout: 'valve-integral-receiver',
    compressor: 'fixed-clutch',
    refrigerant: 'R-134a',
    chargeG: 560,
    reserveShare: 0.18,
    highSidePort: 'liquid-line-after-drier',
    highSideTransducer: 'compressor-discharge',
    lowSidePort: 'compressor-suction',
    transducerReference: 'sealed-gauge',
    dualEvaporator: false,
    condenserPasses: 3,
    subcoolShare: 0.2,
    coolerZones: [],
    firstYear: 2012,
    lastYear: 2026,
    vinPatterns: [],
    ...parts,
  };
}
