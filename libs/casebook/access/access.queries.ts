import type { Key, Member } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

/**
 * What a stored key may do. Entries of refrigerant belonged to `cases:write` until they got a right of their own (edition 2): keys made before
 * keep what they could do, and nothing more.
 */
export const PERMISSIONS_OF_KEY = `case when rights_edition < 2 and 'cases:write' = any(permissions) then permissions || '{refrigerant:write}'::text[]
  else permissions end`;
const RIGHTS_EDITION = 2;

const KEY_COLUMNS = `id, version, name, hint, role, ${PERMISSIONS_OF_KEY} as permissions, case when all_shops then null else shop_ids end as "shopIds",
  created_at as "createdAt", expires_at as "expiresAt", revoked_at as "revokedAt", last_used_at as "lastUsedAt",
  trusted_documents_only as "trustedDocumentsOnly"`;

export interface CredentialRow extends Key {
  readonly organisationName: string;
}

/** The key with this hash, with its organisation's name. */
export async function findCredential(tx: Tx, orgId: string, keyHash: Buffer): Promise<CredentialRow | null> {
  const { rows } = await tx.query<CredentialRow>({
    name: 'access.credential',
    text: `select k.id, k.version, k.name, k.hint, k.role, ${PERMISSIONS_OF_KEY} as permissions, case when k.all_shops then null else k.shop_ids end as "shopIds",
                  k.created_at as "createdAt", k.expires_at as "expiresAt", k.revoked_at as "revokedAt", k.last_used_at as "lastUsedAt",
                  k.trusted_documents_only as "trustedDocumentsOnly", o.name as "organisationName"
             from access_key k join organisation o on o.org_id = k.org_id
            where k.org_id = $1 and k.key_hash = $2`,
    values: [orgId, keyHash],
  });
  return rows[0] ?? null;
}

export async function touchKey(tx: Tx, orgId: string, id: string, at: Date): Promise<void> {
  await tx.query({
    name: 'access.touch-key',
    text: 'update access_key set last_used_at = $3 where org_id = $1 and id = $2',
    values: [orgId, id, at.toISOString()],
  });
}

export async function insertKey(tx: Tx, orgId: string, key: Key, keyHash: Buffer): Promise<void> {
  await tx.query({
    name: 'access.insert-key',
    text: `insert into access_key (org_id, id, version, name, hint, key_hash, role, permissions, shop_ids, all_shops, created_at, expires_at,
                                   trusted_documents_only, rights_edition)
           values ($1, $2, 1, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, ${RIGHTS_EDITION})`,
    values: [
      orgId,
      key.id,
      key.name,
      key.hint,
      keyHash,
      key.role,
      key.permissions,
      key.shopIds ?? [],
      key.shopIds === null,
      key.createdAt,
      key.expiresAt,
      key.trustedDocumentsOnly,
    ],
  });
}

export async function findKey(tx: Tx, orgId: string, id: string): Promise<Key | null> {
  const { rows } = await tx.query<Key>({
    name: 'access.find-key',
    text: `select ${KEY_COLUMNS} from access_key where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function endKey(
  tx: Tx,
  orgId: string,
  id: string,
  change: { revokedAt: string | null; expiresAt: string | null },
): Promise<void> {
  await tx.query({
    name: 'access.end-key',
    text: `update access_key set version = version + 1, revoked_at = coalesce($3, revoked_at), expires_at = coalesce($4, expires_at)
            where org_id = $1 and id = $2`,
    values: [orgId, id, change.revokedAt, change.expiresAt],
  });
}

/** `shopIds` not null: those limited to these shops. */
export async function listKeys(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  after: string | null,
  limit: number,
): Promise<Key[]> {
  const { rows } = await tx.query<Key>({
    name: 'access.list-keys',
    text: `select ${KEY_COLUMNS} from access_key
            where org_id = $1 and ($2::uuid is null or id > $2) and ($4::uuid[] is null or (not all_shops and shop_ids <@ $4))
            order by id limit $3`,
    values: [orgId, after, limit, shopIds],
  });
  return rows;
}

const MEMBER_COLUMNS = `id, version, name, role, case when all_shops then null else shop_ids end as "shopIds", active, subject,
  exists (select 1 from member_pin p where p.org_id = member.org_id and p.member_id = member.id) as "hasPin", created_at as "createdAt"`;

export async function insertMember(tx: Tx, orgId: string, member: Member): Promise<void> {
  await tx.query({
    name: 'access.insert-member',
    text: `insert into member (org_id, id, version, name, role, shop_ids, all_shops, active, created_at, subject)
           values ($1, $2, 1, $3, $4, $5, $6, true, $7, $8)`,
    values: [orgId, member.id, member.name, member.role, member.shopIds ?? [], member.shopIds === null, member.createdAt, member.subject],
  });
}

export async function findMember(tx: Tx, orgId: string, id: string): Promise<Member | null> {
  const { rows } = await tx.query<Member>({
    name: 'access.find-member',
    text: `select ${MEMBER_COLUMNS} from member where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function updateMember(tx: Tx, orgId: string, member: Member): Promise<void> {
  await tx.query({
    name: 'access.update-member',
    text: `update member set version = version + 1, name = $3, role = $4, shop_ids = $5, all_shops = $6, active = $7, subject = $8
            where org_id = $1 and id = $2`,
    values: [orgId, member.id, member.name, member.role, member.shopIds ?? [], member.shopIds === null, member.active, member.subject],
  });
}

/** `shopIds` not null: those limited to these shops. */
export async function listMembers(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  after: string | null,
  limit: number,
): Promise<Member[]> {
  const { rows } = await tx.query<Member>({
    name: 'access.list-members',
    text: `select ${MEMBER_COLUMNS} from member
            where org_id = $1 and ($2::uuid is null or id > $2) and ($4::uuid[] is null or (not all_shops and shop_ids <@ $4))
            order by id limit $3`,
    values: [orgId, after, limit, shopIds],
  });
  return rows;
}

export async function insertOrganisation(
  tx: Tx,
  organisation: { orgId: string; name: string; slug: string; hashKey: Buffer; demo: boolean },
): Promise<void> {
  await tx.query({
    name: 'access.insert-organisation',
    text: 'insert into organisation (org_id, name, slug, hash_key, demo) values ($1, $2, $3, $4, $5)',
    values: [organisation.orgId, organisation.name, organisation.slug, organisation.hashKey, organisation.demo],
  });
}

export async function findOrganisation(tx: Tx, orgId: string): Promise<{ name: string; hashKey: Buffer; demo: boolean } | null> {
  const { rows } = await tx.query<{ name: string; hashKey: Buffer; demo: boolean }>({
    name: 'access.find-organisation',
    text: 'select name, hash_key as "hashKey", demo from organisation where org_id = $1',
    values: [orgId],
  });
  return rows[0] ?? null;
}
