import type { ClockFit } from '#libs/contracts/index.js';
import { fitHeatClock } from '#libs/outcomes/index.js';
import { type Clocks, COLD_DAY_SHARE, dayNumber } from './clocks.js';
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
  const chosen = thinned(spans.filter(({ started }) => started <= today && started >= clocks.firstDay));
  const homes = [...new Set(chosen.map(({ homeShopId }) => homeShopId))];
  const place = new Map(homes.map((shopId, i) => [shopId, i]));
  const tables = homes.map((shopId) => clocks.tableOf(shopId));
  const fit = fitHeatClock(
    {
      start: Int32Array.from(chosen, ({ started }) => started),
      days: Int32Array.from(chosen, (span) => Math.max(0, lastWatched(span, today, clocks.rules) - span.started)),
      returned: Uint8Array.from(chosen, ({ end }) => (isReturn(end) ? 1 : 0)),
      climate: Int32Array.from(chosen, ({ homeShopId }) => place.get(homeShopId)!),
    },
    tables,
    clocks.firstDay,
    { sample: SAMPLE },
  );
  const byHeat = fit.verdict === 'heat' || fit.verdict === 'both';
  const mean =
    chosen.reduce((sum, span) => sum + yearOfHeat(tables[place.get(span.homeShopId)!]!) / YEAR_DAYS, 0) / Math.max(1, chosen.length);
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
function thinned(spans: readonly EpisodeSpan[]): readonly EpisodeSpan[] {
  if (spans.length <= MOST_REPAIRS) return spans;
  const share = MOST_REPAIRS / spans.length;
  return spans.filter(({ vehicleId }) => vehicleId !== null && Number.parseInt(vehicleId.slice(-6), 16) / 0x1000000 < share);
}
