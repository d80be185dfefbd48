import pg from 'pg';

const EVERY_MS = 10_000;
const LOCK_SPACE = 7_270_737;

export interface QueueGuard {
  /** Says that whoever takes jobs under this name is of this process and lives. */
  watch(holder: string): void;
  close(): Promise<void>;
}

/**
 * Gives the jobs of killed workers back to the queue within seconds; the queue itself would wait for hours. A living worker is known by an advisory
 * lock that its process's session holds: it ends with the process however that ends. A job taken less than `everyMs` ago is let be, for its worker's
 * lock may still be on the way. Where the session was lost but not the process, a job may be
 * begun twice, which every job of ours bears.
 */
export async function guardQueue(queueUrl: string, everyMs = EVERY_MS): Promise<QueueGuard> {
  const own = new Set<string>();
  const held = new Set<string>();
  let client: pg.Client | null = null;
  let closed = false;
  let running = Promise.resolve();

  const connected = async (): Promise<pg.Client> => {
    if (client) return client;
    const fresh = new pg.Client({ connectionString: queueUrl, application_name: 'coolback queue guard', keepAlive: true });
    fresh.on('error', () => {});
    fresh.once('end', () => {
      if (client === fresh) client = null;
      held.clear();
    });
    await fresh.connect();
    client = fresh;
    return fresh;
  };
  const look = async (): Promise<void> => {
    const session = await connected();
    for (const id of own) {
      if (held.has(id)) continue;
      await session.query('select pg_advisory_lock($1, hashtext($2))', [LOCK_SPACE, id]);
      held.add(id);
    }
    const { rows } = await session.query<{ id: string; locked: boolean }>(
      `select id, pg_try_advisory_lock($1, hashtext(id)) as locked
         from (select distinct locked_by as id from graphile_worker._private_jobs where locked_by <> all($2) and locked_at < now() - make_interval(secs => $3)) as workers`,
      [LOCK_SPACE, [...own], everyMs / 1_000],
    );
    const locked = rows.filter((row) => row.locked).map((row) => row.id);
    // A worker created while the statement was under way is ours and alive: the lock just taken for it is the one it should have.
    for (const id of locked) if (own.has(id)) held.add(id);
    const dead = locked.filter((id) => !own.has(id));
    if (dead.length === 0) return;
    await session.query('select graphile_worker.force_unlock_workers($1)', [dead]);
    for (const id of dead) await session.query('select pg_advisory_unlock($1, hashtext($2))', [LOCK_SPACE, id]);
  };
  // One look at a time. A database that cannot be reached now is asked again at the next turn.
  const turn = () => {
    running = running.then(() => (closed ? undefined : look())).catch(() => {});
    return running;
  };
  const timer = setInterval(turn, everyMs);
  timer.unref();
  return {
    watch: (holder) => {
      own.add(holder);
      void turn();
    },
    close: async () => {
      closed = true;
      clearInterval(timer);
      await running;
      await client?.end();
    },
  };
}
