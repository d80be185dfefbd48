import type { EpisodeGroup, GroupDimension } from '#libs/contracts/index.js';
import { dayOf } from './clocks.js';
import { climateKind, seasonOf } from './groups.js';
import type { ApartEpisodes } from './known-packs.js';
import type { ApartField, ApartKeys, BoardPlatform, ShopClimate } from './outcomes.queries.js';
import type { ShownShop } from './shop-names.js';

/** What tells a cell apart in one dimension. */
export interface Key {
  readonly value: string;
  readonly label: string;
  /** Fields of a group that name the cell; null where it is not known. */
  readonly filter: EpisodeGroup | null;
}

/** Repairs that agree in every dimension. */
export interface Cell {
  readonly keys: readonly Key[];
  /** Values of the keys as one text: no two cells share it. */
  readonly path: string;
  /** Places of its episodes. */
  readonly own: Int32Array;
}

export interface CellFacts {
  readonly by: readonly GroupDimension[];
  readonly apart: ApartEpisodes;
  readonly platforms: readonly BoardPlatform[];
  readonly climates: readonly ShopClimate[];
  readonly shown: ReadonlyMap<string, ShownShop>;
}

const UNKNOWN: Key = { value: '', label: 'not known', filter: null };
const plain = (value: string | null, filter: EpisodeGroup): Key =>
  value === null || value === '' ? UNKNOWN : { value, label: value, filter };

/** More cells and keys than that would be confused with others. */
const MOST_PLACES = 2 ** 26;
const NO_CELL = -1;

/**
 * Episodes cell by cell, in the order of their paths. `isCounted`: those that are asked about. What a lot has in common is looked up once a lot, of the rest a shop or
 * a day once: an episode costs one number a dimension, so that a million take a fraction of a second.
 */
export function cellsApart(facts: CellFacts, isCounted: (i: number) => boolean): Cell[] {
  const { by, apart } = facts;
  const { episodes, lots } = apart;
  const dimensions = by.map((dimension, d) => ({ d, dimension, keys: new Keys() }));
  const ofLot = dimensions.filter(({ dimension }) => LOT_KEYS[dimension] !== undefined);
  const ofEpisode = dimensions
    .filter(({ dimension }) => LOT_KEYS[dimension] === undefined)
    .map((one) => ({ ...one, placeOf: episodePlaces(one.dimension, one.keys, facts) }));
  const isShown = by.includes('shop') ? episodes.shopIds.map((id) => facts.shown.has(id)) : null;
  const numbers = new Numbers();
  const places: number[][] = [];
  const cellOf = new Int32Array(episodes.count).fill(NO_CELL);
  const sizes: number[] = [];
  let i = 0;
  for (const [l, lot] of lots.entries()) {
    const common = ofLot.map(({ dimension, keys }) => keys.placeOf(LOT_KEYS[dimension]!.of(lot, facts)));
    const start = common.reduce((number, place) => numbers.of(number, place), 0);
    for (const end = i + apart.episodes.ofLots[l]!; i < end; i++) {
      if (!isCounted(i) || (isShown && !isShown[episodes.shop[i]!]!)) continue;
      let number = start;
      for (const { placeOf } of ofEpisode) number = numbers.of(number, placeOf(i));
      cellOf[i] = number;
      if (sizes[number] === undefined) {
        sizes[number] = 0;
        const own: number[] = [];
        for (const [k, { d }] of ofLot.entries()) own[d] = common[k]!;
        for (const { d, placeOf } of ofEpisode) own[d] = placeOf(i);
        places[number] = own;
      }
      sizes[number]! += 1;
    }
  }
  const cells: (Cell & { filled: number })[] = [];
  const byNumber: (Cell & { filled: number })[] = [];
  for (const [number, own] of places.entries()) {
    if (own === undefined) continue;
    const keys = own.map((place, d) => dimensions[d]!.keys.at(place));
    byNumber[number] = { keys, path: JSON.stringify(keys.map(({ value }) => value)), own: new Int32Array(sizes[number]!), filled: 0 };
    cells.push(byNumber[number]!);
  }
  for (const [at, number] of cellOf.entries()) {
    if (number === NO_CELL) continue;
    const cell = byNumber[number]!;
    cell.own[cell.filled++] = at;
  }
  return cells.sort((a, b) => (a.path < b.path ? -1 : 1));
}

/** Numbers pairs of a number and a place in the order in which they come; 0 is where all begin. */
class Numbers {
  private readonly known = new Map<number, number>();

  of(number: number, place: number): number {
    const pair = number * MOST_PLACES + place;
    let next = this.known.get(pair);
    if (next === undefined) {
      next = this.known.size + 1;
      if (next >= MOST_PLACES) throw new Error(`${next} cells`);
      this.known.set(pair, next);
    }
    return next;
  }
}

