import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { buildSchema } from 'graphql';
import { contractDocuments } from '#apps/cli/contract.js';
import { type Document, type Operation } from '../contract/compare.js';
import { routesOf } from '../contract/documents.js';
import { ASKED, graphqlProbes, type Probe, restProbes } from '../isolation/probes.js';
import { buildWorld, type World } from '../isolation/world.js';
import { type TestApi, testApi } from '../support/api.js';

/** An operation that takes a body, with one that it would take. */
export interface Taking {
  readonly operation: Operation;
  readonly method: string;
  readonly path: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: unknown;
}

export interface Hostile {
  readonly api: TestApi;
  readonly world: World;
  readonly document: Document;
  readonly taking: readonly Taking[];
  readonly graphql: readonly Probe[];
}

/** An organisation with something of everything in it, and every operation that takes a body, asked about things of its own. */
export async function hostileWorld(): Promise<Hostile> {
  const made = await contractDocuments();
  const document = JSON.parse(made.openApi) as Document;
  const api = await testApi();
  const world = await buildWorld(api, '1M8GDM9AXKP042788');
  const own = <T>(probe: Probe, part: T): T =>
    JSON.parse(JSON.stringify(part).replaceAll(ASKED, probe.kind ? world.ids[probe.kind] : randomUUID())) as T;
  const operations = new Map(routesOf(document).map(({ operation }) => [operation.operationId, operation]));
  const taking = new Map<string, Taking>();
  for (const probe of restProbes(document, world)) {
    const { rest, operationId } = probe;
    if (!rest || rest.body === undefined || operationId === 'importCases' || taking.has(operationId)) continue;
    const { method, path, headers } = rest;
    taking.set(operationId, {
      operation: operations.get(operationId)!,
      method,
      path: own(probe, path),
      headers,
      body: own(probe, rest.body),
    });
  }
  const graphql = graphqlProbes(buildSchema(made.sdl), document, world).map((probe) => own(probe, probe));
  return { api, world, document, taking: [...taking.values()], graphql };
}

export interface Answered {
  readonly status: number;
  readonly type: string;
  readonly text: string;
}

export async function ask(
  { api, world }: Pick<Hostile, 'api' | 'world'>,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>>,
  body?: string | Buffer,
): Promise<Answered> {
  for (let tries = 1; ; tries++) {
    const answered = await askOnce(api, world, method, path, headers, body).catch((error: Error) => error);
    // A kept connection that is closed in the moment it is used again gets no answer: asked again on another. What closes it every time is thrown.
    if (answered instanceof Error) {
      if (tries >= 5) throw answered;
      continue;
    }
    // As the documentation asks of a client: a machine too busy for its database says so and is asked again. Whoever only ever says so is at fault.
    if (answered.status !== 503 || tries >= 20) return answered;
    await sleep(500 * Math.random());
  }
}

async function askOnce(
  api: TestApi,
  world: World,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>>,
  body: string | Buffer | undefined,
): Promise<Answered> {
  const response = await fetch(`${api.url}${path}`, {
    method,
    headers: {
      authorization: `Bearer ${world.org.keys.administrator}`,
      ...(method === 'POST' ? { 'idempotency-key': randomUUID() } : {}),
      ...headers,
    },
    ...(body === undefined ? {} : { body: body as never }),
  });
  return { status: response.status, type: response.headers.get('content-type') ?? '', text: await response.text() };
}

/** What is wrong with an answer: a fault of the server, a status nobody described, or a refusal that is no problem document. */
export function faultOf(answered: Answered, documented: readonly string[] | null): string | null {
  const { status, type, text } = answered;
  if (status >= 500) return `${status} ${text.slice(0, 300)}`;
  if (documented && !documented.includes(String(status))) return `${status} is not described: ${text.slice(0, 200)}`;
  if (status < 400) return null;
  if (!type.startsWith('application/problem+json')) return `${status} as ${type}: ${text.slice(0, 200)}`;
  const problem = JSON.parse(text) as { status?: unknown; code?: unknown; type?: unknown };
  return problem.status === status && typeof problem.code === 'string' && typeof problem.type === 'string'
    ? null
    : `${status}: ${text.slice(0, 200)}`;
}

/** Runs `work` for each number below `count`, sixteen at once, and gathers what it found; the first fifty of it. */
export async function found(count: number, work: (n: number) => Promise<string | null>): Promise<string[]> {
  const faults: string[] = [];
  let next = 0;
  const lane = async () => {
    for (let n = next++; n < count; n = next++) {
      const fault = await work(n);
      if (fault !== null && faults.length < 50) faults.push(fault);
    }
  };
  await Promise.all(Array.from({ length: 16 }, lane));
  return faults;
}

/** Nothing that was sent has become part of every object. */
export const isClean = (): boolean => !('polluted' in {}) && Object.keys(Object.prototype).length === 0;
