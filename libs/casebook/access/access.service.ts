import { v7 as uuidv7 } from 'uuid';
import {
  type IssuedKey,
  instantText,
  type Key,
  type KeyRotation,
  type Me,
  type Member,
  type MemberPatch,
  type NewKey,
  type NewMember,
  type Page,
  type PageInput,
  type Permission,
  type ProblemIssue,
} from '#libs/contracts/index.js';
import { constraintOf, type Tx } from '#libs/database/index.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { listShops } from '../shops/shops.queries.js';
import { newSealedHashKey } from '../vehicles/identity-hash.js';
import { requireVersion } from '../versions.errors.js';
import { KeyNotFound, KeyTooWide, MemberNotFound, Unauthenticated } from './access.errors.js';
import {
  type CredentialRow,
  endKey,
  findCredential,
  findKey,
  findMember,
  findOrganisation,
  insertKey,
  insertMember,
  insertOrganisation,
  listKeys,
  listMembers,
  touchKey,
  updateMember,
} from './access.queries.js';
import { type Actor, mayOpenShop, ROLE_PERMISSIONS, requirePermission } from './actor.js';
import { hashKeySecret, issueKeySecret, organisationOfKey } from './key-format.js';
import { SubjectTaken } from './tokens.errors.js';

/** How long a key that was just looked up is trusted without asking the database again. Revocation takes this long to bite. */
const CREDENTIAL_CACHE_MS = 5_000;
const LAST_USED_STEP_MS = 60_000;
const CACHE_SIZE = 2_000;

export class AccessService {
  private readonly cache = new Map<string, { readonly row: CredentialRow; readonly orgId: string; readonly until: number }>();

  constructor(private readonly context: CasebookContext) {}

  /** The actor behind a key. @throws Unauthenticated — the same answer for a malformed, unknown, expired and revoked key. */
  async authenticate(secret: string | undefined, requestId: string): Promise<Actor> {
    if (!secret) throw new Unauthenticated();
    const hash = hashKeySecret(secret);
    const now = this.context.clock();
    const cacheKey = hash.toString('latin1');
    let entry = this.cache.get(cacheKey);
    if (!entry || entry.until < now.getTime()) {
      const orgId = organisationOfKey(secret);
      if (!orgId) throw new Unauthenticated('This is not a key of this service, or a character was lost when copying it.');
      const row = await this.context.inTenant(orgId, async (tx) => {
        const found = await findCredential(tx, orgId, hash);
        if (found && now.getTime() - (found.lastUsedAt ? Date.parse(found.lastUsedAt) : 0) > LAST_USED_STEP_MS) {
          await touchKey(tx, orgId, found.id, now);
        }
        return found;
      });
      if (!row) throw new Unauthenticated('This key is unknown, expired or revoked.');
      entry = { row, orgId, until: now.getTime() + CREDENTIAL_CACHE_MS };
      if (this.cache.size >= CACHE_SIZE) this.cache.delete(this.cache.keys().next().value!);
      this.cache.set(cacheKey, entry);
    }
    const { row, orgId } = entry;
    if (isPast(row.revokedAt, now) || isPast(row.expiresAt, now)) throw new Unauthenticated('This key is unknown, expired or revoked.');
    return Object.freeze({
      orgId,
      credentialId: row.id,
      role: row.role,
      permissions: row.permissions,
      shopIds: row.shopIds,
      requestId,
      trustedDocumentsOnly: row.trustedDocumentsOnly,
    });
  }

  async me(actor: Actor): Promise<Me> {
    return this.context.inTenant(actor.orgId, async (tx) => {
      const organisation = await findOrganisation(tx, actor.orgId);
      if (!organisation) throw new Unauthenticated();
      return {
        organisationId: actor.orgId,
        organisationName: organisation.name,
        role: actor.role,
        permissions: [...actor.permissions],
        shopIds: actor.shopIds ? [...actor.shopIds] : null,
        credentialId: actor.credentialId,
        memberId: actor.memberId ?? null,
      };
    });
  }

