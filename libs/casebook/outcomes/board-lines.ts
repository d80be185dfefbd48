import type { BoardQuestion, RecurrenceLine } from '#libs/contracts/index.js';
import { decodeCursor, encodeCursor, filterHash } from '../paging.js';
import { repairsBehind } from './behind.js';
import type { StandingCell } from './board.js';
import type { BoardCell } from './board-roll.queries.js';
import type { BoardPlatform } from './outcomes.queries.js';

export const cellKey = ({ platformId, fault, intent }: BoardCell): string => `${platformId}|${fault}|${intent}`;

export interface ComparedCell {
  readonly cell: StandingCell;
  /** Mean of the other platforms' figures for the same fault and kind of repair, weighted by repairs; null without two of them. */
  readonly elsewhere: number | null;
}

/** Sets each cell beside the same repair on the other platforms. */
export function compared(cells: readonly StandingCell[]): ComparedCell[] {
  const groups = new Map<string, { cells: number; repairs: number; returns: number }>();
  const key = ({ fault, intent }: StandingCell) => `${fault} ${intent}`;
  for (const cell of cells) {
    const group = groups.get(key(cell)) ?? { cells: 0, repairs: 0, returns: 0 };
    group.cells += 1;
    group.repairs += cell.episodes;
    group.returns += cell.episodes * cell.probability;
    groups.set(key(cell), group);
  }
  return cells.map((cell) => {
    const group = groups.get(key(cell))!;
    const repairs = group.repairs - cell.episodes;
    return { cell, elsewhere: group.cells < 3 ? null : (group.returns - cell.episodes * cell.probability) / repairs };
  });
}

/** How far the whole interval lies above the same repair elsewhere; not above zero where it does not. */
const excess = ({ cell, elsewhere }: ComparedCell): number => (elsewhere === null ? 0 : cell.low - elsewhere);

export type LinesQuestion = Omit<BoardQuestion, 'clock' | 'horizon'> & { readonly minimum: number };

export interface BoardLines {
  readonly lines: RecurrenceLine[];
  readonly total: number;
  readonly next: string | null;
}

/**
 * The lines a question asks for, or a page of them. All but the last key fall along the list; a cursor holds the last line's, so that lines whose figures
 * have not changed since are neither told twice nor left out. @throws BadCursor
 */
export function linesOf(cells: readonly StandingCell[], platforms: readonly BoardPlatform[], question: LinesQuestion): BoardLines {
  const { fault, platformId, intent, minimum, only, since, until, first, after } = question;
  const isAsked = ({ cell, elsewhere }: ComparedCell) =>
    (platformId === undefined || cell.platformId === platformId) &&
    (fault === undefined || cell.fault === fault) &&
    (intent === undefined || cell.intent === intent) &&
    (only === undefined || excess({ cell, elsewhere }) > 0);
  const listed = compared(cells.filter(({ episodes }) => episodes >= minimum)).filter(isAsked);
  const place = (one: ComparedCell) => (only === undefined ? one.cell.low : excess(one));
  const keysOf = (one: ComparedCell) => [String(place(one)), String(one.cell.episodes), cellKey(one.cell)] as const;
  const standing = listed
    .map((one) => ({ one, place: place(one), key: cellKey(one.cell) }))
    .sort((a, b) => b.place - a.place || b.one.cell.episodes - a.one.cell.episodes || (a.key < b.key ? -1 : 1));
  const hash = filterHash({ board: true, fault, platformId, intent, minimum, only, since, until });
  const last = decodeCursor(after, hash, 3);
  const from = last === null ? 0 : standing.findIndex((one) => isAfter([one.place, one.one.cell.episodes, one.key], last));
  const page = from < 0 ? [] : standing.slice(from, first === undefined ? undefined : from + first);
  const byId = new Map(platforms.map((platform) => [platform.id, platform]));
  const isMore = page.length > 0 && from + page.length < standing.length;
  return {
    lines: page.map(({ one }) => lineOf(one, byId.get(one.cell.platformId)!, { since, until })),
    total: standing.length,
    next: isMore ? encodeCursor(keysOf(page.at(-1)!.one), hash) : null,
  };
}

function isAfter([place, episodes, key]: readonly [number, number, string], [low, repairs, last]: readonly string[]): boolean {
  if (place !== Number(low)) return place < Number(low);
  if (episodes !== Number(repairs)) return episodes < Number(repairs);
  return key > last!;
}

function lineOf(
  { cell, elsewhere }: ComparedCell,
  platform: BoardPlatform,
  period: { readonly since: string | undefined; readonly until: string | undefined },
): RecurrenceLine {
  return {
    platformId: cell.platformId,
    platformCode: platform.code,
    platformName: platform.name,
    family: platform.family,
    fault: cell.fault,
    intent: cell.intent,
    episodes: cell.episodes,
    returns: cell.returns,
    shops: cell.shops,
    probability: cell.probability,
    low: cell.low,
    high: cell.high,
    observed: cell.shownFrom === 'own' ? cell.own : null,
    borrowed: cell.borrowed,
    shownFrom: cell.shownFrom,
    newThisMonth: cell.recent,
    elsewhere,
    casesBehind: repairsBehind({ platformId: cell.platformId, fault: cell.fault, intent: cell.intent, ...period }),
  };
}
