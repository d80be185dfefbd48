import type { ClockFit, EpisodeEnd } from '#libs/contracts/index.js';
import { fitHeatClock } from '#libs/outcomes/index.js';
import { type Clocks, COLD_DAY_SHARE, dayNumber } from './clocks.js';
import { type EpisodeColumns, endAt } from './episode-records.js';
import type { StandingRules } from './outcome-rules.js';
import type { EpisodeSpan } from './outcomes.queries.js';
import { isReturn, lastWatched } from './return-rates.js';

/** Returns taken and repairs each is compared with: a fit costs milliseconds then, and loses a thirtieth of what the repairs tell. */
const SAMPLE = { controls: 30, returns: 400 };
/** More repairs than this are thinned by vehicle before they are looked at one by one. */
const MOST_REPAIRS = 20_000;
const YEAR_DAYS = 365;

export interface FittedClock {
  /** The clocks with the fitted share of a cold day, where the repairs tell it. */
  readonly clocks: Clocks;
  readonly fit: ClockFit;
}

/**
 * Which clock the repairs run by. Where heat has a part in it (verdict heat or both) the fitted share of a cold day is used, at most the mean heat of
 * a day where the vehicles live: a scale on which a cold day counts more is no scale of heat. Else the common share stands.
 */
export function fittedClock(spans: readonly EpisodeSpan[], clocks: Clocks, asOf: Date): FittedClock {
  const today = dayNumber(asOf.toISOString().slice(0, 10));
  const places = new Map(inOrder(spans.map(({ homeShopId }) => homeShopId)).map((id, place) => [id, place]));
  const isKept = thinning(spans.length);
  const keys = new Float64Array(spans.length);
  let n = 0;
  for (const { started, ended, end, homeShopId, vehicleId } of spans) {
    if (!isAsked(started, clocks, today)) continue;
    const draw = vehicleId === null ? -1 : Number.parseInt(vehicleId.slice(-6), 16);
    if (isKept(draw))
      keys[n++] = keyOf(started, daysOf(started, end, ended, today, clocks.rules), places.get(homeShopId)!, isReturn(end), places.size);
  }
  return fitted(keys.subarray(0, n), [...places.keys()], clocks);
}

/** The same for several lots of episodes together. */
export function fittedClockOf(lots: readonly EpisodeColumns[], clocks: Clocks, asOf: Date): FittedClock {
  const today = dayNumber(asOf.toISOString().slice(0, 10));
  const shopIds = inOrder(lots.flatMap((lot) => lot.shopIds));
  const total = lots.reduce((sum, { count }) => sum + count, 0);
  const isKept = thinning(total);
  const keys = new Float64Array(total);
  let n = 0;
  for (const { count, started, ended, end, home, draw, shopIds: own } of lots) {
    const places = own.map((shopId) => shopIds.indexOf(shopId));
    for (let i = 0; i < count; i++) {
      if (!isKept(draw[i]!) || !isAsked(started[i]!, clocks, today)) continue;
      const kind = endAt(end[i]!);
      const days = daysOf(started[i]!, kind, ended[i]!, today, clocks.rules);
      keys[n++] = keyOf(started[i]!, days, places[home[i]!]!, isReturn(kind), shopIds.length);
    }
  }
  return fitted(keys.subarray(0, n), shopIds, clocks);
}

/** Shops by their identifiers: what is drawn hangs on their order, and the database gives them in any. */
const inOrder = (shopIds: readonly string[]): string[] => [...new Set(shopIds)].sort();

const isAsked = (started: number, clocks: Clocks, today: number) => started <= today && started >= clocks.firstDay;

const daysOf = (started: number, end: EpisodeEnd, ended: number, today: number, rules: StandingRules) =>
  Math.max(0, lastWatched({ started, end, ended }, today, rules) - started);

/** Days told apart in a key: ninety years. */
const MOST_DAYS = 0x8000;

/**
 * All that the fit is to know of a repair, in one number: which repairs are compared is drawn by their order, and this one hangs on the repairs alone and
 * not on how the database came by them. Exact for up to four million shops.
 */
const keyOf = (start: number, days: number, home: number, isBack: boolean, homes: number) =>
  ((days * MOST_DAYS + start) * homes + home) * 2 + (isBack ? 1 : 0);

function fitted(keys: Float64Array, shopIds: readonly string[], clocks: Clocks): FittedClock {
  keys.sort();
  const count = keys.length;
  const [start, days, climate] = [new Int32Array(count), new Int32Array(count), new Int32Array(count)];
  const returned = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    const repair = Math.floor(keys[i]! / 2);
    returned[i] = keys[i]! - 2 * repair;
    const when = Math.floor(repair / shopIds.length);
    climate[i] = repair - when * shopIds.length;
    days[i] = Math.floor(when / MOST_DAYS);
    start[i] = when - days[i]! * MOST_DAYS;
  }
  const tables = shopIds.map((shopId) => clocks.tableOf(shopId));
  const fit = fitHeatClock({ start, days, returned, climate }, tables, clocks.firstDay, { sample: SAMPLE });
  const byHeat = fit.verdict === 'heat' || fit.verdict === 'both';
  const heat = tables.map((table) => yearOfHeat(table) / YEAR_DAYS);
  const mean = climate.reduce((sum, place) => sum + heat[place]!, 0) / Math.max(1, count);
  const share = byHeat ? Math.min(fit.c, Math.max(mean, COLD_DAY_SHARE)) : COLD_DAY_SHARE;
  const known = fit.verdict !== 'cannot-tell';
  return {
    clocks: clocks.withColdDay(share),
    fit: {
      coldDayShare: share,
      fitted: known ? fit.c : null,
      low: known ? fit.lower : null,
      high: known ? fit.upper : null,
      returns: fit.returns,
      verdict: fit.verdict,
      calendarRefutedP: fit.againstCalendar.pValue,
      heatAloneRefutedP: fit.againstHeatAlone.pValue,
      noticedLate: fit.noticedPerDegreeDay !== null,
      message: WORDS[fit.verdict] + (fit.noticedPerDegreeDay === null ? '' : NOTICED_LATE),
    },
  };
}

const WORDS: Readonly<Record<ClockFit['verdict'], string>> = {
  heat: 'These repairs come back by heat: calendar days alone do not fit.',
  calendar: 'These repairs come back by the calendar: heat alone does not fit. Read them in calendar days.',
  both: 'These repairs come back by heat and by the calendar: neither alone fits.',
  'cannot-tell': 'Too little is known to say whether these repairs come back by heat or by the calendar.',
};
const NOTICED_LATE = ' What fails while nobody cools is noticed when it gets warm; that is allowed for.';

const yearOfHeat = (table: Float64Array) => table[YEAR_DAYS]! - table[0]!;

/** A fixed share of the vehicles, by their identifiers: the same in every question. */
function thinning(count: number): (draw: number) => boolean {
  if (count <= MOST_REPAIRS) return () => true;
  const share = (MOST_REPAIRS / count) * 0x1000000;
  return (draw) => draw >= 0 && draw < share;
}
