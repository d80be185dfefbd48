import type { EpisodeGroup, GroupDimension, GroupedLine, GroupedReturns } from '#libs/contracts/index.js';
import { returnProbability, type SmallCell, smallCellRates } from '#libs/outcomes/index.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions, linkedShareOf } from './cautions.js';
import { dayOf } from './clocks.js';
import { climateKind, seasonOf } from './groups.js';
import type { BoardPlatform, GroupedSpan, ShopClimate } from './outcomes.queries.js';
import { definitionsOf, type FittedViewpoint, isReturn, MINIMUM_EPISODES, RETURNED, readable, sampleOf } from './return-rates.js';
import { type ShownShop, withheldCautions } from './shop-names.js';

const MOST_LINES = 500;
const FEWEST_SHOPS = 3;

export interface GroupedFacts {
  readonly group: EpisodeGroup;
  readonly by: readonly GroupDimension[];
  readonly spans: readonly GroupedSpan[];
  readonly platforms: readonly BoardPlatform[];
  readonly climates: readonly ShopClimate[];
  readonly shown: ReadonlyMap<string, ShownShop>;
  readonly withheld: number;
  /** Whether the caller may open the shop. */
  readonly mayOpen: (shopId: string) => boolean;
  readonly view: FittedViewpoint;
}

interface Key {
  readonly value: string;
  readonly label: string;
  /** Fields of a group that name the cell; null where it is not known. */
  readonly filter: EpisodeGroup | null;
}
type KeyOf = (span: GroupedSpan) => Key;

/**
 * Return rates of every cell of a table, each drawn towards the wider cell without its last dimension, and so on to all repairs together: the
 * more the smaller it is.
 */
export function groupedReturns(facts: GroupedFacts): GroupedReturns {
  const { group, by, view, withheld, mayOpen } = facts;
  const spans = readable(facts.spans, view.clock);
  const horizon = view.horizons[0]!;
  const keysOf = by.map((dimension) => keyOf(dimension, facts));
  const cells = new Map<string, { readonly keys: readonly Key[]; readonly own: GroupedSpan[] }>();
  for (const span of spans) {
    if (by.includes('shop') && !facts.shown.has(span.shopId)) continue;
    const keys = keysOf.map((of) => of(span));
    const path = JSON.stringify(keys.map(({ value }) => value));
    const cell = cells.get(path);
    if (cell) cell.own.push(span);
    else cells.set(path, { keys, own: [span] });
  }
  const all = [...cells.values()];
  const owns = all.map(({ own }) => returnProbability(sampleOf(own, view), RETURNED, horizon));
  const rates = smallCellRates(
    all.map(({ keys }, i): SmallCell => ({ path: pathOf(keys), n: owns[i]!.effectiveN, events: owns[i]!.effectiveEvents })),
  );
  const isHidden = ({ own }: { readonly own: readonly GroupedSpan[] }) => {
    const shops = new Set(own.map(({ shopId }) => shopId));
    return shops.size < FEWEST_SHOPS && ![...shops].every(mayOpen);
  };
  const lines = all.flatMap((cell, i): GroupedLine[] => {
    if (isHidden(cell)) return [];
    const { keys, own } = cell;
    const { shown, borrowed } = rates[i]!;
    const filters = keys.map(({ filter }) => filter);
    return [
      {
        keys: keys.map(({ value, label }, k) => ({ dimension: by[k]!, value, label })),
        episodes: own.length,
        vehicles: new Set(own.map(({ vehicleId }) => vehicleId)).size,
        returns: own.filter(({ end }) => isReturn(end)).length,
        shops: new Set(own.map(({ shopId }) => shopId)).size,
        probability: shown.estimate,
        low: shown.low,
        high: shown.high,
        observed: own.length >= MINIMUM_EPISODES && owns[i]!.followed ? owns[i]!.probability : null,
        borrowed: shown.level === 0 ? borrowed : 1,
        shownFrom: shown.level === 0 ? 'own' : 'wider',
        linkedShare: linkedShareOf(own),
        casesBehind: filters.includes(null) ? null : repairsBehind(Object.assign({}, group, ...filters) as EpisodeGroup),
      },
    ];
  });
  lines.sort((a, b) => b.low - a.low || b.episodes - a.episodes);
  const linkedShare = linkedShareOf(facts.spans);
  return {
    group,
    by: [...by],
    clock: view.clock,
    horizon,
    lines: lines.slice(0, MOST_LINES),
    left: Math.max(0, lines.length - MOST_LINES),
    withheld: all.length - lines.length,
    episodes: facts.spans.length,
    unread: facts.spans.length - spans.length,
    linkedShare,
    clockFit: view.fit,
    message: spans.length === 0 ? 'No such repairs are known. Widen the question.' : `${lines.length} cells of ${spans.length} repairs.`,
    cautions: [
      ...linkageCautions(linkedShare, facts.spans.length),
      ...clockCautions(view.fit, view.clock),
      ...(by.includes('shop') ? withheldCautions(withheld) : []),
      'Cells differ in more than what they are told apart by: in vehicles, shops and ways of working.',
    ],
    definitions: [
      ...definitionsOf(view.clock, view.clocks),
      'Shrinkage: each cell is drawn towards the cell without its last dimension and so on to all repairs asked about, the more the smaller it is; the interval carries the uncertainty of that. Under 5 repairs the figure is that of the wider cell.',
    ],
  };
}

