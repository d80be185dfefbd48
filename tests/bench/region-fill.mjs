// Fills organisations with invented cases by a few set-based statements, past the policies: only for the bench. Primary rows only (vehicles, sightings, cases,
// repairs, signatures); whatever is derived is then derived by the product itself.
import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { signatureDimensions, signatureVersion } from '#libs/engine/index.js';

const PLATFORMS = 50;
const SHOPS = 40;
const LAYOUTS = ['valve-receiver', 'valve-integral-receiver', 'orifice-accumulator'];
/** Fault, its share of the cases, and what is done for it: temporary and lasting. */
const FAULTS = [
  ['undercharge', 30, 'top-up', 'replace-seals'],
  ['condenser-dirt', 12, 'clean-condenser', 'replace-condenser'],
  ['condenser-passages', 8, 'flush-lines', 'replace-condenser'],
  ['filter-cartridge', 8, 'replace-filter-cartridge', 'replace-condenser'],
  ['condenser-fan', 8, 'repair-wiring', 'replace-fan'],
  ['compressor-wear', 8, 'correct-oil', 'replace-compressor'],
  ['valve-restricted', 7, 'flush-lines', 'replace-thermostatic-valve'],
  ['overcharge', 6, 'recover-evacuate-charge', 'recover-evacuate-charge'],
  ['moisture', 5, 'recover-evacuate-charge', 'replace-receiver-drier'],
  ['air-in-system', 4, 'recover-evacuate-charge', 'recover-evacuate-charge'],
  ['clutch-slip', 4, 'replace-clutch', 'replace-compressor'],
];

const actorOf = (orgId) => ({
  orgId,
  credentialId: orgId,
  role: 'administrator',
  permissions: ROLE_PERMISSIONS.administrator,
  shopIds: null,
  requestId: 'bench',
});

async function found(casebook, name) {
  const { orgId } = await casebook.access.foundOrganisation({ name, slug: `${name}-${randomUUID()}`, demo: false });
  const actor = actorOf(orgId);
  for (let i = 0; i < SHOPS; i++) {
    const normals = Array.from({ length: 12 }, (_, month) => ({
      meanC: 8 + (i % 8) * 1.5 + 11 * Math.cos(((month - 6.5) * Math.PI) / 6),
      sdC: 3.5,
    }));
    await casebook.shops.addShop(actor, {
      code: `s${i}`,
      name: `Shop ${i}`,
      elevationM: 50 * i,
      timeZone: 'UTC',
      normals,
      currency: 'EUR',
      labourRate: 60,
    });
  }
  for (let i = 0; i < PLATFORMS; i++) {
    await casebook.platforms.addPlatform(actor, {
      code: `p${i}`,
      name: `Platform ${i}`,
      family: `f${Math.floor(i / 4)}`,
      layout: LAYOUTS[i % LAYOUTS.length],
      compressor: 'fixed-clutch',
      refrigerant: 'R-134a',
      chargeG: 500 + 10 * i,
      firstYear: 2010,
      lastYear: 2026,
      vinPatterns: [],
      description: {},
    });
  }
  return actor;
}