  /**
   * Founds an organisation with its first administrator key. Called by the command line and the demo, not by callers of
   * the API: organisations do not create each other.
   */
  async foundOrganisation(input: {
    name: string;
    slug: string;
    demo: boolean;
    orgId?: string;
  }): Promise<{ orgId: string; secret: string }> {
    const orgId = input.orgId ?? uuidv7();
    const founder: Actor = {
      orgId,
      credentialId: orgId,
      role: 'administrator',
      permissions: ROLE_PERMISSIONS.administrator,
      shopIds: null,
      requestId: 'founding',
    };
    return this.context.inTenant(orgId, async (tx) => {
      await insertOrganisation(tx, {
        orgId,
        name: input.name,
        slug: input.slug,
        hashKey: newSealedHashKey(this.context.serverSecret),
        demo: input.demo,
      });
      const issued = await this.issueKeyIn(tx, founder, {
        name: 'First administrator',
        role: 'administrator',
        shopIds: null,
        expiresAt: null,
      });
      return { orgId, secret: issued.secret };
    });
  }

  /** Whether an organisation with this identifier is here. For the command line; over the API it is told by the key. */
  async isFounded(orgId: string): Promise<boolean> {
    return this.context.inTenant(orgId, async (tx) => (await findOrganisation(tx, orgId)) !== null);
  }

  async issueKey(actor: Actor, input: NewKey): Promise<IssuedKey> {
    requirePermission(actor, 'keys:write');
    return this.context.inTenant(actor.orgId, (tx) => this.issueKeyIn(tx, actor, input));
  }

  /** The same within a transaction that is already open. */
  async issueKeyIn(tx: Tx, actor: Actor, input: NewKey): Promise<IssuedKey> {
    const permissions = input.permissions ?? [...ROLE_PERMISSIONS[input.role]];
    const issues = tooWide(actor, input, permissions);
    if (issues.length > 0) throw new KeyTooWide(issues);
    await requireShops(tx, actor, input.shopIds);
    const secret = issueKeySecret(actor.orgId);
    const at = this.context.clock();
    const key: Key = {
      id: uuidv7(),
      version: 1,
      name: input.name,
      hint: secret.slice(-4),
      role: input.role,
      permissions,
      shopIds: input.shopIds,
      createdAt: instantText(at),
      expiresAt: input.expiresAt,
      revokedAt: null,
      lastUsedAt: null,
      trustedDocumentsOnly: input.trustedDocumentsOnly ?? actor.trustedDocumentsOnly ?? false,
    };
    await insertKey(tx, actor.orgId, key, hashKeySecret(secret));
    await appendAudit(tx, actor, at, 'key.issued', { type: 'key', id: key.id }, { name: key.name, role: key.role });
    return { key, secret };
  }

  /** A new secret for the same rights; the old key goes on for the overlap and then ends. */
  async rotateKey(actor: Actor, id: string, input: KeyRotation): Promise<IssuedKey> {
    requirePermission(actor, 'keys:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const old = await findKey(tx, actor.orgId, id);
      if (!old || old.revokedAt !== null || !isWithin(actor, old.shopIds)) throw new KeyNotFound(id);
      const issued = await this.issueKeyIn(tx, actor, {
        name: old.name,
        role: old.role,
        permissions: old.permissions,
        shopIds: old.shopIds,
        expiresAt: old.expiresAt,
        trustedDocumentsOnly: old.trustedDocumentsOnly,
      });
      const at = this.context.clock();
      const ends = instantText(new Date(at.getTime() + input.overlapHours * 3_600_000));
      await endKey(tx, actor.orgId, id, {
        revokedAt: null,
        expiresAt: old.expiresAt !== null && old.expiresAt < ends ? old.expiresAt : ends,
      });
      await appendAudit(tx, actor, at, 'key.rotated', { type: 'key', id }, { replacedBy: issued.key.id, ends });
      return issued;
    });
  }

  async revokeKey(actor: Actor, id: string): Promise<Key> {
    requirePermission(actor, 'keys:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const key = await findKey(tx, actor.orgId, id);
      if (!key || !isWithin(actor, key.shopIds)) throw new KeyNotFound(id);
      if (key.revokedAt !== null) return key;
      const at = this.context.clock();
      await endKey(tx, actor.orgId, id, { revokedAt: instantText(at), expiresAt: null });
      await appendAudit(tx, actor, at, 'key.revoked', { type: 'key', id });
      return { ...key, version: key.version + 1, revokedAt: instantText(at) };
    });
  }

  async listKeys(actor: Actor, page: PageInput): Promise<Page<Key>> {
    requirePermission(actor, 'keys:read');
    return this.listById(actor, page, 'keys', listKeys);
  }

  async addMember(actor: Actor, input: NewMember): Promise<Member> {
    requirePermission(actor, 'members:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await requireShops(tx, actor, input.shopIds);
      const at = this.context.clock();
      const member: Member = {
        id: uuidv7(),
        version: 1,
        active: true,
        hasPin: false,
        createdAt: instantText(at),
        ...input,
        subject: input.subject ?? null,
      };
      await oneSubject(insertMember(tx, actor.orgId, member));
      await appendAudit(tx, actor, at, 'member.added', { type: 'member', id: member.id }, { role: member.role });
      return member;
    });
  }

  async changeMember(actor: Actor, id: string, patch: MemberPatch, expectedVersion: number | undefined): Promise<Member> {
    requirePermission(actor, 'members:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const member = await findMember(tx, actor.orgId, id);
      if (!member || !isWithin(actor, member.shopIds)) throw new MemberNotFound(id);
      requireVersion(expectedVersion, member.version);
      if (patch.shopIds !== undefined) await requireShops(tx, actor, patch.shopIds);
      const changed: Member = { ...member, ...patch };
      await oneSubject(updateMember(tx, actor.orgId, changed));
      await appendAudit(tx, actor, this.context.clock(), 'member.changed', { type: 'member', id }, { fields: Object.keys(patch) });
      return { ...changed, version: member.version + 1 };
    });
  }

  async listMembers(actor: Actor, page: PageInput): Promise<Page<Member>> {
    requirePermission(actor, 'members:read');
    return this.listById(actor, page, 'members', listMembers);
  }

  private async listById<T extends { readonly id: string }>(
    actor: Actor,
    page: PageInput,
    list: string,
    query: (tx: Tx, orgId: string, shopIds: readonly string[] | null, after: string | null, limit: number) => Promise<T[]>,
  ): Promise<Page<T>> {
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list });
    const after = decodeCursor(page.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => query(tx, actor.orgId, actor.shopIds, after?.[0] ?? null, first + 1));
    return toPage(rows, first, hash, (row) => [row.id]);
  }
}

