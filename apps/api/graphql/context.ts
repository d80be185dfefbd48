import type { FastifyReply, FastifyRequest } from 'fastify';
import type { ExecutionResult, GraphQLError } from 'graphql';
import { type Casebook, NobodySignedIn } from '#libs/casebook/index.js';
import { authenticate } from '../http/caller.guard.js';
import { toGraphQLError } from '../http/problem.filter.js';
import type { RateLimit } from '../http/rate-limit.js';
import type { GraphCall } from './arguments.js';

/** Checks the key and spends one request. Runs before anything of the query is executed. */
export async function graphCall(
  casebook: Casebook,
  rateLimit: RateLimit,
  request: FastifyRequest,
  reply: FastifyReply,
  publicUrl: string | null,
): Promise<{ call: GraphCall }> {
  const { actor, session } = await authenticate(casebook, request, publicUrl);
  rateLimit.spend(actor.credentialId, reply);
  if (session?.nobody) throw new NobodySignedIn();
  return { call: { casebook, actor } };
}

interface RequestFault {
  readonly code?: string;
  readonly message: string;
  readonly errors?: readonly { readonly message: string; readonly locations?: GraphQLError['locations'] }[];
}

/** Errors of GraphQL with the codes REST uses; an answer without any data carries the matching status. */
export function graphErrors(result: ExecutionResult, _context: unknown): { statusCode: number; response: ExecutionResult } {
  const errors = (result.errors ?? []).flatMap((error) => {
    const cause = (error as GraphQLError).originalError ?? error;
    const fault = cause as unknown as RequestFault;
    if (fault.code?.startsWith('MER_ERR_GQL')) return requestFaults(fault);
    const { message, extensions } = toGraphQLError(cause);
    return [{ message, locations: error.locations, path: error.path, extensions }];
  });
  const first = errors[0]?.extensions['status'];
  const statusCode = result.data === null || result.data === undefined ? (typeof first === 'number' ? first : 400) : 200;
  return { statusCode, response: { data: result.data ?? null, errors: errors as unknown as GraphQLError[] } };
}

/** A query that was refused before it ran: its syntax, its types or its size. */
function requestFaults({ message, errors = [{ message }] }: RequestFault) {
  const extensions = { code: 'graphql/invalid', status: 400, errors: [], retryable: false } as Record<string, unknown>;
  return errors.map((one) => ({
    message: one.message === message ? message : `${message} ${one.message}`,
    locations: one.locations,
    path: undefined,
    extensions,
  }));
}