/** The cell, the cell without its last dimension, .., all. */
function pathOf(keys: readonly Key[]): string[] {
  const values = keys.map(({ value }) => value);
  return [...values.keys()].map((i) => JSON.stringify(values.slice(0, values.length - i))).concat('all');
}

const UNKNOWN: Key = { value: '', label: 'not known', filter: null };

function keyOf(dimension: GroupDimension, { platforms, climates, shown }: GroupedFacts): KeyOf {
  const plain = (value: string | null, filter: EpisodeGroup): Key =>
    value === null || value === '' ? UNKNOWN : { value, label: value, filter };
  switch (dimension) {
    case 'platform': {
      const byId = new Map(platforms.map((platform) => [platform.id, platform]));
      return ({ platformId }) => {
        const platform = platformId === null ? undefined : byId.get(platformId);
        return platform ? { value: platform.id, label: platform.name, filter: { platformId: platform.id } } : UNKNOWN;
      };
    }
    case 'family':
      return ({ family }) => plain(family, { family: family ?? undefined });
    case 'fault':
      return ({ fault }) => plain(fault, { fault });
    case 'action':
      return ({ action }) => plain(action, { action });
    case 'intent':
      return ({ intent }) => plain(intent, { intent });
    case 'shop':
      return ({ shopId }) => {
        const shop = shown.get(shopId)!;
        return shop.shopId === null
          ? { value: '', label: 'other shops', filter: null }
          : { value: shopId, label: shop.shopName!, filter: { shopId } };
      };
    case 'climate': {
      const kinds = new Map(climates.map((shop) => [shop.id, climateKind(shop)]));
      return ({ homeShopId }) => {
        const climate = kinds.get(homeShopId)!;
        return plain(climate, { climate });
      };
    }
    case 'season': {
      const byId = new Map(climates.map((shop) => [shop.id, shop]));
      return ({ homeShopId, started }) => {
        const season = seasonOf(byId.get(homeShopId)!, Number(dayOf(started).slice(5, 7)) - 1);
        return plain(season, { season });
      };
    }
    case 'year':
      return ({ started }) => {
        const year = dayOf(started).slice(0, 4);
        return plain(year, { since: `${year}-01-01`, until: `${Number(year) + 1}-01-01` });
      };
    case 'month':
      return ({ started }) => {
        const month = dayOf(started).slice(0, 7);
        const [year, number] = month.split('-').map(Number) as [number, number];
        const until = number === 12 ? `${year + 1}-01-01` : `${year}-${String(number + 1).padStart(2, '0')}-01`;
        return plain(month, { since: `${month}-01`, until });
      };
    case 'partNumber':
      return ({ part }) => plain(part, { partNumber: part ?? undefined });
    case 'partBrand':
      return ({ part }) => plain(part, { partBrand: part ?? undefined });
    case 'partLot':
      return ({ part }) => plain(part, { partLot: part ?? undefined });
    case 'modelYear':
      return ({ modelYear }) =>
        modelYear === null ? UNKNOWN : plain(String(modelYear), { modelYearFrom: modelYear, modelYearTo: modelYear });
    case 'plant':
      return ({ plant }) => plain(plant, { plant: plant ?? undefined });
  }
}
