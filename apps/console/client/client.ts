import createClient from 'openapi-fetch';
import type { Problem, paths } from './generated/api.ts';
import { currentKey } from './key.ts';

/** A refusal of the server, or the fact that it could not be reached. */
export class Refusal extends Error {
  readonly status: number;
  readonly code: string;
  readonly problem: Problem | null;

  constructor(status: number, code: string, detail: string, problem: Problem | null) {
    super(detail);
    this.name = 'Refusal';
    this.status = status;
    this.code = code;
    this.problem = problem;
  }
}

/** The only way from these pages to the server: calls typed from its own description. */
export const server = createClient<paths>({ baseUrl: '/' });
server.use({
  onRequest({ request }) {
    const key = currentKey();
    if (key !== null) request.headers.set('authorization', `Bearer ${key}`);
    return request;
  },
});

interface Reply<T> {
  readonly data?: T;
  readonly error?: unknown;
  readonly response: Response;
}

/** What a call brought. @throws Refusal with the problem document, or with code `offline` when there was no answer. */
export async function answer<T>(call: Promise<Reply<T>>): Promise<T> {
  let reply: Reply<T>;
  try {
    reply = await call;
  } catch {
    throw new Refusal(0, 'offline', 'The server did not answer.', null);
  }
  if (reply.response.ok && reply.data !== undefined) return reply.data;
  const problem = isProblem(reply.error) ? reply.error : null;
  throw new Refusal(reply.response.status, problem?.code ?? 'unknown', problem?.detail ?? reply.response.statusText, problem);
}

function isProblem(value: unknown): value is Problem {
  return typeof value === 'object' && value !== null && 'code' in value && 'detail' in value;
}

/** New for each thing created; the same when the same request is sent again. */
export const newRequestKey = (): string => crypto.randomUUID();
