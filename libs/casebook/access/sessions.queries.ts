import type { Permission, Role, SessionPerson } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { PERMISSIONS_OF_KEY } from './access.queries.js';
import type { StoredPin } from './pin.js';

/** A session with the key it stands on and the person who has signed in. */
export interface SessionRow {
  readonly id: string;
  readonly shared: boolean;
  readonly expiresAt: string;
  readonly lastUsedAt: string;
  readonly endedAt: string | null;
  /** Null for a session that stands on a token of a sign-in service; what is the key's is null with it. */
  readonly keyId: string | null;
  readonly keyRole: Role | null;
  readonly keyPermissions: readonly Permission[] | null;
  readonly keyShopIds: readonly string[] | null;
  readonly keyExpiresAt: string | null;
  readonly keyRevokedAt: string | null;
  readonly trustedDocumentsOnly: boolean;
  readonly organisationName: string;
  readonly signedInAt: string | null;
  /** Null while nobody has signed in, and once the person is not active any more. */
  readonly memberId: string | null;
  readonly memberName: string | null;
  readonly memberRole: Role | null;
  readonly memberShopIds: readonly string[] | null;
}

export async function insertSession(
  tx: Tx,
  orgId: string,
  session: {
    readonly id: string;
    readonly keyId: string | null;
    readonly memberId: string | null;
    readonly hash: Buffer;
    readonly shared: boolean;
    readonly at: Date;
    readonly expiresAt: Date;
  },
): Promise<void> {
  await tx.query({
    name: 'access.insert-session',
    text: `insert into console_session (org_id, id, key_id, secret_hash, shared, failures, created_at, expires_at, last_used_at, member_id, signed_in_at)
           values ($1, $2, $3, $4, $5, 0, $6, $7, $6, $8, case when $8::uuid is null then null else $6::timestamptz end)`,
    values: [
      orgId,
      session.id,
      session.keyId,
      session.hash,
      session.shared,
      session.at.toISOString(),
      session.expiresAt.toISOString(),
      session.memberId,
    ],
  });
}

/** Sessions that ended or ran out before a moment are of no use to anybody. */
export async function forgetSessions(tx: Tx, orgId: string, before: Date): Promise<void> {
  await tx.query({
    name: 'access.forget-sessions',
    text: 'delete from console_session where org_id = $1 and (expires_at < $2 or ended_at < $2)',
    values: [orgId, before.toISOString()],
  });
}

const SESSION = `select s.id, s.shared, s.expires_at as "expiresAt", s.last_used_at as "lastUsedAt", s.ended_at as "endedAt",
         s.key_id as "keyId", k.role as "keyRole", ${PERMISSIONS_OF_KEY} as "keyPermissions",
         case when k.all_shops then null else k.shop_ids end as "keyShopIds",
         k.expires_at as "keyExpiresAt", k.revoked_at as "keyRevokedAt", coalesce(k.trusted_documents_only, false) as "trustedDocumentsOnly", o.name as "organisationName",
         s.signed_in_at as "signedInAt", m.id as "memberId", m.name as "memberName", m.role as "memberRole",
         case when m.all_shops then null else m.shop_ids end as "memberShopIds"
    from console_session s
    join organisation o on o.org_id = s.org_id
    left join access_key k on k.org_id = s.org_id and k.id = s.key_id
    left join member m on m.org_id = s.org_id and m.id = s.member_id and m.active`;

export async function findSession(tx: Tx, orgId: string, hash: Buffer): Promise<SessionRow | null> {
  const { rows } = await tx.query<SessionRow>({
    name: 'access.find-session',
    text: `${SESSION} where s.org_id = $1 and s.secret_hash = $2`,
    values: [orgId, hash],
  });
  return rows[0] ?? null;
}

export async function readSession(tx: Tx, orgId: string, id: string): Promise<SessionRow> {
  const { rows } = await tx.query<SessionRow>({
    name: 'access.read-session',
    text: `${SESSION} where s.org_id = $1 and s.id = $2`,
    values: [orgId, id],
  });
  return rows[0]!;
}

export async function touchSession(tx: Tx, orgId: string, id: string, at: Date): Promise<void> {
  await tx.query({
    name: 'access.touch-session',
    text: 'update console_session set last_used_at = $3 where org_id = $1 and id = $2',
    values: [orgId, id, at.toISOString()],
  });
}

export async function endSession(tx: Tx, orgId: string, id: string, at: Date): Promise<void> {
  await tx.query({
    name: 'access.end-session',
    text: 'update console_session set ended_at = coalesce(ended_at, $3), member_id = null where org_id = $1 and id = $2',
    values: [orgId, id, at.toISOString()],
  });
}

