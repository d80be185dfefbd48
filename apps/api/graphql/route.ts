import { hash } from 'node:crypto';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { ExecutionResult } from 'graphql';
import { type Casebook, NobodySignedIn, parseIJson, TrustedDocumentsOnly } from '#libs/casebook/index.js';
import { DomainError } from '#libs/contracts/index.js';
import { authenticate } from '../http/caller.guard.js';
import type { Metrics } from '../http/metrics.js';
import { toGraphQLError } from '../http/problem.filter.js';
import type { RateLimit, Spent } from '../http/rate-limit.js';
import { type GraphContext, type GraphFault, requestFaults } from './context.js';
import { type Documents, InvalidDocument, type Prepared } from './documents.js';
import { DocumentTooLarge, LIMITS } from './limits.js';
import { newLoaders } from './relations.js';

const MODERN = 'application/graphql-response+json';

export interface GraphParts {
  readonly casebook: Casebook;
  readonly rateLimit: RateLimit;
  readonly documents: Documents;
  readonly metrics: Metrics;
  readonly publicUrl: string | null;
}

interface Asked {
  readonly query: string | null;
  readonly documentId: string | null;
  readonly operationName: string | null;
  readonly variables: Readonly<Record<string, unknown>> | null;
}

/** Parameters that no GraphQL request has: answered 400 in every media type. */
class BadParameters extends Error {}

/**
 * `/graphql` by the GraphQL-over-HTTP draft: GET and POST, both media types of answers, trusted documents. A document is judged by shape, types and
 * cost before anything of it runs; the engine then executes its compiled form.
 */
export function registerGraphql(fastify: FastifyInstance, parts: GraphParts): void {
  fastify.route({
    method: ['GET', 'POST'],
    url: '/graphql',
    handler: async (request, reply) => {
      const { casebook, rateLimit, documents, metrics } = parts;
      const { actor, session } = await authenticate(casebook, request, parts.publicUrl);
      reply.header('vary', 'Authorization, Cookie, Accept');
      let prepared: Prepared;
      let asked: Asked;
      try {
        if (session?.nobody) throw new NobodySignedIn();
        asked = request.method === 'GET' ? ofQuery(request.query as Record<string, unknown>) : ofBody(request.body);
        if (asked.query !== null && actor.trustedDocumentsOnly) throw new TrustedDocumentsOnly();
        const text = asked.query ?? (await casebook.documents.text(actor, asked.documentId!));
        prepared = documents.prepare(text, asked.operationName);
      } catch (error) {
        rateLimit.spend(actor.credentialId, reply);
        return refuse(request, reply, error);
      }
      if (prepared.isChange && request.method === 'GET') {
        rateLimit.spend(actor.credentialId, reply);
        reply.header('allow', 'POST');
        return send(request, reply, 405, { errors: requestFaults([{ message: 'A change is asked for by POST.' }]) }, true);
      }
      const variables = asked.variables ?? {};
      const cost = prepared.cost(variables);
      const spent = rateLimit.spend(actor.credentialId, reply, cost.points);
      try {
        prepared.requireVariables(variables);
      } catch (error) {
        return refuse(request, reply, error);
      }
      if (cost.nodes > LIMITS.nodes) return refuse(request, reply, new DocumentTooLarge('nodes', cost.nodes));
      const context: GraphContext = {
        call: { casebook, actor, loaders: newLoaders(casebook, actor) },
        requestId: request.id,
        log: request.log,
      };
      const began = performance.now();
      const result: ExecutionResult = await fastify.graphql(prepared.text, context as never, variables as Record<string, unknown>);
      metrics.graphql(
        prepared.isChange ? 'mutation' : 'query',
        prepared.field,
        result.errors !== undefined,
        (performance.now() - began) / 1000,
      );
      // Some changes answer with a secret that was just made.
      if (prepared.isChange) reply.header('cache-control', 'no-store, no-transform');
      if (result.data === undefined || result.data === null) {
        if (result.data === undefined) return send(request, reply, 400, { errors: result.errors });
      }
      // What an answer cost is not part of what it says: a cached answer of a trusted document stays the same.
      if (asked.documentId !== null && request.method === 'GET') return sendCacheable(request, reply, result);
      return send(request, reply, 200, { ...result, extensions: { cost: told(cost, spent) } });
    },
  });
}

