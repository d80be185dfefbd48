import type { TrustedDocument } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, 'sha256:' || hash as "documentId", query, created_at as "createdAt"`;

/** Stores a document, or finds the one with the same text. */
export async function putDocument(tx: Tx, orgId: string, id: string, hash: string, query: string, at: Date): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'documents.put',
    text: `insert into trusted_document (org_id, id, hash, query, created_at) values ($1, $2, $3, $4, $5) on conflict (org_id, hash) do nothing`,
    values: [orgId, id, hash, query, at.toISOString()],
  });
  return rowCount === 1;
}

export async function findDocument(tx: Tx, orgId: string, hash: string): Promise<TrustedDocument | null> {
  const { rows } = await tx.query<TrustedDocument>({
    name: 'documents.find',
    text: `select ${COLUMNS} from trusted_document where org_id = $1 and hash = $2`,
    values: [orgId, hash],
  });
  return rows[0] ?? null;
}

export async function countDocuments(tx: Tx, orgId: string): Promise<number> {
  const { rows } = await tx.query<{ count: number }>({
    name: 'documents.count',
    text: 'select count(*)::int as count from trusted_document where org_id = $1',
    values: [orgId],
  });
  return rows[0]!.count;
}

export async function listDocuments(tx: Tx, orgId: string, after: string | null, limit: number): Promise<TrustedDocument[]> {
  const { rows } = await tx.query<TrustedDocument>({
    name: 'documents.list',
    text: `select ${COLUMNS} from trusted_document where org_id = $1 and ($2::uuid is null or id > $2) order by id limit $3`,
    values: [orgId, after, limit],
  });
  return rows;
}

export async function deleteDocument(tx: Tx, orgId: string, id: string): Promise<string | null> {
  const { rows } = await tx.query<{ hash: string }>({
    name: 'documents.delete',
    text: 'delete from trusted_document where org_id = $1 and id = $2 returning hash',
    values: [orgId, id],
  });
  return rows[0]?.hash ?? null;
}
