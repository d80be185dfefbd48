import type { FastifyBaseLogger } from 'fastify';
import type { ExecutionResult, GraphQLError } from 'graphql';
import { toGraphQLError } from '../http/problem.filter.js';
import type { GraphCall } from './arguments.js';

/** What every resolver of one request shares. */
export interface GraphContext {
  readonly call: GraphCall;
  readonly requestId: string;
  readonly log: FastifyBaseLogger;
}

export interface GraphFault {
  readonly message: string;
  readonly locations?: GraphQLError['locations'] | undefined;
  readonly path?: GraphQLError['path'] | undefined;
  readonly extensions: Readonly<Record<string, unknown>>;
}

/**
 * Errors of an execution with the codes REST uses. Variables that do not fit are told by the executing engine without any data; an error that no
 * operation of ours raised is a bug, and is logged.
 */
export function graphErrors(result: ExecutionResult, context: unknown): { statusCode: number; response: ExecutionResult } {
  const { log, requestId } = context as GraphContext;
  const ran = result.data !== undefined && result.data !== null ? true : (result.errors ?? []).some(({ path }) => path !== undefined);
  if (!ran) return { statusCode: 400, response: { errors: requestFaults(result.errors ?? []) as unknown as GraphQLError[] } };
  const errors = (result.errors ?? []).map((error): GraphFault => {
    const cause = (error as GraphQLError).originalError ?? error;
    const { message, extensions } = toGraphQLError(cause);
    if (extensions['code'] === undefined || extensions['code'] === 'internal') {
      log.error({ err: cause, reqId: requestId }, 'unexpected error');
      return {
        message: `Something went wrong on our side. Quote ${requestId} when you report it.`,
        locations: error.locations,
        path: error.path,
        extensions: { code: 'internal', status: 500, errors: [], retryable: false, traceId: requestId },
      };
    }
    return { message, locations: error.locations, path: error.path, extensions: { ...extensions, traceId: requestId } };
  });
  return { statusCode: 200, response: { data: result.data ?? null, errors: errors as unknown as GraphQLError[] } };
}

/** A query that was refused before it ran: its syntax, its types or its variables. */
export function requestFaults(faults: readonly { readonly message: string; readonly locations?: unknown }[]): GraphFault[] {
  const extensions = { code: 'graphql/invalid', status: 400, errors: [], retryable: false };
  return faults.map(({ message, locations }) => ({ message, locations: locations as GraphQLError['locations'], extensions }));
}
