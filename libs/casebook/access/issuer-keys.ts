import { request as plainRequest } from 'node:http';
import { request as tlsRequest } from 'node:https';
import { createRemoteJWKSet, customFetch, type JWTVerifyGetKey } from 'jose';
import { type AllowedTargets, guardedLookup, refusalOf } from '../events/send.js';
import { IssuerUnreachable } from './tokens.errors.js';

const TIMEOUT_MS = 5_000;
const MAX_BYTES = 256 * 1024;
/** Keys are fetched at most once in this time, whatever tokens arrive; known keys are used for ten minutes without asking. */
const COOL_DOWN_MS = 30_000;
const KEPT_MS = 600_000;
const MAX_ISSUERS = 500;

interface Issuer {
  readonly keys: Promise<JWTVerifyGetKey>;
  readonly since: number;
  failed: boolean;
}

/** Signing keys of sign-in services, found by OpenID Connect Discovery 1.0 and kept. Only addresses an organisation named are asked, and only outward. */
export class IssuerKeys {
  private readonly issuers = new Map<string, Issuer>();

  constructor(
    private readonly allowed: AllowedTargets,
    private readonly clock: () => Date,
  ) {}

  /** @throws IssuerUnreachable */
  async of(issuer: string): Promise<JWTVerifyGetKey> {
    const now = this.clock().getTime();
    let known = this.issuers.get(issuer);
    if (!known || (known.failed && now - known.since > COOL_DOWN_MS)) {
      const made: Issuer = { keys: this.discover(issuer), since: now, failed: false };
      made.keys.catch(() => {
        made.failed = true;
      });
      if (this.issuers.size >= MAX_ISSUERS) this.issuers.delete(this.issuers.keys().next().value!);
      this.issuers.set(issuer, made);
      known = made;
    }
    return known.keys;
  }

  private async discover(issuer: string): Promise<JWTVerifyGetKey> {
    const found = await this.json(`${issuer.replace(/\/$/, '')}/.well-known/openid-configuration`);
    // Discovery 1.0, section 4.3: the document must name the very issuer it was asked of.
    if (found['issuer'] !== issuer || typeof found['jwks_uri'] !== 'string')
      throw new IssuerUnreachable('Its description does not name it, or names no keys.');
    // An unknown key makes the library ask again at once; how often anybody is really asked is decided here, by our own clock.
    let kept: { readonly text: string; readonly at: number } | null = null;
    return createRemoteJWKSet(new URL(found['jwks_uri']), {
      cooldownDuration: 0,
      cacheMaxAge: KEPT_MS,
      [customFetch]: async (url) => {
        const now = this.clock().getTime();
        if (!kept || now - kept.at >= COOL_DOWN_MS) kept = { text: JSON.stringify(await this.json(String(url))), at: now };
        return new Response(kept.text, { status: 200 });
      },
    });
  }

  /** One JSON document over a connection to an address that was judged; no redirects. */
  private json(address: string): Promise<Record<string, unknown>> {
    const refused = refusalOf(address, this.allowed);
    if (refused) throw new IssuerUnreachable(refused);
    const url = new URL(address);
    return new Promise((resolve, reject) => {
      const fail = (reason: string) => reject(new IssuerUnreachable(reason));
      const asked = (url.protocol === 'https:' ? tlsRequest : plainRequest)(url, {
        agent: false,
        lookup: guardedLookup(this.allowed),
        headers: { accept: 'application/json', 'user-agent': 'coolback/1' },
        signal: AbortSignal.timeout(TIMEOUT_MS),
      });
      asked.once('error', (error) => fail(error.message.slice(0, 200)));
      asked.once('response', (response) => {
        if (response.statusCode !== 200) {
          response.resume();
          return fail(`It answered ${response.statusCode}.`);
        }
        const parts: Buffer[] = [];
        let read = 0;
        response.on('data', (part: Buffer) => {
          read += part.length;
          if (read > MAX_BYTES) response.destroy(new Error('its answer is too long'));
          else parts.push(part);
        });
        response.once('error', (error) => fail(error.message));
        response.once('end', () => {
          try {
            resolve(JSON.parse(Buffer.concat(parts).toString('utf8')) as Record<string, unknown>);
          } catch {
            fail('Its answer is not JSON.');
          }
        });
      });
      asked.end();
    });
  }
}
