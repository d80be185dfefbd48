import type { Clock, ClockFit, Episode, EpisodeEnd, EpisodeGroup, ReturnAnswer } from '#libs/contracts/index.js';
import { EPISODE_ENDS } from '#libs/contracts/index.js';
import {
  atRiskAt,
  type Columns,
  type IncidenceCurve,
  incidenceCurve,
  linkageWeightedBy,
  probabilityBy,
  type RiskSets,
  regrouped,
  riskSets,
  stepAt,
  survivalAt,
} from '#libs/outcomes/index.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions } from './cautions.js';
import { type Clocks, DEGREE_DAY_BASE_C, dayNumber } from './clocks.js';
import { chosen, type EpisodeColumns, shopCount } from './episode-records.js';
import { rulesInWords, type StandingRules } from './outcome-rules.js';
import type { EpisodeSpan, ListedEpisode } from './outcomes.queries.js';

/** How a figure is looked at: on which clock, at which horizons, as of which day. */
export interface Viewpoint {
  readonly clock: Clock;
  readonly horizons: readonly number[];
  readonly clocks: Clocks;
  readonly asOf: Date;
}

/** The same with what the repairs themselves say about which clock they run by. */
export interface FittedViewpoint extends Viewpoint {
  readonly fit: ClockFit;
}

export const DEFAULT_HORIZONS: Readonly<Record<Clock, readonly number[]>> = {
  'degree-days': [250, 500, 1000],
  'calendar-days': [90, 180, 365],
  distance: [5_000, 10_000, 20_000],
};
export const MINIMUM_EPISODES = 5;
const CURVE_POINTS = 120;
const LEVEL = 0.95;
const UNITS: Readonly<Record<Clock, string>> = { 'degree-days': 'degree-days', 'calendar-days': 'days', distance: 'km' };

const RETURNS: ReadonlySet<EpisodeEnd> = new Set(['same-fault', 'consequent-fault', 'same-complaint', 'repair-caused']);

/** The ends as the estimators number them. */
export const RETURNED = 1;
const MADE_PERMANENT = 2;
export const CENSORED = 0;

/** Times on the chosen clock with how each ended: returned, made permanent (which competes), or censored. */
export function sampleOf(spans: readonly EpisodeSpan[], view: Viewpoint): Columns {
  const today = dayNumber(view.asOf.toISOString().slice(0, 10));
  const time = new Float64Array(spans.length);
  const end = new Uint8Array(spans.length);
  for (const [i, span] of spans.entries()) {
    // What the clock cannot be read for counts neither way.
    end[i] = isReadable(span, view.clock) ? endNumber(span.end) : CENSORED;
    time[i] = Math.max(elapsedOf(span, view, today), leastOf(view));
  }
  return { time, end };
}

const endNumber = (end: EpisodeEnd) => (RETURNS.has(end) ? RETURNED : end === 'permanent-later' ? MADE_PERMANENT : CENSORED);

/** Least reading of a clock, on the heat clock half of a cold day: a return the same day is a return at the end of that day, not at time zero. */
const leastOf = ({ clock, clocks }: Viewpoint) => (clock === 'degree-days' ? clocks.coldDayShare / 2 : 0.5);

function elapsedOf(span: EpisodeSpan, view: Viewpoint, today: number): number {
  const last = lastWatched(span, today, view.clocks.rules);
  if (view.clock === 'distance') return kilometresBy(span, last, view.clocks.rules) ?? 0;
  return view.clock === 'calendar-days' ? last - span.started : view.clocks.degreeDays(span.homeShopId, span.started, last);
}

/** Repairs that the clock can be read for. */
export function readable<T extends EpisodeSpan>(spans: readonly T[], clock: Clock): readonly T[] {
  return clock === 'distance' ? spans.filter((span) => isReadable(span, clock)) : spans;
}
const isReadable = ({ distanceKm }: EpisodeSpan, clock: Clock) => clock !== 'distance' || distanceKm !== null;

