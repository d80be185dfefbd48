import type { FastifyReply, FastifyRequest } from 'fastify';
import type { ExecutionResult, GraphQLError } from 'graphql';
import type { Casebook } from '#libs/casebook/index.js';
import { bearer } from '../http/caller.guard.js';
import { toGraphQLError } from '../http/problem.filter.js';
import type { RateLimit } from '../http/rate-limit.js';
import type { GraphCall } from './arguments.js';

/** Checks the key and spends one request. Runs before anything of the query is executed. */
export async function graphCall(
  casebook: Casebook,
  rateLimit: RateLimit,
  request: FastifyRequest,
  reply: FastifyReply,
): Promise<{ call: GraphCall }> {
  const actor = await casebook.access.authenticate(bearer(request.headers.authorization), request.id);
  rateLimit.spend(actor.credentialId, reply);
  return { call: { casebook, actor } };
}

/** Errors of GraphQL with the codes REST uses; what has no data at all carries the matching status. */
export function graphErrors(result: ExecutionResult, _context: unknown): { statusCode: number; response: ExecutionResult } {
  const errors = (result.errors ?? []).map((error) => {
    const original = (error as GraphQLError).originalError ?? error;
    const mapped = toGraphQLError(original);
    return { message: mapped.message, locations: error.locations, path: error.path, extensions: mapped.extensions };
  });
  const first = errors[0]?.extensions?.['status'];
  const statusCode = result.data === null || result.data === undefined ? (typeof first === 'number' ? first : 400) : 200;
  return { statusCode, response: { data: result.data ?? null, errors: errors as unknown as GraphQLError[] } };
}
