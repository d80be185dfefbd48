import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { inTenant, type Statement } from '#libs/database/index.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

const ORG_A = '0190a0a0-0000-7000-8000-00000000000a';
const ORG_B = '0190a0a0-0000-7000-8000-00000000000b';
const seen: string[] = [];
let database: TestDatabase;

const insertOrganisation = (orgId: string): Statement => ({
  name: 'test.insert-organisation',
  text: 'insert into organisation (org_id, name, slug, hash_key, demo) values ($1, $2, $3, $4, false)',
  values: [orgId, `org ${orgId.slice(-1)}`, orgId.slice(-1), Buffer.alloc(32)],
});
const listOrganisations: Statement = { name: 'test.list', text: 'select org_id as "orgId" from organisation' };
const idsSeen = async (orgId: string): Promise<string[]> =>
  (await inTenant(database.pool, orgId, (tx) => tx.query<{ orgId: string }>(listOrganisations), { readOnly: true })).rows.map(
    ({ orgId: id }) => id,
  );

beforeAll(async () => {
  database = await testDatabase({ max: 2, onStatement: ({ name }) => seen.push(name) });
  for (const orgId of [ORG_A, ORG_B]) await inTenant(database.pool, orgId, (tx) => tx.query(insertOrganisation(orgId)));
});
afterAll(async () => await database.close());