/** The day on which a repair ended, or up to which its vehicle counts as still around, and the repair as followed. */
export function lastWatched(
  { started, end, ended }: Pick<EpisodeSpan, 'started' | 'end' | 'ended'>,
  today: number,
  { presenceDays, lookBackDays }: StandingRules,
): number {
  if (end !== 'running') return ended;
  const until = Math.max(ended, Math.min(today, ended + presenceDays));
  return lookBackDays === null ? until : Math.max(ended, Math.min(until, started + lookBackDays));
}

/**
 * Kilometres from the repair to a day: those of an episode that has ended; of one that runs a part, by days, of those to the day up to which it is followed at most.
 */
export function kilometresBy(
  span: Pick<EpisodeSpan, 'started' | 'end' | 'ended' | 'distanceKm'>,
  day: number,
  rules: StandingRules,
): number | null {
  if (span.end !== 'running' || span.distanceKm === null) return span.distanceKm;
  const days = lastWatched(span, Number.POSITIVE_INFINITY, rules) - span.started;
  return days > 0 ? (span.distanceKm * (day - span.started)) / days : span.distanceKm;
}

/** How far an episode has run by every clock, up to the day it ended or its vehicle was last seen. */
export function clocksRun(
  { startedOn, endedOn, end, homeShopId, distanceKm }: Pick<ListedEpisode, 'startedOn' | 'endedOn' | 'end' | 'homeShopId' | 'distanceKm'>,
  clocks: Clocks,
): Pick<Episode, 'days' | 'degreeDays' | 'odometerKm'> {
  const ended = dayNumber(endedOn);
  const km = kilometresBy({ started: dayNumber(startedOn), ended, end, distanceKm }, ended, clocks.rules);
  return { ...clocks.between(homeShopId, startedOn, endedOn), odometerKm: km === null ? null : Math.round(km) };
}

export function isReturn(end: EpisodeEnd): boolean {
  return RETURNS.has(end);
}

export function definitionsOf(clock: Clock, { coldDayShare, rules }: Pick<Clocks, 'coldDayShare' | 'rules'>): string[] {
  const [returns, presence] = rulesInWords(rules) as [string, string];
  return [
    'An episode is one repair on one vehicle for one fault. It ends with the first later visit at which a fault is proved or repaired that makes it a return, at whatever shop.',
    'Returns: the same fault; a fault the catalogue says follows from it; the same complaint with another cause proved; a fault the repair itself can cause. The permanent repair done later, before a return, competes with them.',
    returns,
    'Probabilities are Aalen–Johansen cumulative incidence with 95 % limits on the complementary log-log scale.',
    presence,
    clock === 'degree-days'
      ? `Degree-days: cooling degree-days above ${DEGREE_DAY_BASE_C} °C from the monthly normals of the shop that has seen the vehicle most often, not of the one that repaired it (a shop on a pass repairs cars that heat up elsewhere), plus ${Number(coldDayShare.toPrecision(2))} for each day so that the clock does not stop in winter.`
      : clock === 'distance'
        ? 'Distance: kilometres from the day of the repair, straight between the odometer readings of all visits. After the last one, for as long as the vehicle counts as around, it is taken to run on as fast as since the repair, where it was seen 30 days and more after it, else as between all its readings, else as since its model year, else 12,000 km a year. Repairs of vehicles whose odometer was not read by then are left out and counted.'
        : 'Calendar days from the day of the repair.',
  ];
}

/** Ends of the episodes' own numbering: how each ended, whether the return was seen elsewhere, and whether the vehicle can be followed at all. */
const ENDINGS = { censored: 0, returned: 1, elsewhere: 2, permanent: 3, unlinked: 4 };
/** The same as the estimators number them: all; those that can be followed, for what was not linked. */
const AS_ENDS = [0, RETURNED, RETURNED, MADE_PERMANENT, 0, RETURNED, RETURNED, MADE_PERMANENT];
const AS_FOLLOWED = [0, 1, 2, 3, null, null, null, null];