/** Statements of one organisation; $1 its identifier, sizes written in. */
function statements(cases) {
  const vehicles = Math.ceil(cases * 0.4);
  const bounds = FAULTS.map((_, i) => FAULTS.slice(0, i + 1).reduce((sum, [, share]) => sum + share, 0));
  const dims = signatureDimensions.length;
  const texts = (values) => `array[${values.map((value) => `'${value}'`).join(', ')}]`;
  return [
    // Identifiers of visits grow with time, as those of the product do (RFC 9562, version 7).
    `create or replace function pg_temp.id_at(at timestamptz) returns uuid language sql volatile as
       $body$ select (lpad(to_hex((extract(epoch from at) * 1000)::bigint), 12, '0') || '7' || substr(md5(random()::text), 1, 3) || '8' || substr(md5(random()::text), 1, 15))::uuid $body$`,
    'create temp table bench_shop as select (row_number() over (order by code) - 1)::int as no, id from shop where org_id = $1',
    'create temp table bench_platform as select (row_number() over (order by code) - 1)::int as no, id, layout from platform where org_id = $1',
    // Some platforms are common and some rare; a vehicle lives at one shop.
    `create temp table bench_vehicle as
       select v.no, gen_random_uuid() as id, p.id as platform_id, p.layout, v.home, v.has_vin
         from (select no, floor(${PLATFORMS} * power(random(), 1.3))::int as platform, floor(random() * ${SHOPS})::int as home, random() < 0.93 as has_vin
                 from generate_series(0, ${vehicles - 1}) as no) v
         join bench_platform p on p.no = v.platform`,
    `insert into vehicle (org_id, id, vin_hash, platform_id, model_year, created_at)
       select $1, id, case when has_vin then sha256(id::text::bytea) end, platform_id, 2010 + (no % 16), '2023-01-01' from bench_vehicle`,
    `create temp table bench_case as
       select pg_temp.id_at(c.opened_at) as id, v.id as vehicle_id, v.platform_id, v.layout, s.id as shop_id, v.no % 97 as car, c.opened_at, c.u, c.proved, c.temporary, c.is_void,
              case when c.own then 1 + (v.no % ${FAULTS.length}) else 1 + width_bucket(c.draw, array[${bounds.join(', ')}]) end as fault, c.no
         from (select no, floor(random() * ${vehicles})::int as vehicle, floor(random() * ${SHOPS})::int as elsewhere, random() < 0.8 as at_home,
                      timestamptz '2023-01-01' + random() * interval '1420 days' as opened_at, random() as u, random() < 0.6 as proved,
                      random() < 0.4 as temporary, random() < 0.01 as is_void, random() < 0.25 as own, floor(random() * 100)::int as draw
                 from generate_series(1, ${cases}) as no) c
         join bench_vehicle v on v.no = c.vehicle
         join bench_shop s on s.no = case when c.at_home then v.home else c.elsewhere end
        order by c.opened_at`,
    `update bench_case set fault = least(fault, ${FAULTS.length})`,
    'analyze bench_case',
    `insert into shop_case (org_id, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, opened_at, odometer_km, leading_fault,
                            leading_probability, proved_faults, backfill, warnings, created_at, updated_at)
       select $1, id, 1, 1, shop_id, vehicle_id, platform_id, case when is_void then 'void' else 'open' end,
              (array['cools-poorly', 'cools-not', 'leak', 'noise', 'smell'])[1 + floor(u * 5)::int], opened_at,
              20000 + 60 * extract(day from opened_at - timestamptz '2023-01-01'), (${texts(FAULTS.map(([fault]) => fault))})[fault], 0.7,
              case when proved then array[(${texts(FAULTS.map(([fault]) => fault))})[fault]] else '{}' end, true, '[]', opened_at, opened_at
         from bench_case`,
    `insert into repair (org_id, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, cost, created_at)
       select $1, pg_temp.id_at(opened_at), id, shop_id, vehicle_id, (${texts(FAULTS.map(([fault]) => fault))})[fault],
              case when temporary then (${texts(FAULTS.map(([, , action]) => action))})[fault] else (${texts(FAULTS.map(([, , , action]) => action))})[fault] end,
              case when temporary then 'temporary' else 'permanent' end, opened_at::date, '[]', 100 + 400 * u, opened_at
         from bench_case`,
    `insert into sighting (org_id, id, vehicle_id, shop_id, day, odometer_km)
       select $1, gen_random_uuid(), vehicle_id, shop_id, opened_at::date, null from bench_case on conflict do nothing`,
    // A signature: the direction of its fault, as far as it is severe, and noise of one standard deviation; a third of the readings were not taken.
    `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values)
       select $1, id, '${signatureVersion}', layout, (${texts(FAULTS.map(([fault]) => fault))})[fault], opened_at,
              array(select case when random() < 0.33 then null
                           else round(((1 + 5 * u) * sin(fault * 1.7 + d * d * 0.9) + sqrt(-2 * ln(1 - random())) * cos(2 * pi() * random()))::numeric, 3)::float8 end
                      from generate_series(1, ${dims}) as d where no > 0)
         from bench_case where not is_void`,
    'drop table bench_case',
    'drop table bench_vehicle',
    'drop table bench_platform',
    'drop table bench_shop',
  ];
}

/** One organisation of `cases` among nineteen others. @returns its administrator as an actor. */
export async function fillRegion(casebook, superUrl, cases, log) {
  const client = new pg.Client({ connectionString: superUrl });
  await client.connect();
  try {
    // Rows made here hold together by themselves; keys are not looked up one by one.
    await client.query("set session_replication_role = 'replica'; set synchronous_commit = off; set work_mem = '256MB'; set jit = off");
    const actors = [];
    for (const [name, size] of [['whole', cases], ...Array.from({ length: 19 }, (_, i) => [`other-${i}`, Math.ceil(cases / 200)])]) {
      const actor = await found(casebook, name);
      for (const text of statements(size)) {
        const start = performance.now();
        await client.query({ text: text.replaceAll('$1', () => `'${actor.orgId}'::uuid`) });
        if (name === 'whole')
          log(`${((performance.now() - start) / 1000).toFixed(1)} s  ${text.trim().slice(0, 60).replaceAll(/\s+/g, ' ')}`);
      }
      actors.push(actor);
    }
    await client.query('vacuum analyze');
    return actors;
  } finally {
    await client.end();
  }
}
