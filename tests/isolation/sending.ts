import { randomUUID } from 'node:crypto';
import { listen, request, type TestApi } from '../support/api.js';
import { ASKED, type Probe } from './probes.js';

export interface Heard {
  readonly status: number;
  /** Code of the problem, or of the first error of GraphQL; null when the request succeeded. */
  readonly code: string | null;
  /** Everything the answer says, headers too, with the identifier asked about and the request's own identity struck out. */
  readonly text: string;
}

const UNIQUE = /code-[0-9a-f-]{36}/g;

/** Sends a probe with an identifier in the place of the one asked about. */
export async function sendProbe(api: TestApi, key: string, probe: Probe, asked: string): Promise<Heard> {
  const put = <T>(part: T): T =>
    JSON.parse(
      JSON.stringify(part)
        .replaceAll(ASKED, asked)
        .replace(UNIQUE, () => `code-${randomUUID()}`),
    ) as T;
  const trace = randomUUID().replaceAll('-', '');
  const headers = { traceparent: `00-${trace}-0123456789abcdef-01` };
  const answer = probe.rest?.isStream
    ? await listen(api, key, put(probe.rest.path), 150, headers)
    : probe.rest
      ? await request(api, key, probe.rest.method, put(probe.rest.path), probe.rest.body === undefined ? undefined : put(probe.rest.body), {
          ...probe.rest.headers,
          ...headers,
        })
      : await request(api, key, 'POST', '/graphql', put(probe.graphql), headers);
  const { body } = answer;
  // What is left of the minute differs from request to request.
  if (body?.extensions?.cost) delete body.extensions;
  const failed = answer.status >= 300 || (body?.errors?.length > 0 && body.data !== undefined);
  const said = [...answer.headers].filter(([name]) => !['date', 'content-length', 'keep-alive', 'connection'].includes(name));
  const text = `${JSON.stringify(inOrder(body))}\n${said.filter(([name]) => !/^(x-request-id|ratelimit.*)$/.test(name)).join('\n')}`;
  const code = failed ? (body?.code ?? body?.errors?.[0]?.extensions?.code ?? 'none') : null;
  return { status: answer.status, code, text: text.replaceAll(asked, '<asked>').replaceAll(trace, '<trace>') };
}

/** Names in alphabetical order: the compiled form of a query answers in another order than the interpreted one. */
function inOrder(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(inOrder);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([name, inner]) => [name, inOrder(inner)]),
  );
}
