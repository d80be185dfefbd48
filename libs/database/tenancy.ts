import { unavailability } from './errors.js';
import { checkedOut, conductOf, isLost, type Pool } from './pool.js';

export interface Statement {
  /** Stable name: the server keeps the plan under it, and two texts may not share one. */
  readonly name: string;
  readonly text: string;
  readonly values?: readonly unknown[];
}

/** One tenant's open transaction. It ends with the work it was given to, and refuses statements after that. */
export interface Tx {
  query<Row>(statement: Statement): Promise<{ rows: Row[]; rowCount: number }>;
  /**
   * The same transaction for statements that need no answer of those before them: each is sent at once, and the server has the next one when it is done with
   * the last. Behind one that fails it refuses them too (25P02): await all of them, in their order, to hear of the first.
   */
  readonly ahead: Tx;
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;

/**
 * Runs `work` in one transaction that sees one organisation only.
 *
 * The context is `SET LOCAL` of a literal, sent together with BEGIN: a parameter is not possible there, so the identifier is validated
 * first; `set_config()` would do on one server but does not reach the workers of a distributed one. The first statement follows without
 * waiting for BEGIN's answer: were BEGIN refused, it would run with no organisation set, see nothing and be allowed to write nothing, and
 * the refusal is what the caller hears. A connection whose state is in doubt (lost, or the rollback failed) is destroyed, never returned to
 * the pool.
 */
export async function inTenant<T>(
  pool: Pool,
  orgId: string,
  work: (tx: Tx) => Promise<T>,
  options: { readonly readOnly?: boolean } = {},
): Promise<T> {
  if (!UUID.test(orgId)) throw new TypeError('an organisation is named by a UUID');
  const { prepare, onStatement } = conductOf(pool);
  const client = await checkedOut(pool);
  let open = true;
  let failures = 0;
  let inDoubt = false;
  let refused: unknown;
  // Statements wait for each other here and not in the driver, so that none is sent after one that failed or after the work's end. Those sent ahead
  // wait until the one before them is on its way.
  let answered: Promise<unknown> = Promise.resolve();
  let handedOver: Promise<unknown> = answered;
  const send = async <Row>({ name, text, values }: Statement, failuresBefore: number): Promise<{ rows: Row[]; rowCount: number }> => {
    if (refused) throw refused;
    if (failures > failuresBefore) throw new Error(`statement ${name} waited behind one that failed`);
    if (!open) throw new Error(`statement ${name} came after its transaction had ended`);
    onStatement?.({ name, text });
    try {
      const result = await client.query({ name: prepare ? name : undefined, text, values: values as unknown[] | undefined });
      return { rows: result.rows as Row[], rowCount: result.rowCount ?? 0 };
    } catch (error) {
      failures += 1;
      if (options.readOnly && (error as { code?: string }).code === '25006') {
        throw new Error(`statement ${name} writes in a read-only transaction`, { cause: error });
      }
      throw error;
    }
  };
  const queued = <Row>(statement: Statement, turn: Promise<unknown>): Promise<{ rows: Row[]; rowCount: number }> => {
    const failuresBefore = failures;
    const before = answered;
    let result!: Promise<{ rows: Row[]; rowCount: number }>;
    handedOver = turn.then(() => {
      result = send<Row>(statement, failuresBefore);
      result.catch(() => {});
    });
    const outcome = handedOver.then(() => result);
    answered = outcome.catch(() => {}).then(() => before);
    return outcome;
  };
  const ahead: Tx = {
    query: (statement) => queued(statement, handedOver),
    get ahead() {
      return ahead;
    },
  };
  const tx: Tx = { query: (statement) => queued(statement, answered), ahead };
  try {
    const begun = begin(client, `BEGIN${options.readOnly ? ' READ ONLY' : ''}; SET LOCAL app.org_id = '${orgId}'`).catch((error) => {
      refused = error;
    });
    const result = await work(tx);
    open = false;
    await begun;
    if (refused) throw refused;
    const { command } = await client.query('COMMIT');
    // COMMIT of a transaction in which a statement failed succeeds, as ROLLBACK.
    if (command !== 'COMMIT') throw new Error('a statement of this transaction failed and its error was swallowed: nothing was written');
    return result;
  } catch (thrown) {
    open = false;
    const error = refused ?? thrown;
    if (isLost(client) || unavailability(error)?.reason === 'connection-lost') inDoubt = true;
    else {
      await client.query('ROLLBACK').catch(() => {
        inDoubt = true;
      });
    }
    throw error;
  } finally {
    client.release(inDoubt || isLost(client));
  }
}

/** Sends BEGIN in one piece with what is asked for before this turn ends: a trip to the server and a system call less for each transaction. */
function begin(client: object, text: string): Promise<unknown> {
  const { connection, query } = client as {
    connection: { stream: { cork(): void; uncork(): void } };
    query(text: string): Promise<unknown>;
  };
  connection.stream.cork();
  process.nextTick(() => connection.stream.uncork());
  return query.call(client, text);
}
