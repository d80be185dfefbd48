import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { boolArray, byteaArray, float8Array, inTenant, int4Array, jsonbArray, textArray, uuidArray } from '#libs/database/index.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

const ORG = '0190a0a0-0000-7000-8000-00000000000a';
let database: TestDatabase;
beforeAll(async () => {
  database = await testDatabase();
});
afterAll(async () => await database.close());

async function asked<Row>(name: string, expression: string, values: readonly unknown[]): Promise<Row> {
  const { rows } = await inTenant(database.pool, ORG, (tx) =>
    tx.query<Row>({ name: `test.${name}`, text: `select ${expression}`, values }),
  );
  return rows[0]!;
}

const TEXTS = ['', 'a,b', '{"c\\d"}', 'null', null, 'ü 𝔘 \u2028', ' x ', '\t\r\n'];

// The server judges: what it was sent in binary must equal what it reads from text it writes and takes apart itself.
it.each([
  ['text', textArray, TEXTS],
  ['int4', int4Array, [0, -1, null, 2 ** 31 - 1, -(2 ** 31)]],
  ['float8', float8Array, [0, -0, 1 / 3, 5e-324, Number.MAX_VALUE, null, -1e-7]],
  ['bool', boolArray, [true, null, false]],
  ['bytea', byteaArray, [Buffer.alloc(0), Buffer.from([0, 255, 92]), null]],
  ['uuid', uuidArray, [ORG, 'ffffffff-FFFF-4fff-bfff-ffffffffffff', null]],
  ['jsonb', jsonbArray, [JSON.stringify({ note: 'ü"\\', list: [1, null, 1.5e300] }), 'null', null, '[]']],
] as const)('%s[] arrives as it was sent', async (type, encoded, values) => {
  const texts = values.map((value) => (Buffer.isBuffer(value) ? `\\x${value.toString('hex')}` : value === null ? null : String(value)));
  const row = await asked<{ same: boolean; count: number }>(
    `array.${type}`,
    `$1::${type}[] is not distinct from (select array_agg(value::${type} order by n) from unnest($2::text[]) with ordinality as t(value, n)) as same,
     cardinality($1::${type}[]) as count`,
    [encoded(values as never), texts],
  );
  expect(row).toEqual({ same: true, count: values.length });
  expect(await asked(`array.none.${type}`, `cardinality(coalesce($1::${type}[], '{}')) as count`, [encoded([])])).toEqual({ count: 0 });
});

it('come back as they are, and are refused as a text would be', async () => {
  expect(await asked('array.back', '$1::text[] as list', [textArray(TEXTS)])).toEqual({ list: TEXTS });
  await expect(asked('array.nul', '$1::text[] as list', [textArray(['a\u0000b'])])).rejects.toMatchObject({ code: '22021' });
  await expect(asked('array.json', '$1::jsonb[] as list', [jsonbArray(['{"a":'])])).rejects.toMatchObject({ code: '22P02' });
  for (const wrong of ['', 'x', ORG.slice(1), `${ORG}0`, `${ORG.slice(0, -1)}g`]) expect(() => uuidArray([wrong])).toThrow(TypeError);
});
