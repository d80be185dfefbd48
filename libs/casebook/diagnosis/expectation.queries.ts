import { type Tx, textArray, uuidArray } from '#libs/database/index.js';
import type { PlatformCalibration } from '#libs/engine/index.js';

export interface KnownGoodRow {
  readonly platformId: string;
  readonly shopId: string;
  readonly elevationM: number;
  readonly openedAt: string;
  readonly evidence: string;
}

/**
 * Of a case `c` with its evidence `e`: read once more after a repair whose cause was proved by opening a part or by a laboratory, on a vehicle that did not come
 * back with it. Proof by after-readings does not count: it would prove itself.
 */
const IS_KNOWN_GOOD = `c.status <> 'void' and cardinality(c.proved_faults) > 0
              and exists (select from proof p where p.org_id = $1 and p.case_id = c.id and p.method in ('opened-part', 'laboratory'))
              and exists (select from repair r where r.org_id = $1 and r.case_id = c.id and r.action <> 'no-repair')
              and not exists (select from episode b where b.org_id = $1 and b.case_id = c.id
                                 and b.end_kind in ('same-fault', 'consequent-fault', 'same-complaint', 'repair-caused'))
              and exists (select from jsonb_array_elements(e.document->'readings') as one where one->>'stage' = 'after')`;

/** Proved cases that are looked at for one that is known good. */
const LOOKED_AT_FOR_ONE = 10;

/**
 * The newest known-good cases of each platform, among the newest proved ones: those are taken before anything is asked of them (a limit the planner cannot see
 * through), or it would read the evidence of every proved case.
 */
export async function knownGood(tx: Tx, orgId: string, platformIds: readonly string[], ofEachAtMost: number): Promise<KnownGoodRow[]> {
  const { rows } = await tx.query<KnownGoodRow>({
    name: 'expectation.known-good',
    text: `select asked.platform_id as "platformId", o.shop_id as "shopId", s.elevation_m as "elevationM", o.opened_at as "openedAt", o.evidence
             from unnest((select $2::uuid[])) as asked(platform_id)
             cross join lateral (select c.id, c.shop_id, c.opened_at, e.document::text as evidence
                                   from (select * from shop_case v
                                          where v.org_id = $1 and v.platform_id = asked.platform_id and cardinality(v.proved_faults) > 0
                                            and v.status <> 'void'
                                          order by v.opened_at desc limit (select $4::int)) as c
                                   join case_evidence e on e.org_id = c.org_id and e.case_id = c.id and e.revision = c.evidence_revision
                                  where ${IS_KNOWN_GOOD}
                                  order by c.opened_at desc, c.id limit (select $3::int)) as o
             join shop s on s.org_id = $1 and s.id = o.shop_id
            order by asked.platform_id, o.opened_at desc, o.id`,
    values: [orgId, uuidArray(platformIds), ofEachAtMost, LOOKED_AT_FOR_ONE * ofEachAtMost],
  });
  return rows;
}

/** A case whose vehicle may have been read sound before. */
export interface AskedVehicle {
  readonly id: string;
  readonly vehicleId: string | null;
  readonly platformId: string | null;
  readonly shopId: string;
  readonly openedAt: string;
}

/** A visit of the same vehicle, on the same platform and before a case, after which it was sound. */
export interface OwnVisit {
  readonly ofCase: string;
  readonly caseId: string;
  readonly elevationM: number;
  readonly openedAt: string;
  readonly sameShop: boolean;
  readonly evidence: string;
}

/** Of one vehicle no more proved visits than these are looked at. */
const VISITS_AT_MOST = 50;

/**
 * The newest known-good visits of each case's own vehicle before it. The vehicle's visits are taken before anything is asked of them (a limit the planner cannot
 * see through), or it may set out from every proved case of the platform, for each case anew. Lists and limit are scalars of their own: the length of a list
 * that the planner sees makes it plan the statement anew each time, and planning is most of what one case costs here.
 */
