import { type ArgumentsHost, Catch, type ExceptionFilter, HttpException, Inject } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { GraphQLError } from 'graphql';
import { allowedMethods } from './allowed-methods.js';
import { asDomainError, sendProblem, toProblem } from './problem.js';
import { PUBLIC_URL } from './public-url.js';
import { MethodNotAllowed, RouteNotFound } from './transport.errors.js';

export const BODY_LIMIT = 1024 * 1024;

/** The one place where errors become answers, for both transports. */
@Catch()
export class ProblemFilter implements ExceptionFilter {
  constructor(@Inject(PUBLIC_URL) private readonly publicUrl: string | null) {}

  catch(error: unknown, host: ArgumentsHost): void {
    if (host.getType<string>() === 'graphql') throw toGraphQLError(error);
    const http = host.switchToHttp();
    const request = http.getRequest<FastifyRequest>();
    const notFound = error instanceof HttpException && error.getStatus() === 404;
    const served = { bodyLimit: BODY_LIMIT, publicUrl: this.publicUrl };
    sendProblem(http.getResponse<FastifyReply>(), request, notFound ? nowhere(request) : error, served);
  }
}

/** No route took it: there is nothing at the address, or only for other methods. */
function nowhere({ method, url, server }: FastifyRequest): RouteNotFound | MethodNotAllowed {
  const path = url.split('?')[0]!;
  const allow = allowedMethods(server.server, path);
  return allow.length === 0 ? new RouteNotFound(method, path) : new MethodNotAllowed(method, path, allow);
}

/** The same code, issues and words as the REST answer, in `extensions`. */
export function toGraphQLError(error: unknown): GraphQLError {
  if (error instanceof GraphQLError) return error;
  const known = asDomainError(error, BODY_LIMIT);
  const problem = toProblem(known, { url: '/graphql', id: 'graphql' });
  return new GraphQLError(problem.detail, {
    ...(known ? {} : { originalError: error as Error }),
    extensions: { code: problem.code, status: problem.status, errors: problem.errors, retryable: problem.retryable },
  });
}
