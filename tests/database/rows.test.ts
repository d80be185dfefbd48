import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { Instant, instantText } from '#libs/contracts/index.js';
import { createPool, inTenant, type Pool, unavailability } from '#libs/database/index.js';
import { asAdministrator, type TestDatabase, testDatabase } from '../support/database.js';

const ORG = '0190a0a0-0000-7000-8000-00000000000a';
let database: TestDatabase;
beforeAll(async () => {
  database = await testDatabase();
});
afterAll(async () => await database.close());

describe('rows', () => {
  // The server writes the expected text itself; only the driver's reading of its other form is under test.
  it.each(['UTC', 'Asia/Kathmandu', 'America/St_Johns', 'Europe/Amsterdam'])(
    'hold instants to the microsecond, with sessions in %s',
    async (zone) => {
      const pool = createPool(database.appUrl, { max: 1 });
      try {
        await pool.query(`set timezone to '${zone}'`);
        const { rows } = await pool.query<{ instant: string; expected: string }>(
          `select t as instant, rtrim(rtrim(to_char(t at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US'), '0'), '.') || 'Z' as expected
           from (select timestamptz '1900-01-01 00:00:00Z' + n * interval '97 days 3:07:11.010203' as t from generate_series(0, 1200) as n) as times`,
        );
        expect(rows.map(({ instant }) => instant)).toEqual(rows.map(({ expected }) => expected));
      } finally {
        await pool.end();
      }
    },
  );

  it('spell an instant as a new record does that was never read, and as what came in is spelled, whatever its offset and digits', async () => {
    const clock = [0, 10, 100, 120, 123, 59_990, 60_000].map((ms) => new Date(Date.UTC(2026, 10, 28, 19, 25, 0, ms)));
    const typed = [
      '2026-07-01T09:30:00.000Z',
      '2026-07-01T23:30:00.1200+05:45',
      '1969-12-31T23:59:59.999999Z',
      '2026-12-31T23:59:59.9999996Z',
      '2024-02-29T00:00:00-00:00',
    ];
    const { rows } = await database.pool.query<{ read: string }>('select unnest($1::timestamptz[]) as read', [
      [...clock.map((at) => at.toISOString()), ...typed],
    ]);
    expect([...clock.map(instantText), ...typed.map((text) => Instant.parse(text))]).toEqual(rows.map(({ read }) => read));
    expect(instantText(clock[1]!)).toBe('2026-11-28T19:25:00.01Z');
  });

  it('go out and come back as the same instant, date, bytes, document, list and number', async () => {
    const values = [
      '2026-11-25T12:34:56.123456Z',
      '2026-03-29',
      Buffer.from([0, 255, 10]),
      JSON.stringify({ note: 'ü', list: [1, null] }),
      ['a,b', 'c"d', '', null],
      1 / 3,
      Number.MAX_SAFE_INTEGER,
    ];
    const { rows } = await inTenant(database.pool, ORG, (tx) =>
      tx.query({
        name: 'test.types',
        text: `select $1::timestamptz as instant, $2::date as day, $3::bytea as bytes, $4::jsonb as document, $5::text[] as list,
                      $6::float8 as number, $7::int8 as count, 1.5::numeric as share, null::timestamptz as nothing`,
        values,
      }),
    );
    expect(rows).toEqual([
      {
        instant: values[0],
        day: values[1],
        bytes: values[2],
        document: { note: 'ü', list: [1, null] },
        list: values[4],
        number: values[5],
        count: values[6],
        share: 1.5,
        nothing: null,
      },
    ]);
  });
});

describe('a database that cannot serve', () => {
  const reasonOf = async (pool: Pool, text: string): Promise<unknown> =>
    await inTenant(pool, ORG, (tx) => tx.query({ name: `test.${text.length}`, text })).then(
      () => null,
      (error: unknown) => unavailability(error)?.reason ?? error,
    );

  it.each([
    ['a statement that takes too long', `select pg_sleep(5)`, '-c statement_timeout=50', 'timeout'],
    ['nobody listening', 'select 1', null, 'connection-lost'],
  ])('%s', async (_name, text, options, reason) => {
    const url = new URL(database.appUrl);
    if (options === null) url.port = '1';
    else url.searchParams.set('options', options);
    const pool = createPool(url.toString(), { max: 1 });
    expect(await reasonOf(pool, text)).toBe(reason);
    await pool.end();
  });

  it('no connection left in the pool, told in time', async () => {
    const pool = createPool(database.appUrl, { max: 1, connectionTimeoutMs: 2_000 });
    let give!: () => void;
    const given = new Promise<void>((resolve) => {
      give = resolve;
    });
    const held = inTenant(pool, ORG, () => given);
    expect(await reasonOf(pool, 'select 1')).toBe('too-many-connections');
    give();
    await held;
    expect(await reasonOf(pool, 'select 1')).toBeNull();
    await pool.end();
  });

  it('a process that computed while its connection was made asks once more', async () => {
    const pool = createPool(database.appUrl, { max: 1, connectionTimeoutMs: 2_000 });
    const answer = reasonOf(pool, 'select 1');
    for (const until = Date.now() + 2_100; Date.now() < until; );
    expect(await answer).toBeNull();
    await pool.end();
  });

  it('a lock that somebody holds', async () => {
    const url = new URL(database.appUrl);
    url.searchParams.set('options', '-c lock_timeout=50');
    const pool = createPool(url.toString(), { max: 1 });
    await asAdministrator(database.superUrl, async (client) => {
      await client.query('begin');
      await client.query('lock table shop');
      expect(await reasonOf(pool, 'select * from shop')).toBe('timeout');
      await client.query('rollback');
    });
    await pool.end();
  });
});
