import type { Clock, ClockFit, EpisodeEnd, EpisodeGroup, ReturnAnswer } from '#libs/contracts/index.js';
import { EPISODE_ENDS } from '#libs/contracts/index.js';
import {
  aalenJohansen,
  type Columns,
  causeOnly,
  type IncidenceCurve,
  kaplanMeier,
  linkageWeighted,
  numbersAtRisk,
  returnProbability,
  stepAt,
} from '#libs/outcomes/index.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions, linkedShareOf } from './cautions.js';
import { type Clocks, DEGREE_DAY_BASE_C, dayNumber } from './clocks.js';
import { rulesInWords, type StandingRules } from './outcome-rules.js';
import { type EpisodeSpan, spanKey } from './outcomes.queries.js';

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
    end[i] = !isReadable(span, view.clock)
      ? CENSORED
      : RETURNS.has(span.end)
        ? RETURNED
        : span.end === 'permanent-later'
          ? MADE_PERMANENT
          : CENSORED;
    // A return the same day is a return at the end of that day, not at time zero.
    time[i] = Math.max(elapsedOf(span, view, today), LEAST[view.clock] ?? view.clocks.coldDayShare / 2);
  }
  return { time, end };
}

/** Least reading of a clock; on the heat clock half of a cold day. */
const LEAST: Readonly<Partial<Record<Clock, number>>> = { 'calendar-days': 0.5, distance: 0.5 };

function elapsedOf(span: EpisodeSpan, view: Viewpoint, today: number): number {
  if (view.clock === 'distance') return span.distanceKm ?? 0;
  const last = lastWatched(span, today, view.clocks.rules);
  return view.clock === 'calendar-days' ? last - span.started : view.clocks.degreeDays(span.homeShopId, span.started, last);
}

/** Repairs that the clock can be read for. */
export function readable<T extends EpisodeSpan>(spans: readonly T[], clock: Clock): readonly T[] {
  return clock === 'distance' ? spans.filter((span) => isReadable(span, clock)) : spans;
}
const isReadable = ({ distanceKm }: EpisodeSpan, clock: Clock) => clock !== 'distance' || distanceKm !== null;

/** The day on which a repair ended, or up to which its vehicle counts as still around, and the repair as followed. */
export function lastWatched({ started, end, ended }: EpisodeSpan, today: number, { presenceDays, lookBackDays }: StandingRules): number {
  if (end !== 'running') return ended;
  const until = Math.max(ended, Math.min(today, ended + presenceDays));
  return lookBackDays === null ? until : Math.max(ended, Math.min(until, started + lookBackDays));
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
        ? 'Distance: kilometres from the day of the repair, straight between the odometer readings of all visits; a vehicle is followed to its last reading. Repairs without readings around them are left out and counted.'
        : 'Calendar days from the day of the repair.',
  ];
}

/** Repairs of a group, and which of their returns were seen at another shop (`spanKey`). */
export interface AskedSpans {
  readonly spans: readonly EpisodeSpan[];
  readonly elsewhere: ReadonlySet<string>;
}

/**
 * The same horizons for the repairs that can be followed alone, with each return seen at another shop standing for those there that were not linked. Of
 * returns elsewhere as large a share is taken to be linked as of these repairs: a car is recognised where both visits name it.
 */
function linkageWeightedAt(
  { spans, elsewhere }: AskedSpans,
  view: FittedViewpoint,
  horizons: ReturnAnswer['horizons'],
): ReturnAnswer['linkageWeighted'] {
  const followed = spans.filter(({ linkedBy }) => linkedBy !== 'none');
  const share = linkedShareOf(spans);
  const sample = sampleOf(followed, view);
  const away = Uint8Array.from(followed, (span) => (elsewhere.has(spanKey(span)) ? 1 : 0));
  return horizons.map(({ at, probability }) => {
    if (followed.length < MINIMUM_EPISODES) return { at, observed: probability, weighted: null };
    const { corrected, reliable } = linkageWeighted(sample, away, share, RETURNED, at);
    return { at, observed: probability, weighted: reliable ? corrected : null };
  });
}

