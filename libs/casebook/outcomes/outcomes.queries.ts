import { createHash } from 'node:crypto';
import type { Episode, EpisodeEnd, EpisodeGroup, FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { CellEpisodes } from './board.js';
import type { BoardCell } from './board-roll.queries.js';
import { type EpisodeColumns, readRecords } from './episode-records.js';
import type { GroupPlaces } from './groups.js';

/** Day 0 of the day numbers below. */
export const DAY_ZERO = '1970-01-01';

/** One episode as the estimators need it: days as whole numbers since `DAY_ZERO`. */
export interface EpisodeSpan {
  readonly started: number;
  readonly ended: number;
  readonly end: EpisodeEnd;
  readonly shopId: string;
  /** The shop that has seen the vehicle most often: it lives in that climate, wherever it was repaired. */
  readonly homeShopId: string;
  readonly vehicleId: string | null;
  readonly linkedBy: string;
  /** Kilometres run, by interpolation between odometer readings; null where they tell nothing. */
  readonly distanceKm: number | null;
}

/** Columns of an episode `e` as a span. */
export const SPAN = `(e.started_on - date '${DAY_ZERO}')::int as started, (e.ended_on - date '${DAY_ZERO}')::int as ended, e.end_kind as "end",
  e.shop_id as "shopId", coalesce(e.home_shop_id, e.shop_id) as "homeShopId", e.vehicle_id as "vehicleId", e.linked_by as "linkedBy",
  e.distance_km as "distanceKm"`;

/** Records as text of four letters for three bytes: the driver reads all values as text, and a byte in hexadecimal is two letters. */
export const PACKED = `encode(string_agg(e.record, ''::bytea), 'base64')`;

interface Where {
  readonly text: string;
  readonly join: string;
  readonly name: string;
  readonly values: unknown[];
}

const RETURNED = "e.end_kind = any('{same-fault,consequent-fault,same-complaint,repair-caused}')";
const JOINS = {
  platform: 'left join platform pl on pl.org_id = e.org_id and pl.id = e.platform_id',
  vehicle: 'left join vehicle v on v.org_id = e.org_id and v.id = e.vehicle_id',
  repair: 'join repair r on r.org_id = e.org_id and r.id = e.repair_id',
} as const;
type Join = keyof typeof JOINS;

/** The conditions of a group, with its shape as a name so that each shape is planned once. */
function whereGroup(orgId: string, group: EpisodeGroup, places: GroupPlaces, needed: readonly Join[] = []): Where {
  const values: unknown[] = [orgId];
  const where = ['e.org_id = $1'];
  const used: string[] = [];
  const joins = new Set<Join>(needed);
  const add = (name: string, value: unknown, condition: (parameter: string) => string, join?: Join) => {
    if (value === undefined || value === null) return;
    values.push(value);
    where.push(condition(`$${values.length}`));
    used.push(name);
    if (join) joins.add(join);
  };
  const part = (field: string) => (p: string) => `exists (select from jsonb_array_elements(r.parts) as one where one->>'${field}' = ${p})`;
  add('platform', group.platformId, (p) => `e.platform_id = ${p}::uuid`);
  add('family', group.family, (p) => `pl.family = ${p}`, 'platform');
  add('fault', group.fault, (p) => `e.fault = ${p}`);
  add('action', group.action, (p) => `e.action = ${p}`);
  add('intent', group.intent, (p) => `e.intent = ${p}`);
  add('shop', group.shopId, (p) => `e.shop_id = ${p}::uuid`);
  add('since', group.since, (p) => `e.started_on >= ${p}::date`);
  add('until', group.until, (p) => `e.started_on < ${p}::date`);
  add('climate', places.climateShops, (p) => `coalesce(e.home_shop_id, e.shop_id) = any(${p}::uuid[])`);
  if (places.seasonShops !== null) {
    values.push(places.seasonShops, places.seasonMonths);
    const [shops, months] = [`$${values.length - 1}`, `$${values.length}`];
    where.push(
      `(coalesce(e.home_shop_id, e.shop_id), extract(month from e.started_on)::int) in (select * from unnest(${shops}::uuid[], ${months}::int[]))`,
    );
    used.push('season');
  }
  add('number', group.partNumber, part('number'), 'repair');
  add('brand', group.partBrand, part('brand'), 'repair');
  add('lot', group.partLot, part('lot'), 'repair');
  add('from-year', group.modelYearFrom, (p) => `v.model_year >= ${p}`, 'vehicle');
  add('to-year', group.modelYearTo, (p) => `v.model_year <= ${p}`, 'vehicle');
  add('plant', group.plant, (p) => `v.plant = ${p}`, 'vehicle');
  add('from-sequence', group.sequenceFrom, (p) => `v.sequence_bucket >= ${p}`, 'vehicle');
  add('to-sequence', group.sequenceTo, (p) => `v.sequence_bucket <= ${p}`, 'vehicle');
  add('ended-since', group.endedSince, (p) => `e.ended_on >= ${p}::date`);
  add('ended-until', group.endedUntil, (p) => `e.ended_on < ${p}::date`);
  if (group.outcome !== undefined) {
    where.push(group.outcome === 'returned' ? RETURNED : `not (${RETURNED})`);
    used.push(group.outcome);
  }
  const order: readonly Join[] = ['platform', 'vehicle', 'repair'];
  const join = order.filter((one) => joins.has(one));
  return {
    text: where.join(' and '),
    join: join.map((one) => JOINS[one]).join(' '),
    name: shapeName([...used, ...join].join('.')),
    values,
  };
}

/** The server knows a statement by the first 63 letters of its name: two long shapes that begin alike would be one to it. */
function shapeName(shape: string): string {
  return shape.length <= MOST_LETTERS ? shape : createHash('sha256').update(shape).digest('hex').slice(0, MOST_LETTERS);
}
const MOST_LETTERS = 24;

/** Episodes of a group as columns: one value of the database, since fifty thousand rows cost more than all that is made of them. */
export async function episodesOf(
  tx: Tx,
  orgId: string,
  group: EpisodeGroup,
  places: GroupPlaces,
  shopIds: readonly string[],
): Promise<EpisodeColumns> {
  const where = whereGroup(orgId, group, places);
  const { rows } = await tx.query<{ packed: string | null }>({
    name: `outcomes.records.${where.name}`,
    text: `select ${PACKED} as packed from episode e ${where.join} where ${where.text}`,
    values: where.values,
  });
  return readRecords(Buffer.from(rows[0]!.packed ?? '', 'base64'), shopIds);
}

/** Columns of what a lot of repairs can be told apart by. */
const APART = {
  platformId: { column: 'e.platform_id', join: null },
  fault: { column: 'e.fault', join: null },
  intent: { column: 'e.intent', join: null },
  action: { column: 'e.action', join: null },
  modelYear: { column: 'v.model_year', join: 'vehicle' },
  plant: { column: 'v.plant', join: 'vehicle' },
  part: { column: 'q.part', join: 'repair' },
} as const satisfies Record<string, { readonly column: string; readonly join: Join | null }>;
export type ApartField = keyof typeof APART;

/** Whether parts or vehicles must be asked for it, which no pack knows of. */
export const isBeyondEpisode = (field: ApartField): boolean => APART[field].join !== null;

/** What the repairs of a lot have in common; null where nobody asked, and where it is not known. */
export interface ApartKeys {
  readonly platformId: string | null;
  readonly fault: FaultCode | null;
  readonly intent: RepairIntent | null;
  readonly action: RepairAction | null;
  readonly modelYear: number | null;
  readonly plant: string | null;
  readonly part: string | null;
}

/** Records of repairs that agree in the fields asked for; a repair stands under each of its parts where parts are asked for. `part`: which field of parts. */
export async function apartRecords(
  tx: Tx,
  orgId: string,
  group: EpisodeGroup,
  places: GroupPlaces,
  fields: readonly ApartField[],
  part: 'number' | 'brand' | 'lot' | null,
): Promise<(ApartKeys & { readonly records: string })[]> {
  const where = whereGroup(
    orgId,
    group,
    places,
    fields.flatMap((field) => APART[field].join ?? []),
  );
  const parts =
    part === null ? '' : `cross join lateral (select distinct one->>'${part}' as part from jsonb_array_elements(r.parts) as one) as q`;
  const columns = fields.map((field) => `${APART[field].column} as "${field}"`);
  const { rows } = await tx.query<Partial<ApartKeys> & { records: string | null }>({
    name: `outcomes.apart.${shapeName([where.name, part ?? '', ...fields].join('.'))}`,
    text: `select ${[...columns, `${PACKED} as records`].join(', ')}
             from episode e ${where.join} ${parts} where ${where.text}
             ${fields.length === 0 ? '' : `group by ${fields.map((_, i) => i + 1).join(', ')}`}`,
    values: where.values,
  });
  return rows.flatMap(({ records, ...keys }) => (records === null ? [] : [{ ...NO_KEYS, ...keys, records }]));
}
const NO_KEYS: ApartKeys = { platformId: null, fault: null, intent: null, action: null, modelYear: null, plant: null, part: null };

/** Episodes of whole cells of the board: of some platforms, of a period. */
export async function boardEpisodes(
  tx: Tx,
  orgId: string,
  {
    platformIds,
    since,
    until,
  }: { readonly platformIds: readonly string[]; readonly since?: string | undefined; readonly until?: string | undefined },
  shopIds: readonly string[],
): Promise<CellEpisodes[]> {
  const { rows } = await tx.query<BoardCell & { packed: string }>({
    name: 'outcomes.board',
    text: `select e.platform_id as "platformId", e.fault, e.intent, ${PACKED} as packed
             from episode e
            where e.org_id = $1 and e.platform_id = any($2::uuid[]) and ($3::date is null or e.started_on >= $3) and ($4::date is null or e.started_on < $4)
            group by e.platform_id, e.fault, e.intent`,
    values: [orgId, platformIds, since ?? null, until ?? null],
  });
  return rows.map(({ packed, ...cell }) => ({ cell, episodes: readRecords(Buffer.from(packed, 'base64'), shopIds) }));
}

/** An episode without the clocks, with the shop whose heat they run by and the kilometres as they are stored. */
export interface ListedEpisode extends Omit<Episode, 'days' | 'degreeDays' | 'odometerKm'> {
  readonly homeShopId: string;
  readonly distanceKm: number | null;
}

/** Episodes of a group, newest repair first, without the clocks. */
export async function listEpisodes(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  group: EpisodeGroup,
  places: GroupPlaces,
  after: readonly string[] | null,
  limit: number,
): Promise<ListedEpisode[]> {
  const where = whereGroup(orgId, group, places);
  const values = [...where.values];
  const more: string[] = [];
  if (shopIds !== null) {
    values.push(shopIds);
    more.push(`and e.shop_id = any($${values.length}::uuid[])`);
  }
  if (after) {
    values.push(after[0], after[1]);
    more.push(`and (e.started_on, e.id) < ($${values.length - 1}::date, $${values.length}::uuid)`);
  }
  values.push(limit);
  const { rows } = await tx.query<ListedEpisode>({
    name: `outcomes.episodes.${where.name}.${shopIds === null ? '' : 'shops'}.${after ? 'after' : ''}`,
    text: `select e.id, e.repair_id as "repairId", e.case_id as "caseId", e.vehicle_id as "vehicleId", e.platform_id as "platformId",
                  e.shop_id as "shopId", coalesce(e.home_shop_id, e.shop_id) as "homeShopId", e.fault, e.action, e.intent, e.started_on::text as "startedOn", e.end_kind as "end",
                  e.ended_on::text as "endedOn", e.end_case_id as "endCaseId", e.end_shop_id as "endShopId", e.distance_km as "distanceKm"
             from episode e ${where.join} where ${where.text} ${more.join(' ')}
            order by e.started_on desc, e.id desc limit $${values.length}`,
    values,
  });
  return rows;
}

export async function episodesOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<ListedEpisode[]> {
  const { rows } = await tx.query<ListedEpisode>({
    name: 'outcomes.episodes-of-vehicle',
    text: `select e.id, e.repair_id as "repairId", e.case_id as "caseId", e.vehicle_id as "vehicleId", e.platform_id as "platformId",
                  e.shop_id as "shopId", coalesce(e.home_shop_id, e.shop_id) as "homeShopId", e.fault, e.action, e.intent, e.started_on::text as "startedOn", e.end_kind as "end",
                  e.ended_on::text as "endedOn", e.end_case_id as "endCaseId", e.end_shop_id as "endShopId", e.distance_km as "distanceKm"
             from episode e where e.org_id = $1 and e.vehicle_id = $2 order by e.started_on, e.id`,
    values: [orgId, vehicleId],
  });
  return rows;
}

/** Refrigerants of the platforms that a group names, in order; empty where it names none. */
export async function refrigerantsOf(tx: Tx, orgId: string, { platformId, family }: EpisodeGroup): Promise<string[]> {
  if (platformId === undefined && family === undefined) return [];
  const { rows } = await tx.query<{ refrigerant: string }>({
    name: 'outcomes.refrigerants',
    text: `select distinct refrigerant from platform
            where org_id = $1 and ($2::uuid is null or id = $2) and ($3::text is null or family = $3) order by 1`,
    values: [orgId, platformId ?? null, family ?? null],
  });
  return rows.map(({ refrigerant }) => refrigerant);
}

export interface ShopClimate {
  readonly id: string;
  readonly normals: { meanC: number; sdC: number }[];
  /** Years with observed days: the first number of a year is that of 1 January, null where none is known. */
  readonly observed: { year: number; meansC: (number | null)[] }[];
}

export async function shopClimates(tx: Tx, orgId: string): Promise<ShopClimate[]> {
  const { rows } = await tx.query<ShopClimate>({
    name: 'outcomes.climates',
    text: `select s.id, s.normals,
                  coalesce((select json_agg(json_build_object('year', w.year, 'meansC', w.means_c) order by w.year)
                              from shop_weather w where w.org_id = $1 and w.shop_id = s.id), '[]') as observed
             from shop s where s.org_id = $1`,
    values: [orgId],
  });
  return rows;
}

export interface BoardPlatform {
  readonly id: string;
  readonly code: string;
  readonly name: string;
  readonly family: string;
}

export async function boardPlatforms(tx: Tx, orgId: string): Promise<BoardPlatform[]> {
  const { rows } = await tx.query<BoardPlatform>({
    name: 'outcomes.platforms',
    text: 'select id, code, name, family from platform where org_id = $1',
    values: [orgId],
  });
  return rows;
}
