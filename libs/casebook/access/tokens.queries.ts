import type { Role } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

export interface TokenHolder {
  readonly id: string;
  readonly role: Role;
  readonly shopIds: readonly string[] | null;
}

export async function findIssuer(tx: Tx, orgId: string): Promise<{ issuer: string; createdAt: string } | null> {
  const { rows } = await tx.query<{ issuer: string; createdAt: string }>({
    name: 'access.find-issuer',
    text: 'select issuer, created_at as "createdAt" from sign_in_service where org_id = $1',
    values: [orgId],
  });
  return rows[0] ?? null;
}

export async function putIssuer(tx: Tx, orgId: string, issuer: string, at: Date): Promise<void> {
  await tx.query({
    name: 'access.put-issuer',
    text: `insert into sign_in_service (org_id, issuer, created_at) values ($1, $2, $3)
           on conflict (org_id) do update set issuer = excluded.issuer, created_at = excluded.created_at`,
    values: [orgId, issuer, at.toISOString()],
  });
}

export async function deleteIssuer(tx: Tx, orgId: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'access.delete-issuer',
    text: 'delete from sign_in_service where org_id = $1',
    values: [orgId],
  });
  return rowCount === 1;
}

/** The person a token's subject names, while active. */
export async function findHolder(tx: Tx, orgId: string, subject: string): Promise<TokenHolder | null> {
  const { rows } = await tx.query<TokenHolder>({
    name: 'access.find-holder',
    text: `select id, role, case when all_shops then null else shop_ids end as "shopIds" from member
            where org_id = $1 and subject = $2 and active`,
    values: [orgId, subject],
  });
  return rows[0] ?? null;
}