/** The keys of a dimension, each once. */
class Keys {
  private readonly keys: Key[] = [];
  private readonly places = new Map<string, number>();

  placeOf(key: Key): number {
    const known = this.places.get(key.value);
    if (known !== undefined) return known;
    this.places.set(key.value, this.keys.length);
    return this.keys.push(key) - 1;
  }

  at(place: number): Key {
    return this.keys[place]!;
  }
}

/** Dimensions in which all repairs of a lot agree, by the field that says how. */
const LOT_KEYS: Partial<Record<GroupDimension, { readonly field: ApartField; readonly of: (lot: ApartKeys, facts: CellFacts) => Key }>> = {
  platform: {
    field: 'platformId',
    of: ({ platformId }, { platforms }) => {
      const platform = platforms.find(({ id }) => id === platformId);
      return platform ? { value: platform.id, label: platform.name, filter: { platformId: platform.id } } : UNKNOWN;
    },
  },
  family: {
    field: 'platformId',
    of: ({ platformId }, { platforms }) => {
      const family = platforms.find(({ id }) => id === platformId)?.family ?? null;
      return plain(family, { family: family ?? undefined });
    },
  },
  fault: { field: 'fault', of: ({ fault }) => plain(fault, { fault: fault ?? undefined }) },
  action: { field: 'action', of: ({ action }) => plain(action, { action: action ?? undefined }) },
  intent: { field: 'intent', of: ({ intent }) => plain(intent, { intent: intent ?? undefined }) },
  partNumber: { field: 'part', of: ({ part }) => plain(part, { partNumber: part ?? undefined }) },
  partBrand: { field: 'part', of: ({ part }) => plain(part, { partBrand: part ?? undefined }) },
  partLot: { field: 'part', of: ({ part }) => plain(part, { partLot: part ?? undefined }) },
  modelYear: {
    field: 'modelYear',
    of: ({ modelYear }) => (modelYear === null ? UNKNOWN : plain(String(modelYear), { modelYearFrom: modelYear, modelYearTo: modelYear })),
  },
  plant: { field: 'plant', of: ({ plant }) => plain(plant, { plant: plant ?? undefined }) },
};

/** What a table asks of the lots. */
export const apartFields = (by: readonly GroupDimension[]): ApartField[] => [...new Set(by.flatMap((one) => LOT_KEYS[one]?.field ?? []))];

/** The place of an episode's key, for the dimensions that its shops and days tell. */
function episodePlaces(dimension: GroupDimension, keys: Keys, { apart: { episodes }, climates, shown }: CellFacts): (i: number) => number {
  const { started, shop, home, shopIds } = episodes;
  const climateOf = new Map(climates.map((one) => [one.id, one]));
  const once = (of: (place: number) => Key) => {
    const known: number[] = [];
    return (place: number): number => {
      known[place] ??= keys.placeOf(of(place));
      return known[place]!;
    };
  };
  switch (dimension) {
    case 'shop': {
      const of = once((place) => {
        const { shopId, shopName } = shown.get(shopIds[place]!)!;
        return shopId === null
          ? { value: '', label: 'other shops', filter: null }
          : { value: shopId, label: shopName!, filter: { shopId } };
      });
      return (i) => of(shop[i]!);
    }
    case 'climate': {
      const of = once((place) => {
        const climate = climateKind(climateOf.get(shopIds[place]!)!);
        return plain(climate, { climate });
      });
      return (i) => of(home[i]!);
    }
    case 'season': {
      const month = onceADay((day) => Number(dayOf(day).slice(5, 7)) - 1);
      const of = once((place) => {
        const season = seasonOf(climateOf.get(shopIds[Math.floor(place / 12)]!)!, place % 12);
        return plain(season, { season });
      });
      return (i) => of(home[i]! * 12 + month(started[i]!));
    }
    case 'year': {
      const of = onceADay((day) => {
        const year = dayOf(day).slice(0, 4);
        return keys.placeOf(plain(year, { since: `${year}-01-01`, until: `${Number(year) + 1}-01-01` }));
      });
      return (i) => of(started[i]!);
    }
    case 'month': {
      const of = onceADay((day) => {
        const month = dayOf(day).slice(0, 7);
        const [year, number] = month.split('-').map(Number) as [number, number];
        const until = number === 12 ? `${year + 1}-01-01` : `${year}-${String(number + 1).padStart(2, '0')}-01`;
        return keys.placeOf(plain(month, { since: `${month}-01`, until }));
      });
      return (i) => of(started[i]!);
    }
    default:
      throw new Error(`${dimension} is told by the lot`);
  }
}

function onceADay(of: (day: number) => number): (day: number) => number {
  const known = new Map<number, number>();
  return (day) => {
    let value = known.get(day);
    if (value === undefined) {
      value = of(day);
      known.set(day, value);
    }
    return value;
  };
}
