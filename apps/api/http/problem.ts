import type { FastifyReply, FastifyRequest } from 'fastify';
import { Forbidden } from '#libs/casebook/index.js';
import { DomainError, type Problem, STATUS_OF_KIND } from '#libs/contracts/index.js';
import { unavailability } from '#libs/database/index.js';
import { hearOut } from './lingering.js';
import { resourceMetadataOf } from './public-url.js';
import {
  BodyTooLarge,
  MalformedJson,
  MethodNotAllowed,
  ServiceUnavailable,
  UnreadableRequest,
  UnsupportedBody,
} from './transport.errors.js';

/** Errors of the framework and the database as conditions of ours; null when it is a bug. */
export function asDomainError(error: unknown, bodyLimit: number): DomainError | null {
  if (error instanceof DomainError) return error;
  const down = unavailability(error);
  if (down) return new ServiceUnavailable(down.reason, { cause: error });
  const { code, statusCode, message } = (typeof error === 'object' && error !== null ? error : {}) as {
    code?: string;
    statusCode?: number;
    message?: string;
  };
  if (code === '40P01' || code === '40001') return new ServiceUnavailable('contention', { cause: error });
  if (code === 'FST_ERR_CTP_BODY_TOO_LARGE') return new BodyTooLarge(bodyLimit);
  if (code === 'FST_ERR_CTP_INVALID_MEDIA_TYPE') return new UnsupportedBody('(as sent)');
  if (code === 'FST_ERR_BAD_URL') return new UnreadableRequest('The address holds percent signs that stand for no character');
  if (code === 'FST_ERR_MAX_PARAM_LENGTH') return new UnreadableRequest('A part of the address is longer than any identifier here');
  if (code?.startsWith('FST_ERR_CTP') || statusCode === 400) return new MalformedJson(`${message ?? 'it cannot be read'}.`);
  return null;
}

export function titleOf(code: string): string {
  const words = code.split('/').join(': ').replaceAll('_', ' ');
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** The problem details of an error, or of the bug it is. */
export function toProblem(error: DomainError | null, request: { url: string; id: string }): Problem {
  if (!error) {
    return {
      type: '/problems/internal',
      title: 'Internal error',
      status: 500,
      detail: `Something went wrong on our side. Nothing was stored. Quote ${request.id} when you report it.`,
      instance: request.url.split('?')[0] ?? null,
      code: 'internal',
      errors: [],
      retryable: false,
      traceId: request.id,
    };
  }
  return {
    type: `/problems/${error.code.replaceAll('/', '-').replaceAll('_', '-')}`,
    title: titleOf(error.code),
    status: STATUS_OF_KIND[error.kind],
    detail: error.message,
    instance: request.url.split('?')[0] ?? null,
    code: error.code,
    errors: [...error.issues],
    retryable: error.kind === 'unavailable' || error.kind === 'limited' || error.retryAfterSeconds !== null,
    traceId: request.id,
  };
}

/**
 * What a refusal of a credential says of itself (RFC 6750, section 3): nothing more where none was sent, else whether it or its rights fall short.
 * Where to read on stands in `resource_metadata` (RFC 9728, section 5.1).
 */
function challengeOf(request: FastifyRequest, error: DomainError | null, publicUrl: string | null): string | null {
  if (error?.kind !== 'unauthenticated' && !(error instanceof Forbidden)) return null;
  const realm = `Bearer realm="coolback", resource_metadata="${resourceMetadataOf(request, publicUrl)}"`;
  if (error instanceof Forbidden) return `${realm}, error="insufficient_scope", scope="${error.permission}"`;
  return request.headers.authorization === undefined ? realm : `${realm}, error="invalid_token"`;
}

/** What an answer needs to know of the server. */
export interface Served {
  readonly bodyLimit: number;
  readonly publicUrl: string | null;
}

export function sendProblem(reply: FastifyReply, request: FastifyRequest, error: unknown, { bodyLimit, publicUrl }: Served): void {
  const known = asDomainError(error, bodyLimit);
  if (!known) request.log.error({ err: error, reqId: request.id }, 'unexpected error');
  else if (known.kind === 'unavailable') request.log.warn({ code: known.code, reqId: request.id }, known.message);
  const problem = toProblem(known, request);
  // A stream that breaks before its first byte has left: what was said about its bytes is not true of this answer.
  for (const header of ['content-encoding', 'content-disposition', 'content-length']) reply.removeHeader(header);
  if (known?.retryAfterSeconds != null) reply.header('retry-after', String(known.retryAfterSeconds));
  const challenge = challengeOf(request, known, publicUrl);
  if (challenge !== null) reply.header('www-authenticate', challenge);
  if (problem.status === 415 && request.method === 'PATCH') reply.header('accept-patch', 'application/merge-patch+json');
  if (known instanceof MethodNotAllowed) reply.header('allow', known.allow.join(', '));
  hearOut(request, reply);
  reply.code(problem.status).header('content-type', 'application/problem+json; charset=utf-8').send(JSON.stringify(problem));
}
