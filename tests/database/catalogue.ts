import type pg from 'pg';

/** Class of each table: tenant (rows of organisations), catalogue (the same for all), system (of the tools). */
export interface TableClasses {
  readonly classes: Readonly<Record<string, string>>;
  /** Tenant tables whose rows the service never changes. */
  readonly appendOnly: readonly string[];
  /** The reviewed functions that run with the rights of their owner. */
  readonly definerFunctions: readonly string[];
}

/** The one policy a tenant table has, as PostgreSQL prints it. */
const POLICY = `(org_id = (NULLIF(current_setting('app.org_id'::text, true), ''::text))::uuid)`;

interface Rule {
  readonly name: string;
  /** One row a breach. $1 tenant tables, $2 catalogue tables, $3 system tables, $4 append-only tables, $5 definer functions, $6 the policy. */
  readonly breaches: string;
}

const TABLES = `(select c.oid::regclass::text as name, c.* from pg_class c
                  where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p', 'f'))`;
const KEYS = `(select i.*, i.indrelid::regclass::text as name, i.indexrelid::regclass::text as key from pg_index i)`;
const grants = (role: string) => `(select c.oid::regclass::text as name, a.privilege_type from pg_class c, aclexplode(c.relacl) a
   where c.relnamespace = 'public'::regnamespace and a.grantee = ${role})`;
const APP = `'coolback_app'::regrole`;

