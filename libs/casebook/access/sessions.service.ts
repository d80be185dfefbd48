import { v7 as uuidv7 } from 'uuid';
import {
  instantText,
  type Member,
  type NewPin,
  type NewSession,
  type Permission,
  type PinChange,
  type Session,
  type SessionPerson,
  type SignIn,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import { MemberNotFound } from './access.errors.js';
import { findMember } from './access.queries.js';
import { isPast, isWithin } from './access.service.js';
import { type Actor, ROLE_PERMISSIONS, requirePermission } from './actor.js';
import { hashKeySecret, issueKeySecret, organisationOfKey } from './key-format.js';
import { isPin, isWeakPin, type StoredPin, sealPin } from './pin.js';
import { NobodySignedIn, NoSession, PinPaused, PinRefused, PinWeak, SharedNeedsKey } from './sessions.errors.js';
import {
  endSession,
  findSession,
  forgetSessions,
  insertSession,
  listPeople,
  lockPin,
  lockTries,
  type PinState,
  putPin,
  readSession,
  removePin,
  type SessionRow,
  setPerson,
  setPinTries,
  setTries,
  signOutEverywhere,
  touchSession,
} from './sessions.queries.js';

const OWN_MS = 12 * 3_600_000;
const SHARED_MS = 30 * 86_400_000;
/** How long somebody who signed in with a PIN may do nothing, and how long one sign-in lasts at most. */
const PERSON_IDLE_MS = 30 * 60_000;
const PERSON_MS = 12 * 3_600_000;
const CACHE_MS = 5_000;
const CACHE_SIZE = 2_000;
const TOUCH_MS = 60_000;
const PAUSE_MS = 15 * 60_000;
const TRIES_OF_A_PIN = 5;
const TRIES_AT_A_DEVICE = 20;
const MAX_PEOPLE = 500;
/** What a few digits do not open, whatever the person's role and the device's key. */
const NOT_BY_PIN: readonly Permission[] = [
  'keys:write',
  'members:write',
  'shops:write',
  'webhooks:write',
  'vehicles:delete',
  'organisation:export',
];

/** An open session and who acts in it. */
export interface OpenSession {
  readonly row: SessionRow;
  /** Without permissions while nobody has signed in at a shared device. */
  readonly actor: Actor;
  readonly nobody: boolean;
}

/** Sessions of the console: a key exchanged for a secret in a cookie, and people who sign in with a PIN at a device they share. */
export class SessionsService {
  private readonly cache = new Map<string, { readonly row: SessionRow; readonly until: number }>();

  constructor(private readonly context: CasebookContext) {}

  /**
   * Exchanges the key, or the token of a person, that asks for a session. The secret is for a cookie that scripts cannot read, and is never
   * stored. A shared device stands on a key: it outlives whoever set it up.
   */
  async open(actor: Actor, input: NewSession): Promise<{ session: Session; secret: string }> {
    const byToken = actor.memberId === actor.credentialId;
    if (byToken && input.shared) throw new SharedNeedsKey();
    const secret = issueKeySecret(actor.orgId, 'cbs');
    const hash = hashKeySecret(secret);
    const at = this.context.clock();
    const row = await this.context.inTenant(actor.orgId, async (tx) => {
      const id = uuidv7();
      const expiresAt = new Date(at.getTime() + (input.shared ? SHARED_MS : OWN_MS));
      await forgetSessions(tx, actor.orgId, new Date(at.getTime() - SHARED_MS));
      await insertSession(tx, actor.orgId, {
        id,
        keyId: byToken ? null : actor.credentialId,
        memberId: byToken ? actor.credentialId : null,
        hash,
        shared: input.shared,
        at,
        expiresAt,
      });
      await appendAudit(tx, actor, at, 'session.opened', { type: 'session', id }, { shared: input.shared });
      return findSession(tx, actor.orgId, hash);
    });
    return { session: describe(this.judge(row, actor.orgId, actor.requestId)), secret };
  }

  /** The session behind a cookie. @throws NoSession — the same for a damaged, unknown and ended one. */
  async authenticate(secret: string, requestId: string): Promise<OpenSession> {
    const orgId = organisationOfKey(secret, 'cbs');
    if (!orgId) throw new NoSession();
    const hash = hashKeySecret(secret);
    const now = this.context.clock();
    const kept = this.cache.get(hash.toString('latin1'));
    if (kept && kept.until >= now.getTime()) return this.judge(kept.row, orgId, requestId);
    const row = await this.context.inTenant(orgId, async (tx) => {
      const found = await findSession(tx, orgId, hash);
      // Only a session that goes on is touched: touching would bring back somebody who was away for too long.
      if (found && this.isOpen(found, now) && !this.isAway(found, now) && now.getTime() - Date.parse(found.lastUsedAt) > TOUCH_MS) {
        await touchSession(tx, orgId, found.id, now);
        return { ...found, lastUsedAt: instantText(now) };
      }
      return found;
    });
    if (row) {
      if (this.cache.size >= CACHE_SIZE) this.cache.delete(this.cache.keys().next().value!);
      this.cache.set(hash.toString('latin1'), { row, until: now.getTime() + CACHE_MS });
    }
    return this.judge(row, orgId, requestId);
  }

  describe(open: OpenSession): Session {
    return describe(open);
  }

  async end(open: OpenSession): Promise<{ id: string }> {
    const { actor, row } = open;
    await this.context.inTenant(actor.orgId, async (tx) => {
      const at = this.context.clock();
      await endSession(tx, actor.orgId, row.id, at);
      await appendAudit(tx, actor, at, 'session.ended', { type: 'session', id: row.id });
    });
    this.cache.clear();
    return { id: row.id };
  }

  /** Who may sign in at this device: names to pick from. */
  async people(open: OpenSession): Promise<SessionPerson[]> {
    return this.context.inTenant(open.actor.orgId, (tx) => listPeople(tx, open.actor.orgId, open.row.keyShopIds, MAX_PEOPLE));
  }

  /** @throws PinRefused, PinPaused */
  async signIn(open: OpenSession, { memberId, pin }: SignIn): Promise<Session> {
    const { actor, row } = open;
    await this.tryPin(open, memberId, pin, '/pin');
    const at = this.context.clock();
    const changed = await this.context.inTenant(actor.orgId, async (tx) => {
      const until = new Date(at.getTime() + (row.shared ? SHARED_MS : OWN_MS));
      await setPerson(tx, actor.orgId, row.id, memberId, at, until);
      await setPinTries(tx, actor.orgId, memberId, { failures: 0, lockedUntil: null });
      await appendAudit(tx, { ...actor, memberId }, at, 'session.signed-in', { type: 'session', id: row.id });
      return this.again(tx, open);
    });
    return describe(this.judge(changed, actor.orgId, actor.requestId));
  }

  async signOut(open: OpenSession): Promise<Session> {
    const { actor, row } = open;
    const changed = await this.context.inTenant(actor.orgId, async (tx) => {
      const at = this.context.clock();
      await setPerson(tx, actor.orgId, row.id, null, at, null);
      if (row.memberId) await appendAudit(tx, actor, at, 'session.signed-out', { type: 'session', id: row.id });
      return this.again(tx, open);
    });
    return describe(this.judge(changed, actor.orgId, actor.requestId));
  }

  /** Changes the PIN of whoever has signed in. @throws NobodySignedIn, PinRefused, PinPaused, PinWeak */
  async changeOwnPin(open: OpenSession, { currentPin, pin }: PinChange): Promise<Session> {
    const { memberId } = open.actor;
    if (!memberId) throw new NobodySignedIn();
    if (isWeakPin(pin)) throw new PinWeak();
    await this.tryPin(open, memberId, currentPin, '/currentPin');
    await this.storePin(open.actor, memberId, pin);
    return describe(open);
  }

  /** Sets the PIN of a person; devices where they are signed in go on. @throws MemberNotFound, PinWeak */
  async setPin(actor: Actor, memberId: string, { pin }: NewPin): Promise<Member> {
    requirePermission(actor, 'members:write');
    if (isWeakPin(pin)) throw new PinWeak();
    await this.requireMember(actor, memberId);
    return this.storePin(actor, memberId, pin);
  }

  /** Takes a person's PIN away and signs them out everywhere. @throws MemberNotFound */
  async removePin(actor: Actor, memberId: string): Promise<Member> {
    requirePermission(actor, 'members:write');
    await this.requireMember(actor, memberId);
    const member = await this.context.inTenant(actor.orgId, async (tx) => {
      await removePin(tx, actor.orgId, memberId);
      await signOutEverywhere(tx, actor.orgId, memberId);
      await appendAudit(tx, actor, this.context.clock(), 'member.pin-removed', { type: 'member', id: memberId });
      return findMember(tx, actor.orgId, memberId);
    });
    this.cache.clear();
    return member!;
  }

  private async requireMember(actor: Actor, memberId: string): Promise<void> {
    const member = await this.context.inTenant(actor.orgId, (tx) => findMember(tx, actor.orgId, memberId));
    if (!member || !isWithin(actor, member.shopIds)) throw new MemberNotFound(memberId);
  }

  private async storePin(actor: Actor, memberId: string, pin: string): Promise<Member> {
    const sealed = await sealPin(pin, await this.pinKey(actor.orgId));
    return this.context.inTenant(actor.orgId, async (tx) => {
      const at = this.context.clock();
      await putPin(tx, actor.orgId, memberId, sealed, at);
      await appendAudit(tx, actor, at, 'member.pin-set', { type: 'member', id: memberId });
      return (await findMember(tx, actor.orgId, memberId))!;
    });
  }

  private pinKey(orgId: string): Promise<Buffer> {
    return this.context.inTenant(orgId, async (tx) => keyFor('pins', await organisationKey(this.context, tx, orgId)));
  }

  /**
   * One try at a PIN. It is counted, and committed, before the PIN is looked at: many tries at once cannot outrun the count, and a try that dies
   * has been counted. What is right sets the count back.
   */
  private async tryPin(open: OpenSession, memberId: string, pin: string, pointer: string): Promise<void> {
    const { actor, row } = open;
    const { orgId } = actor;
    const now = this.context.clock();
    const counted = await this.context.inTenant(orgId, async (tx) => {
      const device = await lockTries(tx, orgId, row.id);
      const person = await lockPin(tx, orgId, memberId, row.keyShopIds);
      const paused = [device, person].flatMap((state) => (state?.lockedUntil ? [Date.parse(state.lockedUntil) - now.getTime()] : []));
      const waitMs = Math.max(0, ...paused);
      if (waitMs > 0) return { waitMs, stored: null, left: 0 };
      const ofDevice = counting(device, TRIES_AT_A_DEVICE, now);
      const ofPerson = person ? counting(person, TRIES_OF_A_PIN, now) : null;
      await setTries(tx, orgId, row.id, ofDevice);
      if (ofPerson) await setPinTries(tx, orgId, memberId, ofPerson);
      const left = Math.min(TRIES_AT_A_DEVICE - ofDevice.failures, TRIES_OF_A_PIN - (ofPerson?.failures ?? 1));
      return { waitMs: 0, stored: person as StoredPin | null, left };
    });
    if (counted.waitMs > 0) throw new PinPaused(Math.ceil(counted.waitMs / 1000));
    if (!(await isPin(pin, counted.stored, await this.pinKey(orgId)))) {
      if (counted.left <= 0) throw new PinPaused(PAUSE_MS / 1000);
      throw new PinRefused(pointer, counted.left);
    }
    await this.context.inTenant(orgId, async (tx) => {
      await setTries(tx, orgId, row.id, { failures: 0, lockedUntil: null });
      await setPinTries(tx, orgId, memberId, { failures: 0, lockedUntil: null });
    });
  }

  private again(tx: Tx, { actor, row }: OpenSession): Promise<SessionRow> {
    this.cache.clear();
    return readSession(tx, actor.orgId, row.id);
  }

  private isOpen(row: SessionRow, now: Date): boolean {
    return row.endedAt === null && ![row.expiresAt, row.keyExpiresAt, row.keyRevokedAt].some((instant) => isPast(instant, now));
  }

  /** Whether whoever signed in has been away for too long to be taken for present. */
  private isAway(row: SessionRow, now: Date): boolean {
    if (row.keyId === null || row.memberId === null || row.signedInAt === null) return false;
    return now.getTime() - Date.parse(row.lastUsedAt) > PERSON_IDLE_MS || now.getTime() - Date.parse(row.signedInAt) > PERSON_MS;
  }

  private judge(row: SessionRow | null, orgId: string, requestId: string): OpenSession {
    const now = this.context.clock();
    if (!row || !this.isOpen(row, now)) throw new NoSession();
    if (row.keyId === null) {
      // A person who is not active any more has no session either.
      if (row.memberId === null) throw new NoSession();
      const { memberId, memberShopIds: shopIds } = row;
      const role = row.memberRole!;
      const permissions = ROLE_PERMISSIONS[role];
      return { row, nobody: false, actor: { orgId, credentialId: memberId, memberId, requestId, role, permissions, shopIds } };
    }
    const { trustedDocumentsOnly } = row;
    const base = { orgId, credentialId: row.keyId, requestId, trustedDocumentsOnly };
    const keyPermissions = row.keyPermissions!;
    if (row.memberId === null || this.isAway(row, now)) {
      const gone = { ...row, memberId: null, memberName: null, memberRole: null, memberShopIds: null };
      const permissions = row.shared ? [] : keyPermissions;
      return { row: gone, nobody: row.shared, actor: { ...base, role: row.keyRole!, permissions, shopIds: row.keyShopIds } };
    }
    const role = row.memberRole!;
    const permissions = ROLE_PERMISSIONS[role].filter((one) => keyPermissions.includes(one) && !NOT_BY_PIN.includes(one));
    const shopIds = inCommon(row.keyShopIds, row.memberShopIds);
    return { row, nobody: false, actor: { ...base, memberId: row.memberId, role, permissions, shopIds } };
  }
}

/** One more try, and the pause that begins when there are no more. A pause that is over begins a new count. */
function counting(state: PinState, limit: number, now: Date): PinState {
  const failures = (state.lockedUntil === null ? state.failures : 0) + 1;
  return { failures, lockedUntil: failures >= limit ? instantText(new Date(now.getTime() + PAUSE_MS)) : null };
}

function inCommon(a: readonly string[] | null, b: readonly string[] | null): readonly string[] | null {
  if (a === null) return b;
  return b === null ? a : a.filter((id) => b.includes(id));
}

const describe = ({ row, actor }: OpenSession): Session => ({
  id: row.id,
  shared: row.shared,
  organisationId: actor.orgId,
  organisationName: row.organisationName,
  person: row.memberId === null ? null : { id: row.memberId, name: row.memberName!, role: row.memberRole! },
  role: actor.role,
  permissions: [...actor.permissions],
  shopIds: actor.shopIds ? [...actor.shopIds] : null,
  expiresAt: row.expiresAt,
});
