import { type CanActivate, type ExecutionContext, Inject, Injectable, SetMetadata } from '@nestjs/common';
import { Reflector } from '@nestjs/core';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { type Actor, Casebook, NobodySignedIn, type OpenSession, TokensService } from '#libs/casebook/index.js';
import { type AuthenticatedRequest, Call } from './call.js';
import { deprecationHeaders } from './deprecation.js';
import { FACTS, type OperationFacts } from './operation.js';
import { PUBLIC_URL } from './public-url.js';
import { RateLimit } from './rate-limit.js';
import { cookieSecret, requireOwnPage } from './session-cookie.js';

export const OPEN_TO_ALL = 'coolback:open-to-all';
/** Marks a route that needs no key: health, documents, the console's files. */
export const OpenToAll = () => SetMetadata(OPEN_TO_ALL, true);

/** What the decorators of a handler say. */
interface Flags {
  readonly open: boolean;
  readonly sessionOnly: boolean;
  readonly headers: Readonly<Record<string, string>> | null;
}

/** Turns the bearer key into the call's actor. GraphQL authenticates in its context instead, where no route is known. */
@Injectable()
export class CallerGuard implements CanActivate {
  constructor(
    @Inject(Casebook) private readonly casebook: Casebook,
    @Inject(RateLimit) private readonly rateLimit: RateLimit,
    @Inject(Reflector) private readonly reflector: Reflector,
    @Inject(PUBLIC_URL) private readonly publicUrl: string | null,
  ) {}

  private readonly flags = new WeakMap<object, Flags>();

  async canActivate(context: ExecutionContext): Promise<boolean> {
    if (context.getType<string>() !== 'http') return true;
    const { open, sessionOnly, headers } = this.flagsOf(context);
    const http = context.switchToHttp();
    const reply = http.getResponse<FastifyReply>();
    if (headers !== null) reply.headers(headers);
    if (open) return true;
    const request = http.getRequest<AuthenticatedRequest>();
    const { actor, session } = await authenticate(this.casebook, request, this.publicUrl);
    this.rateLimit.spend(actor.credentialId, reply);
    reply.header('vary', 'Authorization, Cookie, Accept-Encoding');
    if (session?.nobody && !sessionOnly) throw new NobodySignedIn();
    request.call = new Call(this.casebook, actor, request, reply, session);
    return true;
  }

  /** Read from the decorators once a handler: reflection on every request is dear. */
  private flagsOf(context: ExecutionContext): Flags {
    const handler = context.getHandler();
    let flags = this.flags.get(handler);
    if (flags === undefined) {
      const open = this.reflector.getAllAndOverride<boolean>(OPEN_TO_ALL, [handler, context.getClass()]) === true;
      const { sessionOnly = false, secret, deprecated } = this.reflector.get<OperationFacts | undefined>(FACTS, handler) ?? {};
      const headers = {
        ...(deprecated ? deprecationHeaders(deprecated) : {}),
        // Nobody on the way may store it or, compressing it, show by its length what is in it.
        ...(secret ? { 'cache-control': 'no-store, no-transform' } : {}),
      };
      flags = { open, sessionOnly, headers: Object.keys(headers).length === 0 ? null : headers };
      this.flags.set(handler, flags);
    }
    return flags;
  }
}

/** Who asks: by key or token where one is sent, else by the session of a cookie. The request is counted for them when it has been answered. */
export async function authenticate(
  casebook: Casebook,
  request: FastifyRequest,
  publicUrl: string | null,
): Promise<{ actor: Actor; session: OpenSession | null }> {
  const known = await whoAsks(casebook, request, publicUrl);
  (request as AuthenticatedRequest).askedBy = known.actor;
  return known;
}

async function whoAsks(
  casebook: Casebook,
  request: FastifyRequest,
  publicUrl: string | null,
): Promise<{ actor: Actor; session: OpenSession | null }> {
  const { authorization, cookie } = request.headers;
  const secret = authorization === undefined ? cookieSecret(cookie) : undefined;
  if (secret === undefined) {
    const sent = bearer(authorization);
    const byToken = sent !== undefined && TokensService.looksLikeToken(sent);
    const actor = await (byToken ? casebook.tokens.authenticate(sent, request.id) : casebook.access.authenticate(sent, request.id));
    return { actor, session: null };
  }
  requireOwnPage(request, publicUrl === null ? null : new URL(publicUrl).origin);
  const session = await casebook.sessions.authenticate(secret, request.id);
  return { actor: session.actor, session };
}

export function bearer(header: string | undefined): string | undefined {
  const match = /^Bearer +(\S{1,10000})$/i.exec(header ?? '');
  return match?.[1];
}
