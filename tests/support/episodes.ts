import { type CellEpisodes } from '#libs/casebook/outcomes/board.js';
import { cellKey } from '#libs/casebook/outcomes/board-lines.js';
import type { BoardCell } from '#libs/casebook/outcomes/board-roll.queries.js';
import type { EpisodeColumns } from '#libs/casebook/outcomes/episode-records.js';
import { type EpisodeSpan, SPAN } from '#libs/casebook/outcomes/outcomes.queries.js';
import { EPISODE_ENDS } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

export type CellSpan = EpisodeSpan & BoardCell;

/** Every episode with a platform, row by row from the columns themselves: the other way than by their packed records. */
export async function cellSpans(tx: Tx, orgId: string): Promise<CellSpan[]> {
  const { rows } = await tx.query<CellSpan>({
    name: 'test.cell-spans',
    text: `select ${SPAN}, e.platform_id as "platformId", e.fault, e.intent from episode e where e.org_id = $1 and e.platform_id is not null`,
    values: [orgId],
  });
  return rows;
}

/** What returns are told apart by here, as the database says it of each episode. */
const TOLD = {
  platform: 'e.platform_id::text',
  family: 'p.family',
  fault: 'e.fault',
  action: 'e.action',
  intent: 'e.intent',
  shop: 'e.shop_id::text',
  year: `to_char(e.started_on, 'YYYY')`,
  month: `to_char(e.started_on, 'YYYY-MM')`,
  modelYear: 'v.model_year::text',
  plant: 'v.plant',
} as const;
export type Told = keyof typeof TOLD;
export type ToldSpan = EpisodeSpan & { readonly told: (string | null)[] };

/** Every episode of a fault (null: of all) with what it is told apart by, row by row. */
export async function toldSpans(tx: Tx, orgId: string, by: readonly Told[], fault: string | null): Promise<ToldSpan[]> {
  const { rows } = await tx.query<ToldSpan>({
    name: `test.told-spans.${by.join('.')}`,
    text: `select ${SPAN}, array[${by.map((one) => TOLD[one]).join(', ')}] as told
             from episode e left join platform p on p.org_id = e.org_id and p.id = e.platform_id
                            left join vehicle v on v.org_id = e.org_id and v.id = e.vehicle_id
            where e.org_id = $1 and ($2::text is null or e.fault = $2)`,
    values: [orgId, fault],
  });
  return rows;
}

/** Episodes cell by cell, in columns. */
export function cellsOf(spans: readonly CellSpan[]): CellEpisodes[] {
  const cells = new Map<string, CellSpan[]>();
  for (const span of spans) {
    const key = cellKey(span);
    const own = cells.get(key);
    if (own) own.push(span);
    else cells.set(key, [span]);
  }
  return [...cells.values()].map((own) => ({ cell: own[0]!, episodes: columnsOf(own) }));
}

function columnsOf(spans: readonly EpisodeSpan[]): EpisodeColumns {
  const shopIds = [...new Set(spans.flatMap(({ shopId, homeShopId }) => [shopId, homeShopId]))];
  const vehicles = [...new Set(spans.map(({ vehicleId }) => vehicleId))];
  return {
    count: spans.length,
    started: Int32Array.from(spans, ({ started }) => started),
    ended: Int32Array.from(spans, ({ ended }) => ended),
    end: Uint8Array.from(spans, ({ end }) => EPISODE_ENDS.indexOf(end)),
    linked: Uint8Array.from(spans, ({ linkedBy }) => (linkedBy === 'none' ? 0 : 1)),
    elsewhere: new Uint8Array(spans.length),
    distanceKm: Float64Array.from(spans, ({ distanceKm }) => distanceKm ?? Number.NaN),
    shop: Int32Array.from(spans, ({ shopId }) => shopIds.indexOf(shopId)),
    home: Int32Array.from(spans, ({ homeShopId }) => shopIds.indexOf(homeShopId)),
    shopIds,
    vehicle: Int32Array.from(spans, ({ vehicleId }) => vehicles.indexOf(vehicleId)),
    vehicles: vehicles.length,
    draw: new Int32Array(spans.length),
  };
}