describe('a tenant transaction', () => {
  it('sees its own organisation only, even by statements that do not name one', async () => {
    expect(await idsSeen(ORG_A)).toEqual([ORG_A]);
    expect(await idsSeen(ORG_B)).toEqual([ORG_B]);
  });

  it('leaves no context on the connection it gives back', async () => {
    await idsSeen(ORG_A);
    for (let i = 0; i < 4; i += 1) {
      const { rows } = await database.pool.query(
        `select current_setting('app.org_id', true) as org, (select count(*) from organisation) as n`,
      );
      expect(['', null]).toContain(rows[0].org);
      expect(rows[0].n).toBe(0);
    }
  });

  it('cannot write rows of another organisation', async () => {
    const crossing = inTenant(database.pool, ORG_A, (tx) => tx.query({ ...insertOrganisation('0190a0a0-0000-7000-8000-00000000000c') }));
    await expect(crossing).rejects.toMatchObject({ code: '42501' });
    const update = await inTenant(database.pool, ORG_A, (tx) =>
      tx.query({ name: 'test.steal', text: 'update organisation set name = $2 where org_id = $1', values: [ORG_B, 'stolen'] }),
    );
    expect(update.rowCount).toBe(0);
    await expect(
      inTenant(database.pool, ORG_A, (tx) =>
        tx.query({ name: 'test.move', text: 'update organisation set org_id = $2 where org_id = $1', values: [ORG_A, ORG_B] }),
      ),
    ).rejects.toMatchObject({ code: '42501' });
  });

  it.each(["'; drop table shop; --", '', 'x', ORG_A.slice(1), `${ORG_A}'`, `${ORG_A}\n`, undefined])(
    'refuses the organisation %p before it connects',
    async (orgId) => {
      await expect(inTenant(database.pool, orgId as string, async () => 1)).rejects.toThrow(TypeError);
    },
  );

  it('is rolled back when its work throws, and its connection serves on', async () => {
    await expect(
      inTenant(database.pool, ORG_A, async (tx) => {
        await tx.query({ name: 'test.rename', text: 'update organisation set name = $2 where org_id = $1', values: [ORG_A, 'changed'] });
        throw new RangeError('no');
      }),
    ).rejects.toThrow(RangeError);
    const { rows } = await inTenant(database.pool, ORG_A, (tx) =>
      tx.query<{ name: string }>({ name: 'test.name', text: 'select name from organisation where org_id = $1', values: [ORG_A] }),
    );
    expect(rows).toEqual([{ name: 'org a' }]);
  });

  it('says so when a swallowed error turned its commit into a rollback', async () => {
    const swallowed = inTenant(database.pool, ORG_A, async (tx) => {
      await tx.query({ name: 'test.zero', text: 'select 1 / 0' }).catch(() => {});
      return 'fine';
    });
    await expect(swallowed).rejects.toThrow('nothing was written');
  });

  it('never sends what still waits when its work has failed, nor what comes after its end', async () => {
    seen.length = 0;
    let late: Promise<unknown> | undefined;
    let kept: { query(statement: Statement): Promise<unknown> } | undefined;
    await expect(
      inTenant(database.pool, ORG_A, async (tx) => {
        kept = tx;
        const failing = tx.query({ name: 'test.zero', text: 'select 1 / 0' });
        late = tx.query({ name: 'test.late', text: 'select 1' });
        late.catch(() => {});
        await failing;
      }),
    ).rejects.toMatchObject({ code: '22012' });
    await expect(late).rejects.toThrow(/waited behind one that failed/);
    await expect(kept!.query({ name: 'test.after', text: 'select 1' })).rejects.toThrow(/had ended/);
    expect(seen).toEqual(['test.zero']);
  });

  it('takes statements that are sent ahead in their order, with those that wait for them', async () => {
    const rename = (name: string): Statement => ({
      name: 'test.append',
      text: `update organisation set name = name || $2 where org_id = $1 returning name`,
      values: [ORG_B, name],
    });
    const names = await inTenant(database.pool, ORG_B, async (tx) => {
      const results = await Promise.all([
        ...[' 1', ' 2', ' 3'].map((name) => tx.ahead.query<{ name: string }>(rename(name))),
        tx.query<{ name: string }>(rename(' 4')),
        tx.ahead.ahead.query<{ name: string }>(rename(' 5')),
      ]);
      return results.map(({ rows }) => rows[0]!.name);
    });
    expect(names).toEqual(['org b 1', 'org b 1 2', 'org b 1 2 3', 'org b 1 2 3 4', 'org b 1 2 3 4 5']);
  });

  it('refuses what was sent ahead behind a statement that failed, and writes none of it', async () => {
    const rename = (name: string): Statement => ({
      name: 'test.rename',
      text: 'update organisation set name = $2 where org_id = $1',
      values: [ORG_A, name],
    });
    const outcomes: string[] = [];
    await expect(
      inTenant(database.pool, ORG_A, async (tx) => {
        const sent = [
          tx.ahead.query(rename('b')),
          tx.ahead.query({ name: 'test.zero', text: 'select 1 / 0' }),
          tx.ahead.query(rename('c')),
        ];
        for (const one of await Promise.allSettled(sent)) outcomes.push(one.status === 'fulfilled' ? 'done' : one.reason.code);
        await Promise.all(sent);
      }),
    ).rejects.toMatchObject({ code: '22012' });
    expect(outcomes).toEqual(['done', '22012', '25P02']);
    const { rows } = await inTenant(database.pool, ORG_A, (tx) =>
      tx.query<{ name: string }>({ name: 'test.name', text: 'select name from organisation where org_id = $1', values: [ORG_A] }),
    );
    expect(rows).toEqual([{ name: 'org a' }]);
  });

  it('writes nothing when it is read-only', async () => {
    const writing = inTenant(
      database.pool,
      ORG_A,
      (tx) => tx.query({ name: 'test.w', text: 'delete from organisation where org_id = $1', values: [ORG_A] }),
      {
        readOnly: true,
      },
    );
    await expect(writing).rejects.toThrow(/writes in a read-only transaction/);
  });

  it('destroys a connection that was lost under it, and the pool serves on', async () => {
    const cut = inTenant(database.pool, ORG_A, async (tx) => {
      const { rows } = await tx.query<{ pid: number }>({ name: 'test.pid', text: 'select pg_backend_pid() as pid' });
      await database.pool.query('select pg_terminate_backend($1)', [rows[0]!.pid]);
      await tx.query({ name: 'test.more', text: 'select 2' });
    });
    await expect(cut).rejects.toThrow();
    expect(await idsSeen(ORG_A)).toEqual([ORG_A]);
  });

  it('keeps organisations apart when many share few connections', async () => {
    const rounds = Array.from({ length: 400 }, (_, i) => (i % 2 === 0 ? ORG_A : ORG_B));
    const results = await Promise.all(
      rounds.map(async (orgId, i) => {
        if (i % 10 === 9)
          return await inTenant(database.pool, orgId, async () => Promise.reject(new Error('aborted'))).catch(() => [orgId]);
        return await idsSeen(orgId);
      }),
    );
    expect(results).toEqual(rounds.map((orgId) => [orgId]));
  });

  it('may hand work to the queue as the application role, and read nothing of it', async () => {
    await inTenant(database.pool, ORG_A, (tx) =>
      tx.query({ name: 'test.enqueue', text: 'select enqueue($2, $1, $1)', values: [ORG_A, 'tally'] }),
    );
    await expect(database.pool.query('select * from graphile_worker._private_jobs')).rejects.toMatchObject({ code: '42501' });
  });
});