const told = (cost: { readonly nodes: number; readonly points: number }, spent: Spent) => ({
  requested: cost.points,
  nodes: cost.nodes,
  remaining: spent.remaining,
  resetAt: spent.resetAt,
});

function ofBody(body: unknown): Asked {
  if (typeof body !== 'object' || body === null || Array.isArray(body))
    throw new BadParameters('Send one JSON object with "query" or "documentId"; several requests in one are not taken.');
  return asked(body as Record<string, unknown>);
}

function ofQuery(query: Readonly<Record<string, unknown>>): Asked {
  const parsed = (name: string): unknown => {
    const text = query[name];
    if (typeof text !== 'string') return text;
    try {
      return parseIJson(text);
    } catch (error) {
      throw new BadParameters(`"${name}" must be JSON: ${(error as Error).message}`);
    }
  };
  return asked({ ...query, variables: parsed('variables'), extensions: parsed('extensions') });
}

function asked(given: Readonly<Record<string, unknown>>): Asked {
  const text = (name: string): string | null => {
    const value = given[name] ?? null;
    if (value !== null && typeof value !== 'string') throw new BadParameters(`"${name}" must be a string.`);
    return value;
  };
  const map = (name: string): Readonly<Record<string, unknown>> | null => {
    const value = given[name] ?? null;
    if (value !== null && (typeof value !== 'object' || Array.isArray(value))) throw new BadParameters(`"${name}" must be an object.`);
    return value as Readonly<Record<string, unknown>> | null;
  };
  const [query, documentId] = [text('query'), text('documentId')];
  if ((query === null) === (documentId === null)) throw new BadParameters('Send either "query" or "documentId".');
  map('extensions');
  return { query, documentId, operationName: text('operationName'), variables: map('variables') };
}

function refuse(request: FastifyRequest, reply: FastifyReply, error: unknown): FastifyReply {
  if (error instanceof BadParameters) return send(request, reply, 400, { errors: requestFaults([error]) }, true);
  if (error instanceof InvalidDocument) return send(request, reply, 400, { errors: requestFaults(error.faults) });
  if (!(error instanceof DomainError)) throw error;
  const { message, extensions } = toGraphQLError(error);
  const fault: GraphFault = { message, extensions: { ...extensions, traceId: request.id } };
  return send(request, reply, extensions['status'] as number, { errors: [fault] }, true);
}

/**
 * Writes an answer in the media type that was asked for. The older one, application/json, cannot tell a refusal of GraphQL from one of something on the
 * way, which is why whatever is well-formed GraphQL is 200 there; `always` keeps the status of what is not.
 */
function send(request: FastifyRequest, reply: FastifyReply, status: number, body: object, always = false): FastifyReply {
  const modern = prefersModern(request.headers.accept);
  reply.code(modern || always ? status : 200);
  reply.header('content-type', `${modern ? MODERN : 'application/json'}; charset=utf-8`);
  return reply.send(JSON.stringify(body));
}

function sendCacheable(request: FastifyRequest, reply: FastifyReply, result: ExecutionResult): FastifyReply {
  const modern = prefersModern(request.headers.accept);
  const body = JSON.stringify(result);
  if (!result.errors)
    reply.header('cache-control', 'private, no-cache').header('etag', `"${hash('sha256', body, 'base64url').slice(0, 27)}"`);
  reply.header('content-type', `${modern ? MODERN : 'application/json'}; charset=utf-8`);
  return reply.send(body);
}

const preferences = new Map<string, boolean>();

/** Whether the newer media type is asked for with at least the weight of the older. Weights as in RFC 9110, section 12.5.1. */
function prefersModern(accept: string | undefined): boolean {
  if (accept === undefined) return false;
  let known = preferences.get(accept);
  if (known === undefined) {
    const weights = new Map(
      accept.split(',').map((part) => {
        const [type, ...parameters] = part.split(';').map((one) => one.trim().toLowerCase());
        const q = parameters.find((one) => one.startsWith('q='));
        return [type!, q === undefined ? 1 : Number(q.slice(2)) || 0] as const;
      }),
    );
    const modern = weights.get(MODERN) ?? 0;
    known = modern > 0 && modern >= (weights.get('application/json') ?? 0);
    if (preferences.size < 100) preferences.set(accept, known);
  }
  return known;
}