/** Times on the clock of episodes that it can be read for, ends numbered by `ENDINGS`. */
function endingsOf(episodes: EpisodeColumns, view: Viewpoint): Columns {
  const { time, end } = sampleOfColumns(episodes, view);
  for (let i = 0; i < end.length; i++) {
    const kind = end[i]!;
    const ending =
      kind === MADE_PERMANENT ? ENDINGS.permanent : kind === RETURNED && episodes.elsewhere[i] === 1 ? ENDINGS.elsewhere : kind;
    end[i] = episodes.linked[i] === 1 ? ending : ENDINGS.unlinked + ending;
  }
  return { time, end };
}

/** Episodes that the clock can be read for. */
export function readableColumns(episodes: EpisodeColumns, clock: Clock): EpisodeColumns {
  return clock === 'distance' ? chosen(episodes, (i) => !Number.isNaN(episodes.distanceKm[i]!)) : episodes;
}

/** As `sampleOf`, for episodes in columns. */
export function sampleOfColumns(episodes: EpisodeColumns, view: Viewpoint): Columns {
  const { count, started, ended, distanceKm, home, shopIds } = episodes;
  const today = dayNumber(view.asOf.toISOString().slice(0, 10));
  const least = leastOf(view);
  const time = new Float64Array(count);
  const end = new Uint8Array(count);
  const numbers = EPISODE_ENDS.map(endNumber);
  const heat = view.clock === 'degree-days' ? shopIds.map((shopId) => view.clocks.clockAt(shopId)) : [];
  for (let i = 0; i < count; i++) {
    const kind = episodes.end[i]!;
    end[i] = numbers[kind]!;
    const span = { started: started[i]!, end: EPISODE_ENDS[kind]!, ended: ended[i]!, distanceKm: distanceKm[i]! };
    const last = lastWatched(span, today, view.clocks.rules);
    const reading =
      view.clock === 'distance'
        ? kilometresBy(span, last, view.clocks.rules)!
        : view.clock === 'calendar-days'
          ? last - started[i]!
          : heat[home[i]!]!(started[i]!, last);
    if (Number.isNaN(reading)) end[i] = CENSORED;
    time[i] = Number.isNaN(reading) ? least : Math.max(reading, least);
  }
  return { time, end };
}

/**
 * The same horizons for the repairs that can be followed alone, with each return seen at another shop standing for those there that were not linked. Of
 * returns elsewhere as large a share is taken to be linked as of these repairs: a car is recognised where both visits name it.
 */
function linkageWeightedAt(followed: RiskSets, share: number, horizons: ReturnAnswer['horizons']): ReturnAnswer['linkageWeighted'] {
  return horizons.map(({ at, probability }) => {
    if (followed.n < MINIMUM_EPISODES) return { at, observed: probability, weighted: null };
    const { corrected, reliable } = linkageWeightedBy(followed, share, at);
    return { at, observed: probability, weighted: reliable ? corrected : null };
  });
}

