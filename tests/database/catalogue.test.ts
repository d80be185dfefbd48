import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import pg from 'pg';
import { PROVISION_LOCK } from '#libs/database/roles.js';
import { inDatabase, type TestDatabase, testDatabase } from '../support/database.js';
import { breachesIn, RULES, type TableClasses } from './catalogue.js';

const tables = JSON.parse(readFileSync(new URL('./tables.json', import.meta.url), 'utf8')) as TableClasses;
let database: TestDatabase;
let client: pg.Client;
let provisioning: pg.Client;

beforeAll(async () => {
  database = await testDatabase();
  client = new pg.Client({ connectionString: database.superUrl });
  await client.connect();
  provisioning = new pg.Client({ connectionString: inDatabase(database.superUrl, 'postgres') });
  await provisioning.connect();
});
afterAll(async () => {
  await provisioning.end();
  await client.end();
  await database.close();
});

/** One violation a rule, at least. It must be found, by that rule, and by naming what breaks it. */
const PLANTED: readonly (readonly [rule: string, violation: string, breach: string])[] = [
  ['every table has a class', 'create table planted (a int)', 'planted'],
  ['every table has a class', 'drop table task', 'task'],
  [
    'a tenant table has org_id',
    'alter table task alter column org_id drop identity if exists, drop constraint task_pkey, alter column org_id drop not null',
    'task',
  ],
  ['a tenant table has org_id', 'alter table _prisma_migrations add column org_id uuid', '_prisma_migrations'],
  ['a tenant table has a primary key', 'alter table task drop constraint task_pkey, add primary key (id, org_id)', 'task'],
  ['every unique key', 'create unique index planted on task (kind)', 'planted'],
  ['every unique key', 'create unique index planted on task (kind) include (org_id)', 'planted'],
  [
    'a foreign key of a tenant table',
    'create unique index planted_id on shop (id); alter table task add column shop_id uuid constraint planted references shop (id)',
    'planted',
  ],
  [
    'no foreign key leads from',
    'alter table _prisma_migrations add column a uuid, add column b uuid, add constraint planted foreign key (a, b) references shop (org_id, id)',
    'planted',
  ],
  [
    'deleting restricts',
    'alter table repair drop constraint repair_org_id_case_id_fkey, add constraint planted foreign key (org_id, case_id) references shop_case (org_id, id) on delete set null',
    'planted',
  ],
  ['row-level security is on', 'alter table task no force row level security', 'task'],
  ['row-level security is on', 'alter table task disable row level security', 'task'],
  ['a tenant table has one policy', 'drop policy tenant on task', 'task'],
  ['a tenant table has one policy', 'create policy planted on task using (true)', 'task'],
  ['a tenant table has one policy', 'create policy planted on task as restrictive using (true)', 'task'],
  ['a tenant table has one policy', 'alter policy tenant on task using (true)', 'task'],
  ['a tenant table has one policy', 'alter policy tenant on task with check (true)', 'task'],
  ['a tenant table has one policy', 'alter policy tenant on task to coolback_app', 'task'],
  [
    'there are no triggers',
    'create trigger planted before update on task for each row execute function suppress_redundant_updates_trigger()',
    'planted',
  ],
  ['there are no triggers', 'create rule planted as on delete to task do instead nothing', 'planted'],
  ['every table is a plain logged one', 'alter table task set unlogged', 'task'],
  ['every table is a plain logged one', 'alter table task owner to postgres', 'task'],
  ['a counted key is a bigint', 'alter table task add column planted int generated always as identity', 'task.planted'],
  ['a counted key is a bigint', 'alter table task add column planted serial', 'task.planted'],
  ['an index is asked by leakproof', 'create index planted on task ((done::numeric))', 'planted by numeric_eq'],
  [
    'an index is asked by leakproof',
    `create type mood as enum ('a'); alter table task add column m mood; create index planted on task (org_id, m)`,
    'planted by enum_eq',
  ],
  ['the service may read and write', 'grant truncate on task to coolback_app', 'task: TRUNCATE'],
  ['the service may read and write', 'grant update on audit_event to coolback_app', 'audit_event: UPDATE'],
  ['the service may read and write', 'grant insert on _prisma_migrations to coolback_app', '_prisma_migrations: INSERT'],
  ['the service may read and write', 'revoke select on task from coolback_app', 'task cannot be read'],
  ['nobody else', 'grant select on task to public', 'task: -'],
  ['nobody else', 'grant select on task to coolback_queue', 'task: coolback_queue'],
  ['nobody else', 'grant select (kind) on task to coolback_queue', 'task.kind'],
  ['a function runs with the rights', 'create function planted() returns int language sql security definer as $$ select 1 $$', 'planted()'],
  ['a function runs with the rights', 'grant execute on function enqueue to public', 'enqueue(text,uuid,uuid)'],
  ['a function runs with the rights', 'alter function enqueue reset search_path', 'enqueue(text,uuid,uuid)'],
  ['a view has the rights', 'create view planted as select * from task', 'planted'],
  ['a view has the rights', 'create materialized view planted as select 1 as a', 'planted'],
  ['the roles hold', 'alter role coolback_app bypassrls', 'coolback_app has too much'],
  ['the roles hold', 'grant coolback_owner to coolback_app', 'coolback_app is a member of coolback_owner'],
  ['the roles hold', 'grant create on schema public to coolback_app', 'schema public'],
  ['the roles hold', 'grant usage on schema graphile_worker to coolback_app', 'schema graphile_worker'],
  ['only the schemas', 'create schema planted', 'planted'],
];

describe('the live catalogue', () => {
  it('breaks no rule', async () => {
    expect(await breachesIn(client, tables)).toEqual([]);
  });

  it.each(PLANTED)('shows when "%s" is broken by %s', async (rule, violation, breach) => {
    // Roles belong to the whole server: while one is altered here, no other test file may provision.
    if (rule === 'the roles hold') await provisioning.query('select pg_advisory_lock($1)', [PROVISION_LOCK]);
    await client.query('begin');
    try {
      await client.query(violation);
      const found = (await breachesIn(client, tables)).filter((one) => one.rule.startsWith(rule)).map((one) => one.breach);
      expect(found).toContain(breach);
    } finally {
      await client.query('rollback');
      await provisioning.query('select pg_advisory_unlock_all()');
    }
  });

  it('has a planted violation for every rule', () => {
    expect(RULES.filter(({ name }) => !PLANTED.some(([rule]) => name.startsWith(rule))).map(({ name }) => name)).toEqual([]);
  });
});
