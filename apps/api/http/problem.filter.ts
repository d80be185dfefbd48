import { type ArgumentsHost, Catch, type ExceptionFilter, HttpException } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { GraphQLError } from 'graphql';
import { asDomainError, sendProblem, toProblem } from './problem.js';
import { RouteNotFound } from './transport.errors.js';

export const BODY_LIMIT = 1024 * 1024;

/** The one place where errors become answers, for both transports. */
@Catch()
export class ProblemFilter implements ExceptionFilter {
  catch(error: unknown, host: ArgumentsHost): void {
    if (host.getType<string>() === 'graphql') throw toGraphQLError(error);
    const http = host.switchToHttp();
    const request = http.getRequest<FastifyRequest>();
    const notFound = error instanceof HttpException && error.getStatus() === 404;
    sendProblem(
      http.getResponse<FastifyReply>(),
      request,
      notFound ? new RouteNotFound(request.method, request.url.split('?')[0]!) : error,
      BODY_LIMIT,
    );
  }
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