/** The answer to "how often did these come back?". */
export function returnAnswer(group: EpisodeGroup, all: EpisodeColumns, view: FittedViewpoint): ReturnAnswer {
  const episodes = readableColumns(all, view.clock);
  const { count } = episodes;
  const tally = new Int32Array(EPISODE_ENDS.length);
  for (const kind of episodes.end) tally[kind]! += 1;
  const ends = EPISODE_ENDS.map((end, kind) => ({ end, count: tally[kind]! }));
  const returns = ends.filter(({ end }) => isReturn(end)).reduce((sum, one) => sum + one.count, 0);
  const base = {
    group,
    clock: view.clock,
    episodes: count,
    vehicles: episodes.vehicles,
    shops: shopCount(episodes),
    returns,
    unread: all.count - count,
    ends: ends.filter((one) => one.count > 0),
    linkedShare: count === 0 ? 0 : episodes.linked.reduce((sum, one) => sum + one, 0) / count,
    clockFit: view.fit,
    casesBehind: repairsBehind(group),
    definitions: definitionsOf(view.clock, view.clocks),
  };
  const cautions = [...linkageCautions(base.linkedShare, count), ...clockCautions(view.fit, view.clock)];
  if (count < MINIMUM_EPISODES) {
    return {
      ...base,
      verdict: 'not-enough',
      message: `${count === 0 ? 'No' : `Only ${count}`} such repairs are known; at least ${MINIMUM_EPISODES} are needed for a figure. Widen the question: the family, the fault alone, or a longer time.`,
      horizons: [],
      curve: [],
      kaplanMeierNaive: [],
      linkageWeighted: [],
      median: null,
      medianLow: null,
      medianHigh: null,
      cautions,
    };
  }
  // The times are sorted once; every estimate is read from these counts.
  const endings = riskSets(endingsOf(episodes, view), AS_ENDS.length - 1);
  const sets = regrouped(endings, AS_ENDS);
  const incidence = incidenceCurve(sets, RETURNED);
  const longest = sets.times.at(-1)!;
  const within = view.horizons.filter((at) => at <= longest);
  if (within.length < view.horizons.length) {
    cautions.push(`Nothing was followed beyond ${Math.round(longest)} on this clock; horizons beyond it are left out.`);
  }
  const horizons = within.map((at) => {
    const { probability, lower, upper, atRisk } = probabilityBy(sets, incidence, at);
    return { at, probability, low: lower, high: upper, atRisk };
  });
  const naive = survivalAt(sets, within, LEVEL, RETURNED).map((holding, i) => {
    const { at, atRisk } = horizons[i]!;
    return holding === null
      ? { at, probability: 0, low: 0, high: 0, atRisk }
      : { at, probability: 1 - holding.survival, low: 1 - holding.upper, high: 1 - holding.lower, atRisk };
  });
  const until = Math.min(longest, view.horizons.at(-1)! * 1.2);
  const headline = horizons.at(-1);
  const unit = UNITS[view.clock];
  return {
    ...base,
    verdict: 'estimated',
    message: headline
      ? `${percent(headline.probability)} came back within ${Math.round(headline.at)} ${unit} (95 % interval ${percent(headline.low)} to ${percent(headline.high)}; ${count} repairs, ${returns} returns).`
      : `${count} repairs with ${returns} returns; none was followed as far as the horizons asked for.`,
    horizons,
    curve: curveOf(incidence, sets, until),
    kaplanMeierNaive: naive.map((point) => ({ ...point, low: finiteOr(point.low, 0), high: finiteOr(point.high, 1) })),
    linkageWeighted: linkageWeightedAt(regrouped(endings, AS_FOLLOWED), base.linkedShare, horizons),
    ...medianOf(incidence),
    cautions,
  };
}

/** The incidence on an even grid, with the numbers at risk there. */
function curveOf(incidence: IncidenceCurve, sets: RiskSets, until: number): ReturnAnswer['curve'] {
  const grid = Array.from({ length: CURVE_POINTS + 1 }, (_, i) => (until * i) / CURVE_POINTS);
  return grid.map((at) => {
    const step = stepAt(incidence.times, at);
    const atRisk = atRiskAt(sets, at);
    return step < 0
      ? { at, probability: 0, low: 0, high: 0, atRisk }
      : {
          at,
          probability: incidence.incidence[step]!,
          low: finiteOr(incidence.lower[step]!, 0),
          high: finiteOr(incidence.upper[step]!, 1),
          atRisk,
        };
  });
}

/** The time by which half have returned, where half ever do, with the times at which the limits cross. */
function medianOf(incidence: IncidenceCurve): Pick<ReturnAnswer, 'median' | 'medianLow' | 'medianHigh'> {
  const crossing = (values: readonly number[]) => {
    const at = values.findIndex((value) => value >= 0.5);
    return at < 0 ? null : incidence.times[at]!;
  };
  return { median: crossing(incidence.incidence), medianLow: crossing(incidence.upper), medianHigh: crossing(incidence.lower) };
}

const finiteOr = (value: number, instead: number) => (Number.isFinite(value) ? value : instead);

export function percent(share: number): string {
  return `${(share * 100).toFixed(share < 0.1 ? 1 : 0)} %`;
}
