import type { FastifyReply, FastifyRequest } from 'fastify';
import { CrossSiteRequest } from '#libs/casebook/index.js';

/**
 * The cookie of a console session: out of reach of scripts, sent to this site alone. `Secure` where the server's public address is https; a
 * server that is only reached over plain http on a shop's own network could set no secure cookie at all.
 */
export const SESSION_COOKIE = 'coolback_session';

const attributes = (secure: boolean): string => `Path=/; HttpOnly; SameSite=Strict${secure ? '; Secure' : ''}`;

export function giveCookie(reply: FastifyReply, secret: string, secure: boolean): void {
  reply.header('set-cookie', `${SESSION_COOKIE}=${secret}; Max-Age=${30 * 86_400}; ${attributes(secure)}`);
}

export function takeCookie(reply: FastifyReply, secure: boolean): void {
  reply.header('set-cookie', `${SESSION_COOKIE}=; Max-Age=0; ${attributes(secure)}`);
}

export function cookieSecret(header: string | undefined): string | undefined {
  const name = `${SESSION_COOKIE}=`;
  const pair = header
    ?.split(';')
    .map((one) => one.trim())
    .find((one) => one.startsWith(name));
  const secret = pair?.slice(name.length);
  return secret !== undefined && /^\w{1,100}$/.test(secret) ? secret : undefined;
}

/**
 * A cookie is honoured only for requests of this server's own pages. Browsers say where a request comes from (Sec-Fetch-Site, W3C Fetch Metadata;
 * Origin, RFC 6454); what changes something and says neither is refused. @throws CrossSiteRequest
 */
export function requireOwnPage(request: FastifyRequest, publicOrigin: string | null): void {
  const { headers, method } = request;
  const site = headers['sec-fetch-site'];
  const origin = headers.origin;
  const own = [publicOrigin, `http://${headers.host}`, `https://${headers.host}`];
  if (site !== undefined && site !== 'same-origin' && site !== 'none') throw new CrossSiteRequest();
  if (origin !== undefined && !own.includes(origin)) throw new CrossSiteRequest();
  const changes = method !== 'GET' && method !== 'HEAD';
  if (changes && origin === undefined && site !== 'same-origin') throw new CrossSiteRequest();
}
