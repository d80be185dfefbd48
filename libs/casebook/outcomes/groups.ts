import type { ClimateKind, EpisodeGroup, Season } from '#libs/contracts/index.js';
import { coolingDegreeDays } from '#libs/outcomes/index.js';
import { DEGREE_DAY_BASE_C } from './clocks.js';
import type { ShopClimate } from './outcomes.queries.js';

/** Degree-days a year above which a climate counts as warm, and as hot. */
const CLIMATE_BOUNDS = [150, 600];
const MONTH_DAYS = 30.44;
const KINDS: readonly ClimateKind[] = ['cool', 'warm', 'hot'];

export function climateKind({ normals }: ShopClimate): ClimateKind {
  const year = normals.reduce((sum, month) => sum + coolingDegreeDays(month, DEGREE_DAY_BASE_C) * MONTH_DAYS, 0);
  return KINDS[CLIMATE_BOUNDS.filter((bound) => year > bound).length]!;
}

/** Season of a month (0: January) where a shop lies: summer is its warmest month and the two around it, on either side of the equator. */
export function seasonOf({ normals }: ShopClimate, month: number): Season {
  const warmest = normals.reduce((best, { meanC }, i) => (meanC > normals[best]!.meanC ? i : best), 0);
  return SEASONS[Math.floor(((month - warmest + 13) % 12) / 3)]!;
}
const SEASONS: readonly Season[] = ['summer', 'autumn', 'winter', 'spring'];

/** Shops and months that a group's climate and season mean; null where the group does not ask. */
export interface GroupPlaces {
  readonly climateShops: readonly string[] | null;
  /** Side by side: a shop, and a month (1: January) that is in the season there. */
  readonly seasonShops: readonly string[] | null;
  readonly seasonMonths: readonly number[] | null;
}

export function groupPlaces({ climate, season }: EpisodeGroup, climates: readonly ShopClimate[]): GroupPlaces {
  const pairs = climates.flatMap((shop) =>
    Array.from({ length: 12 }, (_, month) => ({ id: shop.id, month })).filter(({ month }) => seasonOf(shop, month) === season),
  );
  return {
    climateShops: climate === undefined ? null : climates.filter((shop) => climateKind(shop) === climate).map(({ id }) => id),
    seasonShops: season === undefined ? null : pairs.map(({ id }) => id),
    seasonMonths: season === undefined ? null : pairs.map(({ month }) => month + 1),
  };
}
