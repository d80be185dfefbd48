import type { FastifyRequest } from 'fastify';

/** Address under which the world reaches this server (`COOLBACK_PUBLIC_URL`), null where it is not told. */
export const PUBLIC_URL = Symbol('public url');

const HOST = /^[\w.-]+(?::\d{1,5})?$|^\[[\da-f:]+\](?::\d{1,5})?$/i;

/** The address of this server as a reader of the answer reaches it: the public one where it is told, else that of the request. */
export function resourceOf(request: Pick<FastifyRequest, 'headers' | 'protocol'>, publicUrl: string | null): string {
  if (publicUrl !== null) return publicUrl.replace(/(?<!\/)\/+$/, '');
  const host = request.headers.host ?? '';
  return `${request.protocol}://${HOST.test(host) ? host : 'localhost'}`;
}

/** Where RFC 9728 looks for what a caller needs to be let in. */
export const resourceMetadataOf = (request: Pick<FastifyRequest, 'headers' | 'protocol'>, publicUrl: string | null): string =>
  `${resourceOf(request, publicUrl)}/.well-known/oauth-protected-resource`;