export const RULES: readonly Rule[] = [
  {
    name: 'every table has a class, and every class a table',
    breaches: `select coalesce(t.name, listed) as breach from ${TABLES} t
               full join unnest($1::text[] || $2::text[] || $3::text[]) as listed on listed = t.name where listed is null or t.name is null`,
  },
  {
    name: 'a tenant table has org_id uuid not null, and no other class has it',
    breaches: `select t.name as breach from ${TABLES} t left join pg_attribute a on a.attrelid = t.oid and a.attname = 'org_id' and not a.attisdropped
               where (t.name = any($1) and (a.attname is null or a.atttypid <> 'uuid'::regtype or not a.attnotnull))
                  or (t.name = any($2 || $3) and a.attname is not null)`,
  },
  {
    name: 'a tenant table has a primary key, and it begins with org_id',
    breaches: `select t.name as breach from ${TABLES} t left join ${KEYS} k on k.indrelid = t.oid and k.indisprimary
               left join pg_attribute a on a.attrelid = t.oid and a.attname = 'org_id'
               where t.name = any($1) and (k.indexrelid is null or k.indkey[0] <> a.attnum)`,
  },
  {
    name: 'every unique key and exclusion of a tenant table contains org_id',
    breaches: `select k.key as breach from ${KEYS} k join pg_attribute a on a.attrelid = k.indrelid and a.attname = 'org_id'
               where k.name = any($1) and (k.indisunique or k.indisexclusion) and not a.attnum = any(k.indkey[0:k.indnkeyatts - 1])`,
  },
  {
    name: 'a foreign key of a tenant table refers to a tenant table and ties org_id to org_id',
    breaches: `select c.conname as breach from pg_constraint c
               where c.contype = 'f' and c.conrelid::regclass::text = any($1) and c.confrelid::regclass::text <> all($2)
                 and (c.confrelid::regclass::text <> all($1) or not exists (
                   select from unnest(c.conkey, c.confkey) as pair(mine, theirs)
                     join pg_attribute m on m.attrelid = c.conrelid and m.attnum = mine and m.attname = 'org_id'
                     join pg_attribute t on t.attrelid = c.confrelid and t.attnum = theirs and t.attname = 'org_id'))`,
  },
  {
    name: 'no foreign key leads from a catalogue to a tenant table',
    breaches: `select c.conname as breach from pg_constraint c
               where c.contype = 'f' and c.conrelid::regclass::text = any($2 || $3) and c.confrelid::regclass::text = any($1)`,
  },
  {
    name: 'deleting restricts or cascades, updating a key does nothing',
    breaches: `select c.conname as breach from pg_constraint c join ${TABLES} t on t.oid = c.conrelid
               where c.contype = 'f' and (c.confdeltype not in ('r', 'c') or c.confupdtype not in ('a', 'r'))`,
  },
  {
    name: 'row-level security is on and forced on every tenant table',
    breaches: `select t.name as breach from ${TABLES} t where t.name = any($1) and not (t.relrowsecurity and t.relforcerowsecurity)`,
  },
  {
    name: 'a tenant table has one policy: permissive, for all commands and roles, comparing org_id with the setting and nothing else',
    breaches: `select t.name as breach from ${TABLES} t left join pg_policy p on p.polrelid = t.oid where t.name = any($1)
               group by t.name having count(p.oid) <> 1 or not bool_and(p.polpermissive and p.polcmd = '*' and p.polroles = '{0}'
                 and pg_get_expr(p.polqual, p.polrelid) = $6 and pg_get_expr(p.polwithcheck, p.polrelid) = $6)`,
  },
  {
    name: 'there are no triggers and no rules',
    breaches: `select tgname as breach from pg_trigger g join ${TABLES} t on t.oid = g.tgrelid where not g.tgisinternal
               union all select r.rulename from pg_rewrite r join ${TABLES} t on t.oid = r.ev_class`,
  },
  {
    name: 'every table is a plain logged one of the owner, without inheritance',
    breaches: `select t.name as breach from ${TABLES} t
               where t.relpersistence <> 'p' or t.relkind = 'f' or t.relowner <> 'coolback_owner'::regrole
                  or exists (select from pg_inherits i where i.inhrelid = t.oid and not t.relispartition)`,
  },
  {
    name: 'a counted key is a bigint',
    breaches: `select t.name || '.' || a.attname as breach from ${TABLES} t join pg_attribute a on a.attrelid = t.oid and a.attnum > 0
               left join pg_attrdef d on d.adrelid = t.oid and d.adnum = a.attnum
               where a.atttypid <> 'int8'::regtype and (a.attidentity <> '' or pg_get_expr(d.adbin, d.adrelid) like 'nextval(%')`,
  },
  {
    name: 'an index is asked by leakproof comparisons only, or row-level security would keep it from being used',
    breaches: `select distinct k.key || ' by ' || o.oprcode as breach from ${KEYS} k, unnest(k.indclass::oid[]) as class(oid)
                 join pg_opclass oc on oc.oid = class.oid
                 join pg_amop ao on ao.amopfamily = oc.opcfamily and ao.amoplefttype = oc.opcintype and ao.amoprighttype = oc.opcintype
                 join pg_operator o on o.oid = ao.amopopr join pg_proc p on p.oid = o.oprcode
               where k.name = any($1) and not p.proleakproof`,
  },
  {
    name: 'the service may read and write rows of tenant tables, append only where said, and read the rest',
    breaches: `select g.name || ': ' || g.privilege_type as breach from ${grants(APP)} g
               where not (g.name = any($1) and g.privilege_type in ('SELECT', 'INSERT', 'UPDATE', 'DELETE')) and not (g.privilege_type = 'SELECT' and g.name = any($2 || $3))
                  or (g.name = any($4) and g.privilege_type = 'UPDATE')
               union all select t.name || ' cannot be read' from ${TABLES} t
               where t.name = any($1 || $2) and not has_table_privilege('coolback_app', t.oid, 'SELECT')`,
  },
  {
    name: 'nobody else has any right on a table',
    breaches: `select c.oid::regclass || ': ' || a.grantee::regrole as breach from pg_class c, aclexplode(c.relacl) a
               where c.relnamespace = 'public'::regnamespace and a.grantee not in ('coolback_owner'::regrole, ${APP})
               union all select a.attrelid::regclass || '.' || a.attname from pg_attribute a join ${TABLES} t on t.oid = a.attrelid where a.attacl is not null`,
  },
  {
    name: 'a function runs with the rights of its caller unless it is a reviewed one, with a fixed search path and not for everybody',
    breaches: `select p.oid::regprocedure::text as breach from pg_proc p
               where p.pronamespace = 'public'::regnamespace and p.prosecdef
                 and (p.oid::regprocedure::text <> all($5) or not coalesce(p.proconfig::text like '%search_path=%', false)
                      or p.proowner <> 'coolback_owner'::regrole
                      or exists (select from aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) a where a.grantee = 0))`,
  },
  {
    name: 'a view has the rights of its reader; there are no materialised views',
    breaches: `select c.oid::regclass::text as breach from pg_class c where c.relnamespace = 'public'::regnamespace
               and (c.relkind = 'm' or (c.relkind = 'v' and not coalesce(c.reloptions::text like '%security_invoker=true%', false)))`,
  },
  {
    name: 'the roles hold what they should and no more',
    breaches: `select rolname || ' has too much' as breach from pg_roles where rolname in ('coolback_owner', 'coolback_app', 'coolback_queue')
                 and (rolsuper or rolbypassrls or rolcreaterole or rolcreatedb or rolreplication)
               union all select member::regrole || ' is a member of ' || roleid::regrole from pg_auth_members
                where member = ${APP} or (member = 'coolback_queue'::regrole)
               union all select 'schema ' || nspname from pg_namespace where has_schema_privilege('coolback_app', oid, 'CREATE')
                or (nspname !~ '^pg_|^information_schema$|^public$' and has_schema_privilege('coolback_app', oid, 'USAGE'))
               union all select 'owns ' || objid::text from pg_shdepend where refobjid = ${APP} and deptype = 'o'`,
  },
  {
    name: 'only the schemas public and graphile_worker exist',
    breaches: `select nspname as breach from pg_namespace where nspname !~ '^pg_' and nspname not in ('information_schema', 'public', 'graphile_worker')`,
  },
];

/** Every breach of every rule in the database `client` is connected to: rule, and what breaks it. */
export async function breachesIn(client: pg.Client, tables: TableClasses): Promise<{ rule: string; breach: string }[]> {
  const ofClass = (wanted: string) =>
    Object.entries(tables.classes)
      .filter(([, kind]) => kind === wanted)
      .map(([name]) => name);
  const parameters = [ofClass('tenant'), ofClass('catalogue'), ofClass('system'), tables.appendOnly, tables.definerFunctions, POLICY];
  const types = ['text[]', 'text[]', 'text[]', 'text[]', 'text[]', 'text'];
  const found: { rule: string; breach: string }[] = [];
  for (const { name, breaches } of RULES) {
    // Every rule gets all parameters; naming them once gives each a type where the rule does not use it.
    const typed = `select null::text as breach from (select ${types.map((type, i) => `$${i + 1}::${type}`).join(', ')}) as parameters where false`;
    const { rows } = await client.query<{ breach: string }>(
      `${typed} union all select breach::text from (${breaches}) as rule`,
      parameters as unknown[],
    );
    found.push(...rows.map(({ breach }) => ({ rule: name, breach })));
  }
  return found;
}
