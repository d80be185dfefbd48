import { type CanActivate, type ExecutionContext, Inject, Injectable, SetMetadata } from '@nestjs/common';
import { Reflector } from '@nestjs/core';
import type { FastifyReply } from 'fastify';
import { Casebook } from '#libs/casebook/index.js';
import { type AuthenticatedRequest, Call } from './call.js';
import { RateLimit } from './rate-limit.js';

export const OPEN_TO_ALL = 'coolback:open-to-all';
/** Marks a route that needs no key: health, documents, the console's files. */
export const OpenToAll = () => SetMetadata(OPEN_TO_ALL, true);

/** Turns the bearer key into the call's actor. GraphQL authenticates in its context instead, where no route is known. */
@Injectable()
export class CallerGuard implements CanActivate {
  constructor(
    @Inject(Casebook) private readonly casebook: Casebook,
    @Inject(RateLimit) private readonly rateLimit: RateLimit,
    @Inject(Reflector) private readonly reflector: Reflector,
  ) {}

  private readonly open = new WeakMap<object, boolean>();

  async canActivate(context: ExecutionContext): Promise<boolean> {
    if (context.getType<string>() !== 'http') return true;
    if (this.isOpen(context)) return true;
    const http = context.switchToHttp();
    const request = http.getRequest<AuthenticatedRequest>();
    const reply = http.getResponse<FastifyReply>();
    const actor = await this.casebook.access.authenticate(bearer(request.headers.authorization), request.id);
    this.rateLimit.spend(actor.credentialId, reply);
    reply.header('vary', 'Authorization');
    request.call = new Call(this.casebook, actor, request, reply);
    return true;
  }

  /** Read from the decorators once a handler: reflection on every request is dear. */
  private isOpen(context: ExecutionContext): boolean {
    const handler = context.getHandler();
    let open = this.open.get(handler);
    if (open === undefined) {
      open = this.reflector.getAllAndOverride<boolean>(OPEN_TO_ALL, [handler, context.getClass()]) === true;
      this.open.set(handler, open);
    }
    return open;
  }
}

export function bearer(header: string | undefined): string | undefined {
  const match = /^Bearer +(\S{1,200})$/i.exec(header ?? '');
  return match?.[1];
}