export const isPast = (instant: string | null, now: Date): boolean => instant !== null && Date.parse(instant) <= now.getTime();

function tooWide(actor: Actor, input: NewKey, permissions: readonly Permission[]): ProblemIssue[] {
  const issues: ProblemIssue[] = [];
  for (const permission of permissions) {
    if (!ROLE_PERMISSIONS[input.role].includes(permission)) {
      issues.push({
        pointer: '/permissions',
        code: 'access/key_too_wide',
        detail: `The role ${input.role} does not have "${permission}".`,
        remedy: `Leave it out, or choose a role that has it.`,
      });
    }
  }
  if (!isWithin(actor, input.shopIds)) issues.push(WIDER_SHOPS);
  if (actor.trustedDocumentsOnly && input.trustedDocumentsOnly === false) {
    issues.push({
      pointer: '/trustedDocumentsOnly',
      code: 'access/key_too_wide',
      detail: 'Your own credential is held to trusted documents.',
      remedy: 'Leave it out.',
    });
  }
  return issues;
}

/** @throws SubjectTaken */
async function oneSubject(written: Promise<void>): Promise<void> {
  try {
    await written;
  } catch (error) {
    if (constraintOf(error) === 'member_org_id_subject_key') throw new SubjectTaken();
    throw error;
  }
}

const WIDER_SHOPS: ProblemIssue = {
  pointer: '/shopIds',
  code: 'access/key_too_wide',
  detail: 'This would open shops that your own credential may not open.',
  remedy: 'Limit it to your own shops.',
};

/** Whether everything these limits open is open to the actor too. Keys and people beyond that are as if they were not there. */
export function isWithin(actor: Actor, shopIds: readonly string[] | null): boolean {
  return actor.shopIds === null || (shopIds?.every((id) => mayOpenShop(actor, id)) ?? false);
}

/** Limits name shops that are there and that the actor may open. @throws KeyTooWide, ShopNotFound */
async function requireShops(tx: Tx, actor: Actor, shopIds: readonly string[] | null): Promise<void> {
  if (!isWithin(actor, shopIds)) throw new KeyTooWide([WIDER_SHOPS]);
  if (shopIds === null || shopIds.length === 0) return;
  const found = new Set((await listShops(tx, actor.orgId, shopIds, null, shopIds.length)).map(({ id }) => id));
  const missing = shopIds.find((id) => !found.has(id));
  if (missing !== undefined) throw new ShopNotFound(missing, '/shopIds');
}
