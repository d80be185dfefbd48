import type { EpisodeGroup, GroupedLine, GroupedQuestion, GroupedReturns } from '#libs/contracts/index.js';
import { type Columns, returnProbability, type SmallCell, smallCellRates } from '#libs/outcomes/index.js';
import type { Actor } from '../access/actor.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions } from './cautions.js';
import { type Cell, type CellFacts, cellsApart, type Key } from './grouped-cells.js';
import { definitionsOf, type FittedViewpoint, MINIMUM_EPISODES, RETURNED, sampleOfColumns } from './return-rates.js';
import { withheldCautions } from './shop-names.js';

const MOST_LINES = 500;
const FEWEST_SHOPS = 3;

/** Answers as `OutcomesService.groupedReturns` does, as of a moment, but not in this thread: a million repairs take seconds, in which nobody else would be heard. */
export type GroupElsewhere = (actor: Actor, question: GroupedQuestion, asOf: Date) => Promise<GroupedReturns>;

export interface GroupedFacts extends CellFacts {
  readonly group: EpisodeGroup;
  readonly withheld: number;
  /** Whether the caller may open the shop. */
  readonly mayOpen: (shopId: string) => boolean;
  readonly view: FittedViewpoint;
}

/**
 * Return rates of every cell of a table, each drawn towards the wider cell without its last dimension, and so on to all repairs together: the
 * more the smaller it is.
 */
export function groupedReturns(facts: GroupedFacts): GroupedReturns {
  const { group, by, view, withheld, mayOpen } = facts;
  const { episodes } = facts.apart;
  const { distanceKm, shopIds } = episodes;
  const horizon = view.horizons[0]!;
  const sample = sampleOfColumns(episodes, view);
  const isReadable = view.clock === 'distance' ? (i: number) => !Number.isNaN(distanceKm[i]!) : () => true;
  const cells = cellsApart(facts, isReadable);
  const owns = cells.map(({ own }) => returnProbability(samplePart(sample, own), RETURNED, horizon));
  const rates = smallCellRates(
    cells.map(({ keys }, i): SmallCell => ({ path: pathOf(keys), n: owns[i]!.effectiveN, events: owns[i]!.effectiveEvents })),
  );
  const isOpen = shopIds.map(mayOpen);
  const countOf = counting(facts, sample);
  const lines = cells.flatMap(({ keys, own }, i): GroupedLine[] => {
    const { vehicles, returns, shops, linked } = countOf(own);
    if (shops.length < FEWEST_SHOPS && !shops.every((place) => isOpen[place]!)) return [];
    const { shown, borrowed } = rates[i]!;
    const filters = keys.map(({ filter }) => filter);
    return [
      {
        keys: keys.map(({ value, label }, k) => ({ dimension: by[k]!, value, label })),
        episodes: own.length,
        vehicles,
        returns,
        shops: shops.length,
        probability: shown.estimate,
        low: shown.low,
        high: shown.high,
        observed: own.length >= MINIMUM_EPISODES && owns[i]!.followed ? owns[i]!.probability : null,
        borrowed: shown.level === 0 ? borrowed : 1,
        shownFrom: shown.level === 0 ? 'own' : 'wider',
        linkedShare: linked / own.length,
        casesBehind: filters.includes(null) ? null : repairsBehind(Object.assign({}, group, ...filters) as EpisodeGroup),
      },
    ];
  });
  lines.sort((a, b) => b.low - a.low || b.episodes - a.episodes);
  const { count } = episodes;
  let counted = 0;
  for (let i = 0; i < count; i++) if (isReadable(i)) counted += 1;
  const linkedShare = count === 0 ? 0 : episodes.linked.reduce((sum, one) => sum + one, 0) / count;
  return {
    group,
    by: [...by],
    clock: view.clock,
    horizon,
    lines: lines.slice(0, MOST_LINES),
    left: Math.max(0, lines.length - MOST_LINES),
    withheld: cells.length - lines.length,
    episodes: count,
    unread: count - counted,
    linkedShare,
    clockFit: view.fit,
    message: counted === 0 ? 'No such repairs are known. Widen the question.' : `${lines.length} cells of ${counted} repairs.`,
    cautions: [
      ...linkageCautions(linkedShare, count),
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

function samplePart({ time, end }: Columns, own: Cell['own']): Columns {
  const part = { time: new Float64Array(own.length), end: new Uint8Array(own.length) };
  for (let k = 0; k < own.length; k++) {
    part.time[k] = time[own[k]!]!;
    part.end[k] = end[own[k]!]!;
  }
  return part;
}

/** Counts of a cell. A vehicle and a shop are marked with the number of the cell that has met them last. */
function counting({ apart: { episodes } }: GroupedFacts, { end }: Columns) {
  const { vehicle, shop, linked } = episodes;
  const vehicleMet = new Int32Array(episodes.vehicles);
  const shopMet = new Int32Array(episodes.shopIds.length);
  let cell = 0;
  return (own: Cell['own']) => {
    cell += 1;
    const counts = { vehicles: 0, returns: 0, linked: 0, shops: [] as number[] };
    for (const i of own) {
      if (vehicleMet[vehicle[i]!] !== cell) {
        vehicleMet[vehicle[i]!] = cell;
        counts.vehicles += 1;
      }
      if (shopMet[shop[i]!] !== cell) {
        shopMet[shop[i]!] = cell;
        counts.shops.push(shop[i]!);
      }
      if (end[i] === RETURNED) counts.returns += 1;
      counts.linked += linked[i]!;
    }
    return counts;
  };
}

/** The cell, the cell without its last dimension, .., all. */
function pathOf(keys: readonly Key[]): string[] {
  const values = keys.map(({ value }) => value);
  return [...values.keys()].map((i) => JSON.stringify(values.slice(0, values.length - i))).concat('all');
}
