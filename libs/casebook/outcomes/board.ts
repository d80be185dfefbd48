import type { RecurrenceBoard, RecurrenceLine } from '#libs/contracts/index.js';
import { returnProbability, type SmallCell, smallCellRates } from '#libs/outcomes/index.js';
import { linkedShareOf } from './cautions.js';
import { dayNumber } from './clocks.js';
import type { BoardPlatform, BoardSpan } from './outcomes.queries.js';
import { definitionsOf, isReturn, RETURNED, sampleOf, type Viewpoint } from './return-rates.js';

const RECENT_DAYS = 30;
/** What stands at each place of a cell's path. */
const SHOWN_FROM = ['own', 'family', 'fault', 'repair'] as const;

/**
 * The region board: one line a platform, fault and intent. A cell's own Aalen–Johansen estimate p with variance v weighs as
 * n = p(1 − p)/v effective repairs of which n·p returned; these are shrunk along platform → family → fault → repair.
 * Ordered by the lower end of the interval, so that a small cell is not on top by luck.
 */
export function recurrenceBoard(
  spans: readonly BoardSpan[],
  platforms: readonly BoardPlatform[],
  view: Viewpoint,
  minimum: number,
): RecurrenceBoard {
  const horizon = view.horizons[0]!;
  const byId = new Map(platforms.map((platform) => [platform.id, platform]));
  const cells = new Map<string, BoardSpan[]>();
  for (const span of spans) {
    const key = `${span.platformId}|${span.fault}|${span.intent}`;
    const cell = cells.get(key);
    if (cell) cell.push(span);
    else cells.set(key, [span]);
  }
  const today = dayNumber(view.asOf.toISOString().slice(0, 10));
  const measured = [...cells.values()].map((cell) => ({ cell, ...effective(cell, view, horizon) }));
  const rates = smallCellRates(
    measured.map(({ cell, n, events }): SmallCell => {
      const { platformId, fault, intent } = cell[0]!;
      const family = byId.get(platformId)?.family ?? platformId;
      return { path: [`${platformId}|${fault}|${intent}`, `${family}|${fault}|${intent}`, `${fault}|${intent}`, intent], n, events };
    }),
  );
  const lines = measured.map(({ cell, own }, i): RecurrenceLine => {
    const { platformId, fault, intent } = cell[0]!;
    const platform = byId.get(platformId)!;
    const rate = rates[i]!;
    // Under five repairs the cell itself says nothing: its parent is shown instead, and named.
    const { shown } = rate;
    return {
      platformId,
      platformCode: platform.code,
      platformName: platform.name,
      family: platform.family,
      fault,
      intent,
      episodes: cell.length,
      returns: cell.filter((span) => isReturn(span.end)).length,
      shops: new Set(cell.map((span) => span.shopId)).size,
      probability: shown.estimate,
      low: shown.low,
      high: shown.high,
      observed: shown.level === 0 ? own : null,
      borrowed: rate.borrowed,
      shownFrom: SHOWN_FROM[shown.level]!,
      newThisMonth: cell.filter((span) => isReturn(span.end) && span.ended > today - RECENT_DAYS && span.ended <= today).length,
    };
  });
  return {
    clock: view.clock,
    horizon,
    lines: lines.filter((line) => line.episodes >= minimum).sort((a, b) => b.low - a.low || b.episodes - a.episodes),
    episodes: spans.length,
    linkedShare: linkedShareOf(spans),
    asOf: view.asOf.toISOString().slice(0, 10),
    cautions:
      spans.length === 0
        ? ['No repairs are known yet. The board fills as cases with repairs come in.']
        : [`Cells under ${minimum} repairs are not listed; every figure borrows from its family and fault as shown.`],
    definitions: [
      ...definitionsOf(view.clock),
      'Shrinkage: each cell is drawn towards its family, its fault and its kind of repair, the more the smaller it is; the interval carries the uncertainty of that.',
    ],
  };
}

/** Effective repairs and returns of a cell by the horizon, and its own estimate. */
function effective(cell: readonly BoardSpan[], view: Viewpoint, horizon: number): { n: number; events: number; own: number } {
  const own = returnProbability(sampleOf(cell, view), RETURNED, horizon);
  return { n: own.effectiveN, events: own.effectiveEvents, own: own.probability };
}
