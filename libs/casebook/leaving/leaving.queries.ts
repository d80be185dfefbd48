import { createHash } from 'node:crypto';
import type { Tx } from '#libs/database/index.js';
import { EXPORTED } from './tables.js';

/** A row as the database writes it in JSON: exact numbers, instants in microseconds, bytes in hexadecimal. */
export type ExportedRow = Readonly<Record<string, unknown>>;

/**
 * The next rows of a table after the last one that was read, without the organisation's own identifier, without `record`, which the database makes of
 * other columns, and without the number of the transaction that wrote it. Table and columns are names of `tables.ts`.
 */
export async function rowsAfter(tx: Tx, orgId: string, table: string, after: ExportedRow | null, limit: number): Promise<ExportedRow[]> {
  const keys = EXPORTED[table]!;
  const types = keys.map((key) => (key === 'revision' || key === 'year' ? 'int' : 'uuid'));
  const place = after === null ? '' : `and (${keys.join(', ')}) > (${types.map((type, i) => `$${i + 3}::${type}`).join(', ')})`;
  const { rows } = await tx.query<{ row: ExportedRow }>({
    name: `leaving.rows.${table}.${after === null ? '' : 'after'}.`,
    text: `select to_jsonb(t) - array['org_id', 'record', 'written_in'] as row from ${table} t where t.org_id = $1 ${place} order by ${keys.join(', ')} limit $2`,
    values: [orgId, limit, ...(after === null ? [] : keys.map((key) => after[key]))],
  });
  return rows.map(({ row }) => row);
}

/** Names of a table's columns, as the database has them now, without those it makes itself of others. */
export async function columnsOf(tx: Tx, table: string): Promise<string[]> {
  const { rows } = await tx.query<{ name: string }>({
    name: 'leaving.columns',
    text: `select attname as name from pg_attribute where attrelid = $1::text::regclass and attnum > 0 and not attisdropped
                   and attgenerated = '' order by attnum`,
    values: [table],
  });
  return rows.map(({ name }) => name);
}

/**
 * Puts rows that hold the same columns back into their table under an organisation. Columns they do not hold, because they are younger than the
 * export, get what the table gives them. `columns` are names that `columnsOf` gave.
 */
export async function putRows(
  tx: Tx,
  orgId: string,
  table: string,
  columns: readonly string[],
  rows: readonly ExportedRow[],
): Promise<void> {
  const names = columns.map((column) => `"${column}"`).join(', ');
  const shape = createHash('sha256').update(names).digest('hex').slice(0, 12);
  await tx.query({
    name: `leaving.put.${table}.${shape}`,
    text: `insert into ${table} (org_id, ${names}) select $1, ${names} from jsonb_populate_recordset(null::${table}, $2::jsonb)`,
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
