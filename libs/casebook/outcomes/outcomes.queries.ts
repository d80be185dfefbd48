import type { Episode, EpisodeEnd, EpisodeGroup, FaultCode, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

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

export interface BoardSpan extends EpisodeSpan {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly intent: RepairIntent;
}

/** Columns of an episode `e` as a span. */
export const SPAN = `(e.started_on - date '${DAY_ZERO}')::int as started, (e.ended_on - date '${DAY_ZERO}')::int as ended, e.end_kind as "end",
  e.shop_id as "shopId", coalesce(e.home_shop_id, e.shop_id) as "homeShopId", e.vehicle_id as "vehicleId", e.linked_by as "linkedBy",
  e.distance_km as "distanceKm"`;

interface Where {
  readonly text: string;
  readonly join: string;
  readonly name: string;
  readonly values: unknown[];
}

/** The conditions of a group, with its shape as a name so that each shape is planned once. */
function whereGroup(orgId: string, group: EpisodeGroup): Where {
  const values: unknown[] = [orgId];
  const where = ['e.org_id = $1'];
  const used: string[] = [];
  const add = (name: string, value: unknown, condition: (parameter: string) => string) => {
    if (value === undefined) return;
    values.push(value);
    where.push(condition(`$${values.length}`));
    used.push(name);
  };
  add('platform', group.platformId, (p) => `e.platform_id = ${p}::uuid`);
  add('family', group.family, (p) => `pl.family = ${p}`);
  add('fault', group.fault, (p) => `e.fault = ${p}`);
  add('action', group.action, (p) => `e.action = ${p}`);
  add('intent', group.intent, (p) => `e.intent = ${p}`);
  add('shop', group.shopId, (p) => `e.shop_id = ${p}::uuid`);
  add('since', group.since, (p) => `e.started_on >= ${p}::date`);
  add('until', group.until, (p) => `e.started_on < ${p}::date`);
  const join = group.family === undefined ? '' : 'join platform pl on pl.org_id = e.org_id and pl.id = e.platform_id';
  return { text: where.join(' and '), join, name: used.join('.'), values };
}

export async function spansOf(tx: Tx, orgId: string, group: EpisodeGroup): Promise<EpisodeSpan[]> {
  const where = whereGroup(orgId, group);
  const { rows } = await tx.query<EpisodeSpan>({
    name: `outcomes.spans.${where.name}`,
    text: `select ${SPAN} from episode e ${where.join} where ${where.text}`,
    values: where.values,
  });
  return rows;
}

/** Episodes of whole cells of the board: of some platforms, of a period. */
export async function boardSpans(
  tx: Tx,
  orgId: string,
  {
    platformIds,
    since,
    until,
  }: { readonly platformIds: readonly string[]; readonly since?: string | undefined; readonly until?: string | undefined },
): Promise<BoardSpan[]> {
  const { rows } = await tx.query<BoardSpan>({
    name: 'outcomes.board',
    text: `select ${SPAN}, e.platform_id as "platformId", e.fault, e.intent
             from episode e
            where e.org_id = $1 and e.platform_id = any($2::uuid[]) and ($3::date is null or e.started_on >= $3) and ($4::date is null or e.started_on < $4)`,
    values: [orgId, platformIds, since ?? null, until ?? null],
  });
  return rows;
}

/** An episode without the clocks, with the shop whose heat they run by. */
export interface ListedEpisode extends Omit<Episode, 'days' | 'degreeDays'> {
  readonly homeShopId: string;
}

/** Episodes of a group, newest repair first, without the clocks. */
export async function listEpisodes(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  group: EpisodeGroup,
  after: readonly string[] | null,
  limit: number,
): Promise<ListedEpisode[]> {
  const where = whereGroup(orgId, group);
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
                  e.ended_on::text as "endedOn", e.end_case_id as "endCaseId", e.end_shop_id as "endShopId", e.distance_km as "odometerKm"
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
                  e.ended_on::text as "endedOn", e.end_case_id as "endCaseId", e.end_shop_id as "endShopId", e.distance_km as "odometerKm"
             from episode e where e.org_id = $1 and e.vehicle_id = $2 order by e.started_on, e.id`,
    values: [orgId, vehicleId],
  });
  return rows;
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