/** Who acts in a session from now on; null: nobody. */
export async function setPerson(
  tx: Tx,
  orgId: string,
  id: string,
  memberId: string | null,
  at: Date,
  expiresAt: Date | null,
): Promise<void> {
  await tx.query({
    name: 'access.set-person',
    text: `update console_session
              set member_id = $3, signed_in_at = case when $3::uuid is null then null else $4::timestamptz end, last_used_at = $4,
                  expires_at = coalesce($5, expires_at), failures = 0, locked_until = null
            where org_id = $1 and id = $2`,
    values: [orgId, id, memberId, at.toISOString(), expiresAt?.toISOString() ?? null],
  });
}

/** People who can sign in here: active, with a PIN, and with a shop in common with the session. */
export async function listPeople(tx: Tx, orgId: string, shopIds: readonly string[] | null, limit: number): Promise<SessionPerson[]> {
  const { rows } = await tx.query<SessionPerson>({
    name: 'access.list-people',
    text: `select m.id, m.name, m.role
             from member m join member_pin p on p.org_id = m.org_id and p.member_id = m.id
            where m.org_id = $1 and m.active and ($2::uuid[] is null or m.all_shops or m.shop_ids && $2)
            order by m.name, m.id
            limit $3`,
    values: [orgId, shopIds, limit],
  });
  return rows;
}

export interface PinState {
  readonly failures: number;
  readonly lockedUntil: string | null;
}

/** The tries at a device, locked until the transaction ends. */
export async function lockTries(tx: Tx, orgId: string, sessionId: string): Promise<PinState> {
  const { rows } = await tx.query<PinState>({
    name: 'access.lock-tries',
    text: 'select failures, locked_until as "lockedUntil" from console_session where org_id = $1 and id = $2 for update',
    values: [orgId, sessionId],
  });
  return rows[0]!;
}

/** A person's PIN and the tries at it, locked until the transaction ends; null for whoever cannot sign in here. */
export async function lockPin(
  tx: Tx,
  orgId: string,
  memberId: string,
  shopIds: readonly string[] | null,
): Promise<(PinState & StoredPin) | null> {
  const { rows } = await tx.query<PinState & StoredPin>({
    name: 'access.lock-pin',
    text: `select p.failures, p.locked_until as "lockedUntil", p.salt, p.pin_hash as hash
             from member_pin p join member m on m.org_id = p.org_id and m.id = p.member_id
            where p.org_id = $1 and p.member_id = $2 and m.active and ($3::uuid[] is null or m.all_shops or m.shop_ids && $3)
              for update of p`,
    values: [orgId, memberId, shopIds],
  });
  return rows[0] ?? null;
}

export async function setTries(tx: Tx, orgId: string, sessionId: string, state: PinState): Promise<void> {
  await tx.query({
    name: 'access.set-tries',
    text: 'update console_session set failures = $3, locked_until = $4 where org_id = $1 and id = $2',
    values: [orgId, sessionId, state.failures, state.lockedUntil],
  });
}

export async function setPinTries(tx: Tx, orgId: string, memberId: string, state: PinState): Promise<void> {
  await tx.query({
    name: 'access.set-pin-tries',
    text: 'update member_pin set failures = $3, locked_until = $4 where org_id = $1 and member_id = $2',
    values: [orgId, memberId, state.failures, state.lockedUntil],
  });
}

export async function putPin(tx: Tx, orgId: string, memberId: string, pin: StoredPin, at: Date): Promise<void> {
  await tx.query({
    name: 'access.put-pin',
    text: `insert into member_pin (org_id, member_id, salt, pin_hash, failures, set_at) values ($1, $2, $3, $4, 0, $5)
           on conflict (org_id, member_id) do update
              set salt = excluded.salt, pin_hash = excluded.pin_hash, failures = 0, locked_until = null, set_at = excluded.set_at`,
    values: [orgId, memberId, pin.salt, pin.hash, at.toISOString()],
  });
}

export async function removePin(tx: Tx, orgId: string, memberId: string): Promise<void> {
  await tx.query({
    name: 'access.remove-pin',
    text: 'delete from member_pin where org_id = $1 and member_id = $2',
    values: [orgId, memberId],
  });
}

/** Ends what a person has going at every device. */
export async function signOutEverywhere(tx: Tx, orgId: string, memberId: string): Promise<void> {
  await tx.query({
    name: 'access.sign-out-everywhere',
    text: 'update console_session set member_id = null, signed_in_at = null where org_id = $1 and member_id = $2',
    values: [orgId, memberId],
  });
}