/** The answer to "how often did these come back?". */
export function returnAnswer(group: EpisodeGroup, asked: AskedSpans, view: FittedViewpoint): ReturnAnswer {
  const all = asked.spans;
  const spans = readable(all, view.clock);
  const counts = EPISODE_ENDS.map((end) => ({ end, count: spans.filter((span) => span.end === end).length }));
  const returns = counts.filter(({ end }) => isReturn(end)).reduce((sum, { count }) => sum + count, 0);
  const base = {
    group,
    clock: view.clock,
    episodes: spans.length,
    vehicles: new Set(spans.map((span) => span.vehicleId)).size,
    shops: new Set(spans.map((span) => span.shopId)).size,
    returns,
    unread: all.length - spans.length,
    ends: counts.filter(({ count }) => count > 0),
    linkedShare: linkedShareOf(spans),
    clockFit: view.fit,
    casesBehind: repairsBehind(group),
    definitions: definitionsOf(view.clock, view.clocks),
  };
  const cautions = [...linkageCautions(base.linkedShare, spans.length), ...clockCautions(view.fit, view.clock)];
  if (spans.length < MINIMUM_EPISODES) {
    return {
      ...base,
      verdict: 'not-enough',
      message: `${spans.length === 0 ? 'No' : `Only ${spans.length}`} such repairs are known; at least ${MINIMUM_EPISODES} are needed for a figure. Widen the question: the family, the fault alone, or a longer time.`,
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
  const sample = sampleOf(spans, view);
  const incidence = aalenJohansen(sample, RETURNED);
  const survival = kaplanMeier(causeOnly(sample, RETURNED));
  const longest = sample.time.reduce((most, time) => Math.max(most, time), 0);
  const within = view.horizons.filter((at) => at <= longest);
  if (within.length < view.horizons.length) {
    cautions.push(`Nothing was followed beyond ${Math.round(longest)} on this clock; horizons beyond it are left out.`);
  }
  const horizons = within.map((at) => {
    const { probability, lower, upper, atRisk } = returnProbability(sample, RETURNED, at);
    return { at, probability, low: lower, high: upper, atRisk };
  });
  const naive = within.map((at) => {
    const step = stepAt(survival.times, at);
    const atRisk = numbersAtRisk(sample, [at])[0]!;
    return step < 0
      ? { at, probability: 0, low: 0, high: 0, atRisk }
      : { at, probability: 1 - survival.survival[step]!, low: 1 - survival.upper[step]!, high: 1 - survival.lower[step]!, atRisk };
  });
  const until = Math.min(longest, view.horizons.at(-1)! * 1.2);
  const headline = horizons.at(-1);
  const unit = UNITS[view.clock];
  return {
    ...base,
    verdict: 'estimated',
    message: headline
      ? `${percent(headline.probability)} came back within ${Math.round(headline.at)} ${unit} (95 % interval ${percent(headline.low)} to ${percent(headline.high)}; ${spans.length} repairs, ${returns} returns).`
      : `${spans.length} repairs with ${returns} returns; none was followed as far as the horizons asked for.`,
    horizons,
    curve: curveOf(incidence, sample, until),
    kaplanMeierNaive: naive.map((point) => ({ ...point, low: finiteOr(point.low, 0), high: finiteOr(point.high, 1) })),
    linkageWeighted: linkageWeightedAt({ spans, elsewhere: asked.elsewhere }, view, horizons),
    ...medianOf(incidence),
    cautions,
  };
}

/** The incidence on an even grid, with the numbers at risk there. */
function curveOf(incidence: IncidenceCurve, sample: Columns, until: number): ReturnAnswer['curve'] {
  const grid = Array.from({ length: CURVE_POINTS + 1 }, (_, i) => (until * i) / CURVE_POINTS);
  const atRisk = numbersAtRisk(sample, grid);
  return grid.map((at, i) => {
    const step = stepAt(incidence.times, at);
    return step < 0
      ? { at, probability: 0, low: 0, high: 0, atRisk: atRisk[i]! }
      : {
          at,
          probability: incidence.incidence[step]!,
          low: finiteOr(incidence.lower[step]!, 0),
          high: finiteOr(incidence.upper[step]!, 1),
          atRisk: atRisk[i]!,
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
