import type { FastifyReply } from 'fastify';
import { TooManyRequests } from './transport.errors.js';

const WINDOW_MS = 60_000;
const MAX_TRACKED = 20_000;

/** What is left after spending. */
export interface Spent {
  readonly remaining: number;
  /** RFC 3339. */
  readonly resetAt: string;
}

/** Requests per credential and minute, counted in this process. Headers as in draft-ietf-httpapi-ratelimit-headers-11. */
export class RateLimit {
  private readonly windows = new Map<string, { since: number; used: number }>();

  constructor(
    private readonly perMinute: number,
    private readonly clock: () => number = Date.now,
  ) {}

  /** Spends `cost` of the credential's quota and says on the reply what is left. @throws TooManyRequests */
  spend(credentialId: string, reply: Pick<FastifyReply, 'header'>, cost = 1): Spent {
    const now = this.clock();
    let window = this.windows.get(credentialId);
    if (!window || now - window.since >= WINDOW_MS) {
      window = { since: now, used: 0 };
      if (this.windows.size >= MAX_TRACKED) this.windows.delete(this.windows.keys().next().value!);
      this.windows.set(credentialId, window);
    }
    const resetS = Math.max(1, Math.ceil((window.since + WINDOW_MS - now) / 1000));
    window.used += cost;
    const left = Math.max(0, this.perMinute - window.used);
    reply.header('ratelimit-policy', `"credential";q=${this.perMinute};w=60`);
    reply.header('ratelimit', `"credential";r=${left};t=${resetS}`);
    if (window.used > this.perMinute) throw new TooManyRequests(resetS);
    return { remaining: left, resetAt: new Date(window.since + WINDOW_MS).toISOString() };
  }
}
