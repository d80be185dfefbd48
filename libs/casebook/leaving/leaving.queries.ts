import type { Tx } from '#libs/database/index.js';
import { EXPORTED } from './tables.js';

/** A row as the database writes it in JSON: exact numbers, instants in microseconds, bytes in hexadecimal. */
export type ExportedRow = Readonly<Record<string, unknown>>;

/** The next rows of a table after the last one that was read, without the organisation's own identifier. Table and columns are names of `tables.ts`. */
export async function rowsAfter(tx: Tx, orgId: string, table: string, after: ExportedRow | null, limit: number): Promise<ExportedRow[]> {
  const keys = EXPORTED[table]!;
  const types = keys.map((key) => (key === 'revision' ? 'int' : key === 'word' ? 'text' : 'uuid'));
  const place = after === null ? '' : `and (${keys.join(', ')}) > (${types.map((type, i) => `$${i + 3}::${type}`).join(', ')})`;
  const { rows } = await tx.query<{ row: ExportedRow }>({
    name: `leaving.rows.${table}.${after === null ? '' : 'after'}.`,
    text: `select to_jsonb(t) - 'org_id' as row from ${table} t where t.org_id = $1 ${place} order by ${keys.join(', ')} limit $2`,
    values: [orgId, limit, ...(after === null ? [] : keys.map((key) => after[key]))],
  });
  return rows.map(({ row }) => row);
}

/** Puts rows back into their table under an organisation. */
export async function putRows(tx: Tx, orgId: string, table: string, rows: readonly ExportedRow[]): Promise<void> {
  await tx.query({
    name: `leaving.put.${table}.`,
    text: `insert into ${table} select (jsonb_populate_record(null::${table}, row || jsonb_build_object('org_id', $1::uuid))).* from jsonb_array_elements($2::jsonb) as row`,
    values: [orgId, JSON.stringify(rows)],
  });
}

export async function eraseTable(tx: Tx, orgId: string, table: string): Promise<number> {
  const { rowCount } = await tx.query({
    name: `leaving.erase.${table}.`,
    text: `delete from ${table} where org_id = $1`,
    values: [orgId],
  });
  return rowCount;
}
