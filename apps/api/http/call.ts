import { createParamDecorator, type ExecutionContext } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { type Actor, type Casebook, NoSession, type OpenSession, once, plainKey, Unauthenticated } from '#libs/casebook/index.js';
import { BadIfMatch, IdempotencyKeyMissing } from './transport.errors.js';

/** One authenticated request: who asks, and how its answer is given. Made by the guard, handed to controllers by `@Caller()`. */
export class Call {
  constructor(
    readonly casebook: Casebook,
    readonly actor: Actor,
    private readonly request: FastifyRequest,
    private readonly reply: FastifyReply,
    private readonly opened: OpenSession | null = null,
  ) {}

  /** The session of the cookie. @throws NoSession when a key asks */
  get session(): OpenSession {
    if (!this.opened) throw new NoSession('This concerns the session of a cookie; a key has none. Open one with POST /v1/session.');
    return this.opened;
  }

  /** Whoever holds a key or a token. @throws Unauthenticated when a session asks: sessions do not beget sessions */
  get keyHolder(): Actor {
    if (this.opened) throw new Unauthenticated('A session is opened with a key: "Authorization: Bearer <key>".');
    return this.actor;
  }

  /** Version named by If-Match, undefined when the header is absent. @throws BadIfMatch */
  get expectedVersion(): number | undefined {
    const header = this.request.headers['if-match'];
    if (header === undefined) return undefined;
    const match = /^"(\d{1,9})"$/.exec(header.trim());
    if (!match) throw new BadIfMatch();
    return Number(match[1]);
  }

  /** Answers with one resource and its ETag. */
  tagged<T extends { readonly version: number }>(resource: T): T {
    this.reply.header('etag', `"${resource.version}"`);
    return resource;
  }

  /** Answers with a page and its Link header. */
  paged<T extends { readonly next: string | null }>(page: T): T {
    if (page.next !== null) {
      const [path, query = ''] = this.request.url.split('?', 2) as [string, string?];
      const kept = query.split('&').filter((part) => part !== '' && !part.startsWith('after='));
      const next = `<${path}?${[...kept, `after=${encodeURIComponent(page.next)}`].join('&')}>; rel="next"`;
      const others = this.reply.getHeader('link');
      this.reply.header('link', others === undefined ? next : `${next}, ${String(others)}`);
    }
    return page;
  }

  /** The request's Idempotency-Key. @throws IdempotencyKeyMissing, BadIdempotencyKey */
  get requestKey(): string {
    const key = this.request.headers['idempotency-key'];
    if (typeof key !== 'string' || key.length === 0) throw new IdempotencyKeyMissing();
    return plainKey(key);
  }

  /**
   * Answers a creating request, once per Idempotency-Key: the key, the data and the stored answer commit together.
   * `work` gets a casebook whose operations all join that transaction.
   */
  async create<T>(
    work: (casebook: Casebook) => Promise<T>,
    about: (made: T) => { readonly status?: number; readonly location?: string; readonly version?: number; readonly body?: unknown },
  ): Promise<string> {
    const answer = await once(
      this.casebook,
      this.actor,
      this.requestKey,
      { method: this.request.method, path: this.request.url, body: this.request.body ?? null },
      async (casebook) => {
        const made = await work(casebook);
        const { status = 201, location, version, body } = about(made);
        return {
          status,
          headers: { ...(location ? { location } : {}), ...(version === undefined ? {} : { etag: `"${version}"` }) },
          body: JSON.stringify(body ?? made),
        };
      },
    );
    for (const [name, value] of Object.entries(answer.headers)) this.reply.header(name, value);
    if (answer.replayed) this.reply.header('idempotency-replayed', 'true');
    this.reply.code(answer.status).header('content-type', 'application/json; charset=utf-8');
    return answer.body;
  }
}

export interface AuthenticatedRequest extends FastifyRequest {
  call?: Call;
  /** Known as soon as the key is: also of requests that are refused afterwards. */
  askedBy?: Actor;
}

/** The authenticated call of a REST request. */
export const Caller = createParamDecorator((_data: unknown, context: ExecutionContext): Call => {
  const { call } = context.switchToHttp().getRequest<AuthenticatedRequest>();
  if (!call) throw new Error('a route that needs a caller is not behind the guard');
  return call;
});