export async function ownSoundVisits(tx: Tx, orgId: string, asked: readonly AskedVehicle[], atMost: number): Promise<OwnVisit[]> {
  const seen = asked.filter(({ vehicleId }) => vehicleId !== null);
  if (seen.length === 0) return [];
  const { rows } = await tx.query<OwnVisit>({
    name: 'expectation.own-sound',
    text: `select asked.id as "ofCase", o.id as "caseId", s.elevation_m as "elevationM", o.opened_at as "openedAt", o.shop_id = asked.shop_id as "sameShop",
                  o.evidence
             from rows from (unnest((select $2::uuid[])), unnest((select $3::uuid[])), unnest((select $4::uuid[])), unnest((select $5::uuid[])),
                             unnest((select $6::text[])))
               as asked(id, vehicle_id, platform_id, shop_id, opened_at)
             cross join lateral (select c.id, c.shop_id, c.opened_at, e.document::text as evidence
                                   from (select * from shop_case v
                                          where v.org_id = $1 and v.vehicle_id = asked.vehicle_id and v.opened_at < asked.opened_at::timestamptz
                                            and cardinality(v.proved_faults) > 0
                                          order by v.opened_at desc limit ${VISITS_AT_MOST}) as c
                                   join case_evidence e on e.org_id = c.org_id and e.case_id = c.id and e.revision = c.evidence_revision
                                  where c.platform_id = asked.platform_id and c.id <> asked.id and ${IS_KNOWN_GOOD}
                                  order by c.opened_at desc, c.id limit (select $7::int)) as o
             join shop s on s.org_id = $1 and s.id = o.shop_id
            order by asked.id, o.opened_at desc, o.id`,
    values: [
      orgId,
      uuidArray(seen.map(({ id }) => id)),
      uuidArray(seen.map(({ vehicleId }) => vehicleId!)),
      uuidArray(seen.map(({ platformId }) => platformId!)),
      uuidArray(seen.map(({ shopId }) => shopId)),
      textArray(seen.map(({ openedAt }) => openedAt)),
      atMost,
    ],
  });
  return rows;
}

export interface ExpectationRow {
  readonly version: number;
  readonly engineVersion: string;
  readonly cases: number;
  readonly shops: number;
  readonly document: PlatformCalibration | null;
  readonly createdAt: string;
  readonly lookedAt: string;
}

export async function latestExpectation(tx: Tx, orgId: string, platformId: string): Promise<ExpectationRow | null> {
  const { rows } = await tx.query<ExpectationRow>({
    name: 'expectation.latest',
    text: `select version, engine_version as "engineVersion", cases, shops, document, created_at as "createdAt", looked_at as "lookedAt"
             from platform_expectation where org_id = $1 and platform_id = $2 order by version desc limit 1`,
    values: [orgId, platformId],
  });
  return rows[0] ?? null;
}

export async function insertExpectation(
  tx: Tx,
  orgId: string,
  platformId: string,
  row: Omit<ExpectationRow, 'createdAt' | 'lookedAt'>,
  at: string,
): Promise<void> {
  await tx.query({
    name: 'expectation.insert',
    text: `insert into platform_expectation (org_id, platform_id, version, engine_version, cases, shops, document, created_at, looked_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $8)`,
    values: [orgId, platformId, row.version, row.engineVersion, row.cases, row.shops, row.document, at],
  });
}

export async function lookedAgain(tx: Tx, orgId: string, platformId: string, version: number, at: string): Promise<void> {
  await tx.query({
    name: 'expectation.looked',
    text: 'update platform_expectation set looked_at = $4 where org_id = $1 and platform_id = $2 and version = $3',
    values: [orgId, platformId, version, at],
  });
}

/** Platforms that some case of the organisation names. */
export async function platformsInUse(tx: Tx, orgId: string): Promise<string[]> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'expectation.platforms',
    text: `select p.id from platform p
            where p.org_id = $1 and exists (select from shop_case c where c.org_id = $1 and c.platform_id = p.id) order by p.id`,
    values: [orgId],
  });
  return rows.map(({ id }) => id);
}
