import { decodeJwt, errors, jwtVerify } from 'jose';
import { instantText, type NewSignInService, PERMISSIONS, type Permission, type SignInService } from '#libs/contracts/index.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { PUBLIC_ONLY, refusalOf } from '../events/send.js';
import { Unauthenticated } from './access.errors.js';
import { type Actor, ROLE_PERMISSIONS, requirePermission } from './actor.js';
import { IssuerKeys } from './issuer-keys.js';
import { hashKeySecret } from './key-format.js';
import { IssuerRefused } from './tokens.errors.js';
import { deleteIssuer, findHolder, findIssuer, putIssuer, type TokenHolder } from './tokens.queries.js';

/** Signatures by a key that only the issuer has. No HMAC, which would make a public key a password, and no `none` (RFC 8725, sections 2.1 and 3.1). */
const ALGORITHMS = ['RS256', 'RS384', 'RS512', 'PS256', 'PS384', 'PS512', 'ES256', 'ES384', 'ES512', 'EdDSA', 'Ed25519'];
const TOLERANCE_S = 60;
const MAX_TOKEN = 8_192;
const CACHE_MS = 5_000;
const CACHE_SIZE = 2_000;

/** What an organisation's access tokens must be made for. */
const audienceOf = (orgId: string): string => `urn:uuid:${orgId}`;
const AUDIENCE = /^urn:uuid:([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})$/;
const REFUSED = 'This token is not one of your organisation’s sign-in service, has ended, or names nobody here.';

interface Verified {
  readonly orgId: string;
  readonly holder: TokenHolder;
  readonly permissions: readonly Permission[];
  readonly endsAt: number;
}

/**
 * JWT access tokens (RFC 9068) of the sign-in service an organisation trusts. The audience names the organisation, so that even finding out whom to
 * trust happens under one tenant; the issuer must be the one that organisation named; the subject is looked up among its people, whose role and
 * shops say what may be done. A token carries no rights of its own; a `scope` that names permissions narrows them.
 */
export class TokensService {
  private readonly keys: IssuerKeys;
  private readonly cache = new Map<string, Verified & { readonly until: number }>();

  constructor(private readonly context: CasebookContext) {
    this.keys = new IssuerKeys(context.webhookTargets ?? PUBLIC_ONLY, context.clock);
  }

  static looksLikeToken = (secret: string): boolean => secret.startsWith('ey') && secret.split('.').length === 3;

  /** @throws Unauthenticated — the same answer for every fault of a token; IssuerUnreachable */
  async authenticate(token: string, requestId: string): Promise<Actor> {
    if (token.length > MAX_TOKEN) throw new Unauthenticated(REFUSED);
    const now = this.context.clock().getTime();
    const key = hashKeySecret(token).toString('latin1');
    let known = this.cache.get(key);
    if (!known || known.until < now) {
      known = { ...(await this.verify(token)), until: now + CACHE_MS };
      if (this.cache.size >= CACHE_SIZE) this.cache.delete(this.cache.keys().next().value!);
      this.cache.set(key, known);
    }
    if (known.endsAt + TOLERANCE_S * 1000 <= now) throw new Unauthenticated(REFUSED);
    const { id, role, shopIds } = known.holder;
    return Object.freeze({ orgId: known.orgId, credentialId: id, memberId: id, role, permissions: known.permissions, shopIds, requestId });
  }

  private async verify(token: string): Promise<Verified> {
    let claimed: ReturnType<typeof decodeJwt>;
    try {
      claimed = decodeJwt(token);
    } catch {
      throw new Unauthenticated(REFUSED);
    }
    const orgId = [claimed.aud ?? []].flat().flatMap((one) => AUDIENCE.exec(one)?.[1] ?? [])[0];
    if (orgId === undefined || typeof claimed.iss !== 'string') throw new Unauthenticated(REFUSED);
    const trusted = await this.context.inTenant(orgId, (tx) => findIssuer(tx, orgId));
    if (trusted?.issuer !== claimed.iss) throw new Unauthenticated(REFUSED);
    const clock = this.context.clock();
    const keys = await this.keys.of(trusted.issuer);
    try {
      const { payload } = await jwtVerify(token, keys, {
        issuer: trusted.issuer,
        audience: audienceOf(orgId),
        algorithms: ALGORITHMS,
        typ: 'at+jwt',
        clockTolerance: TOLERANCE_S,
        requiredClaims: ['exp', 'iat', 'sub'],
        currentDate: clock,
      });
      const subject = payload.sub ?? '';
      if (subject.length > 255 || subject.includes('\u0000') || !subject.isWellFormed()) throw new Unauthenticated(REFUSED);
      const holder = await this.context.inTenant(orgId, (tx) => findHolder(tx, orgId, subject));
      if (!holder) throw new Unauthenticated(REFUSED);
      return { orgId, holder, permissions: narrowed(ROLE_PERMISSIONS[holder.role], payload['scope']), endsAt: payload.exp! * 1000 };
    } catch (error) {
      if (error instanceof errors.JOSEError) throw new Unauthenticated(REFUSED);
      throw error;
    }
  }

  /** The one that is trusted, if any, and what its tokens must be made for. */
  async getSignInService(actor: Actor): Promise<SignInService> {
    requirePermission(actor, 'keys:read');
    const found = await this.context.inTenant(actor.orgId, (tx) => findIssuer(tx, actor.orgId));
    return { issuer: found?.issuer ?? null, audience: audienceOf(actor.orgId), createdAt: found?.createdAt ?? null };
  }

  /** Trusts a sign-in service, instead of the one before. It is asked for its keys when its first token comes. @throws IssuerRefused */
  async setSignInService(actor: Actor, { issuer }: NewSignInService): Promise<SignInService> {
    requirePermission(actor, 'keys:write');
    const refused = refusalOf(issuer, this.context.webhookTargets ?? PUBLIC_ONLY);
    if (refused) throw new IssuerRefused(refused);
    const at = this.context.clock();
    await this.context.inTenant(actor.orgId, async (tx) => {
      await putIssuer(tx, actor.orgId, issuer, at);
      await appendAudit(tx, actor, at, 'sign-in-service.set', { type: 'organisation', id: actor.orgId }, { issuer });
    });
    this.cache.clear();
    return { issuer, audience: audienceOf(actor.orgId), createdAt: instantText(at) };
  }

  /** Trusts none any more. */
  async removeSignInService(actor: Actor): Promise<SignInService> {
    requirePermission(actor, 'keys:write');
    await this.context.inTenant(actor.orgId, async (tx) => {
      const subject = { type: 'organisation', id: actor.orgId };
      if (await deleteIssuer(tx, actor.orgId)) await appendAudit(tx, actor, this.context.clock(), 'sign-in-service.removed', subject);
    });
    this.cache.clear();
    return { issuer: null, audience: audienceOf(actor.orgId), createdAt: null };
  }
}

/** Permissions that a scope leaves; a scope that names none of ours is of somebody else's language and narrows nothing. */
function narrowed(permissions: readonly Permission[], scope: unknown): readonly Permission[] {
  if (typeof scope !== 'string') return permissions;
  const named = scope.split(' ').filter((one): one is Permission => (PERMISSIONS as readonly string[]).includes(one));
  return named.length === 0 ? permissions : permissions.filter((one) => named.includes(one));
}
