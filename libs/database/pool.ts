import pg from 'pg';
import { rowTypes } from './parsers.js';

export type Pool = pg.Pool;

export interface PoolOptions {
  /** Connections at most. */
  readonly max?: number;
  /** How long a request waits for a connection, a free one or a new one, before it is told that there is none: as long as a statement may take. */
  readonly connectionTimeoutMs?: number;
  readonly idleTimeoutMs?: number;
  /** Name the session shows in pg_stat_activity. */
  readonly applicationName?: string;
  /** False behind a transaction pooler that does not track prepared statements. */
  readonly prepare?: boolean;
  /** Called before each statement a tenant transaction sends (BEGIN and COMMIT are not statements of the work). */
  readonly onStatement?: (statement: { readonly name: string; readonly text: string }) => void;
}

interface Conduct {
  readonly prepare: boolean;
  readonly onStatement: PoolOptions['onStatement'];
}
const CONDUCT = new WeakMap<Pool, Conduct>();
const LOST = new WeakSet<object>();

/** A pool whose rows are exact (`parsers.ts`), whose sessions think in UTC, and whose lost connections do not end the process. */
export function createPool(url: string, options: PoolOptions = {}): Pool {
  const pool = new pg.Pool({
    connectionString: url,
    max: options.max ?? 10,
    connectionTimeoutMillis: options.connectionTimeoutMs ?? 15_000,
    idleTimeoutMillis: options.idleTimeoutMs ?? 30_000,
    application_name: options.applicationName ?? 'coolback',
    types: rowTypes,
    keepAlive: true,
    // BEGIN and the first statement of a transaction go out together (`tenancy.ts`).
    pipeline: true,
  });
  // A connection lost while idle surfaces on the pool, one lost while checked out on its client; unheard, either ends the process.
  pool.on('error', () => {});
  pool.on('connect', (client) => {
    client.on('error', () => LOST.add(client));
  });
  CONDUCT.set(pool, { prepare: options.prepare ?? true, onStatement: options.onStatement });
  return pool;
}

const NOT_MADE_IN_TIME = 'Connection terminated due to connection timeout';

/**
 * A connection of the pool. Where a new one was not made in time it is asked for once more: a process that computed for as long finds its timer run out before it
 * looks at the answer that has come, and nothing had been sent on that connection yet.
 */
export async function checkedOut(pool: Pool): Promise<pg.PoolClient> {
  try {
    return await pool.connect();
  } catch (error) {
    if ((error as Error).message !== NOT_MADE_IN_TIME) throw error;
    return await pool.connect();
  }
}

export const conductOf = (pool: Pool): Conduct => CONDUCT.get(pool) ?? { prepare: true, onStatement: undefined };
export const isLost = (client: object): boolean => LOST.has(client);
