import type { RecurrenceBoard, RecurrenceLine } from '#libs/contracts/index.js';
import { returnProbability, type SmallCell, smallCellRates } from '#libs/outcomes/index.js';
import { cellKey, type LinesQuestion, linesOf } from './board-lines.js';
import type { BoardCell } from './board-roll.queries.js';
import { COLD_DAY_SHARE, dayNumber } from './clocks.js';
import { type EpisodeColumns, endAt, shopCount } from './episode-records.js';
import type { StandingRules } from './outcome-rules.js';
import type { BoardPlatform } from './outcomes.queries.js';
import { definitionsOf, isReturn, RETURNED, sampleOfColumns, type Viewpoint } from './return-rates.js';

/** Raised whenever what is computed here changes: a folded board of another version is not shown. */
export const BOARD_RULES = 1;
const RECENT_DAYS = 30;
/** What stands at each place of a cell's path. */
const SHOWN_FROM = ['own', 'family', 'fault', 'repair'] as const;

/** What a cell says by itself: its own Aalen–Johansen estimate, and how many fully followed repairs that is worth. */
export interface CellFigures extends BoardCell {
  readonly episodes: number;
  readonly linked: number;
  readonly returns: number;
  readonly shops: number;
  readonly recent: number;
  readonly own: number;
  readonly effectiveN: number;
  readonly effectiveEvents: number;
}

/** A cell with what it borrows from its like. */
export interface StandingCell extends CellFigures {
  readonly probability: number;
  readonly low: number;
  readonly high: number;
  readonly borrowed: number;
  readonly shownFrom: RecurrenceLine['shownFrom'];
}

/** A cell with its episodes. */
export interface CellEpisodes {
  readonly cell: BoardCell;
  readonly episodes: EpisodeColumns;
}

/** Each cell's own figures at the view's first horizon. */
export function cellFigures(cells: readonly CellEpisodes[], view: Viewpoint): CellFigures[] {
  const today = dayNumber(view.asOf.toISOString().slice(0, 10));
  return cells.map(({ cell: { platformId, fault, intent }, episodes }) => {
    // What the clock cannot be read for counts neither way, but is one of the cell.
    const own = returnProbability(sampleOfColumns(episodes, view), RETURNED, view.horizons[0]!);
    let [returns, recent] = [0, 0];
    for (let i = 0; i < episodes.count; i++) {
      if (!isReturn(endAt(episodes.end[i]!))) continue;
      returns++;
      if (episodes.ended[i]! > today - RECENT_DAYS && episodes.ended[i]! <= today) recent++;
    }
    return {
      platformId,
      fault,
      intent,
      episodes: episodes.count,
      linked: episodes.linked.reduce((sum, one) => sum + one, 0),
      returns,
      shops: shopCount(episodes),
      recent,
      own: own.probability,
      effectiveN: own.effectiveN,
      effectiveEvents: own.effectiveEvents,
    };
  });
}

/**
 * A cell's own estimate p with variance v weighs as n = p(1 − p)/v effective repairs of which n·p returned; these are shrunk along platform → family →
 * fault → repair. Cells are taken in the order of their keys, so that equal figures give equal answers to the last digit.
 */
export function standingCells(figures: readonly CellFigures[], platforms: readonly BoardPlatform[]): StandingCell[] {
  const families = new Map(platforms.map(({ id, family }) => [id, family]));
  const keyed = figures.map((cell) => ({ cell, key: cellKey(cell) })).sort((a, b) => (a.key < b.key ? -1 : 1));
  const rates = smallCellRates(
    keyed.map(({ key, cell: { platformId, fault, intent, effectiveN, effectiveEvents } }): SmallCell => {
      const family = families.get(platformId) ?? platformId;
      return { path: [key, `${family}|${fault}|${intent}`, `${fault}|${intent}`, intent], n: effectiveN, events: effectiveEvents };
    }),
  );
  return keyed.map(({ cell }, i) => {
    // Under five repairs the cell itself says nothing: its parent is shown instead, and named.
    const { shown, borrowed } = rates[i]!;
    return { ...cell, probability: shown.estimate, low: shown.low, high: shown.high, borrowed, shownFrom: SHOWN_FROM[shown.level]! };
  });
}

export interface BoardView {
  readonly clock: RecurrenceBoard['clock'];
  readonly horizon: number;
  /** YYYY-MM-DD */
  readonly day: string;
  readonly cautions: readonly string[];
  readonly rules: StandingRules;
}

/** The region board: one line a platform, fault and intent, ordered by the lower end of the interval, so that a small cell is not on top by luck. */
export function recurrenceBoard(
  cells: readonly StandingCell[],
  platforms: readonly BoardPlatform[],
  view: BoardView,
  question: LinesQuestion,
): RecurrenceBoard {
  const { platformId, fault, minimum } = question;
  const counted = cells.filter(
    (cell) => (platformId === undefined || cell.platformId === platformId) && (fault === undefined || cell.fault === fault),
  );
  const episodes = counted.reduce((sum, cell) => sum + cell.episodes, 0);
  const linked = counted.reduce((sum, cell) => sum + cell.linked, 0);
  return {
    clock: view.clock,
    horizon: view.horizon,
    ...linesOf(cells, platforms, question),
    episodes,
    linkedShare: episodes === 0 ? 0 : linked / episodes,
    asOf: view.day,
    cautions:
      episodes === 0
        ? ['No repairs are known yet. The board fills as cases with repairs come in.']
        : [`Cells under ${minimum} repairs are not listed; every figure borrows from its family and fault as shown.`, ...view.cautions],
    definitions: [
      ...definitionsOf(view.clock, { coldDayShare: COLD_DAY_SHARE, rules: view.rules }),
      ...(view.clock === 'degree-days'
        ? [
            'One share of a cold day for all lines, so that they can be compared. A question about some of these repairs runs the share fitted on them, and may differ.',
          ]
        : []),
      'Shrinkage: each cell is drawn towards its family, its fault and its kind of repair over the whole region, the more the smaller it is; the interval carries the uncertainty of that.',
    ],
  };
}
