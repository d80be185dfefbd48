import { type CasesBehind, instantText, type WatchBoard, type WatchStream } from '#libs/contracts/index.js';
import { type CusumStep, countCusum, exactPoisson, learnedExpectations, type RecordedDelay } from '#libs/outcomes/index.js';
import { dayInWords } from '../cases/day-in-zone.js';
import { casesBehind, repairsBehind } from './behind.js';
import { linkageCautions, linkedShareOf } from './cautions.js';
import { type Clocks, clocksOf, dayOf } from './clocks.js';
import { rulesInWords, type StandingRules } from './outcome-rules.js';
import type { BoardPlatform, ShopClimate } from './outcomes.queries.js';
import { isReturn } from './return-rates.js';
import type { ReviewedSpan } from './shops-review.queries.js';
import { arrivedShares } from './watch-arrived.js';
import { type Stream, sum, todayOf, WATCHED_WEEKS, type WeekGrid, weekGrid } from './watch-exposure.js';
import { noticedWeather, onsetStreams } from './watch-onsets.js';
import { buildRangeOf, yearsOf } from './watch-ranges.js';
import { returnStreams } from './watch-returns.js';
import { type ChartDesign, designsOf, dispersionOf, FALSE_ALARMS_A_YEAR, LEAST_EXPECTED, RATIO } from './watch-thresholds.js';
import type { Onset } from './watches.queries.js';

/** Raised whenever what is computed here changes: a stored look of another version is not shown. */
export const WATCH_RULES = 3;
const RECENT_WEEKS = 8;
/** A week of which less has been recorded is not judged. */
const LEAST_ARRIVED = 0.5;
/**
 * Of what a watched week tells of the stream's rate, so much is learned: with all of it regions alarmed half as often as stated and saw a doubling later, with
 * none 1.4 times as often (docs/statistics.md).
 */
const LEARNED_SHARE = 0.5;

export interface WatchFacts {
  readonly onsets: readonly Onset[];
  readonly spans: readonly ReviewedSpan[];
  readonly platforms: readonly BoardPlatform[];
  readonly clocks: Clocks;
  /** How late visits are recorded. */
  readonly delays: readonly RecordedDelay[];
  readonly now: Date;
}

/** As read from the database: plain values, which are copied between threads. */
export interface WatchRecords extends Omit<WatchFacts, 'clocks'> {
  readonly climates: readonly ShopClimate[];
  readonly rules: StandingRules;
}

export const watchedRecords = ({ climates, rules, ...facts }: WatchRecords): WatchBoard =>
  watchBoard({ ...facts, clocks: clocksOf(climates, facts.now, rules) });

/** Every stream of the region against what its exposure made to be expected, one stated false-alarm rate for all of them together. */
export function watchBoard(facts: WatchFacts): WatchBoard {
  const { onsets, spans, platforms, clocks, delays, now } = facts;
  const today = todayOf(now);
  const firstDay = onsets.reduce((least, { day }) => Math.min(least, day), today);
  const grid = weekGrid(firstDay, today);
  const linkedShare = linkedShareOf(spans);
  const base = {
    scoredAt: instantText(now),
    falseAlarmsPerYear: FALSE_ALARMS_A_YEAR,
    ratio: RATIO,
    linkedShare,
    isStale: false,
    definitions: definitionsUnder(clocks.rules),
  };
  if (!grid) {
    const message = `A year is watched against at least a year before it; ${onsets.length === 0 ? 'nothing is recorded yet' : `records begin on ${dayInWords(dayOf(firstDay))}`}.`;
    const none = { baselineFrom: null, watchedFrom: null, watchedUntil: null, size: null, arrived: null };
    return { ...base, ...none, verdict: 'not-enough', message, watches: [], streams: 0, alarms: 0, cautions: [] };
  }
  const arrived = arrivedShares(delays, grid);
  const shares = arrived ?? new Float64Array(grid.weeks).fill(1);
  const weather = noticedWeather(onsets, grid, clocks);
  const streams = [
    ...onsetStreams(onsets, grid, clocks, weather, shares),
    ...returnStreams(spans, grid, clocks, today, weather.delayDays, shares),
  ].filter((stream) => sum(stream.expected, grid.baseline, grid.weeks) > 0 || sum(stream.counts, grid.baseline, grid.weeks) > 0);
  const count = streams.length;
  const size = dispersionOf(streams, grid);
  const byId = new Map(platforms.map((platform) => [platform.id, platform]));
  const designOf = designsOf(streams, grid, size);
  const watches = streams.flatMap((stream) => {
    const platform = byId.get(stream.platformId);
    return platform ? [charted(stream, grid, shares, size, designOf, platform, facts)] : [];
  });
  const newest = (watch: WatchStream) => watch.alarms.at(-1)?.week ?? '';
  watches.sort((a, b) => newest(b).localeCompare(newest(a)) || b.statistic / b.threshold - a.statistic / a.threshold);
  const alarms = watches.filter((watch) => watch.alarms.length > 0).length;
  return {
    ...base,
    verdict: 'watched',
    message:
      alarms === 0
        ? `None of ${count} streams rose beyond what its exposure explains in the last year.`
        : `${alarms} of ${count} streams rose beyond what their exposure explains in the last year; about ${FALSE_ALARMS_A_YEAR} would by chance alone.`,
    watches,
    streams: count,
    alarms,
    size: Number.isFinite(size) ? size : null,
    arrived: arrived?.at(-1) ?? null,
    baselineFrom: dayOf(grid.first),
    watchedFrom: dayOf(grid.first + 7 * grid.baseline),
    watchedUntil: dayOf(grid.first + 7 * grid.weeks - 1),
    cautions: [
      ...linkageCautions(linkedShare, spans.length),
      arrived === null
        ? 'Visits that are recorded late are missing from the last weeks: an alarm there may come later than it should.'
        : `Of the visits of the last week ${Math.round(100 * arrived.at(-1)!)} % are taken to be recorded by now; what is expected allows for it.`,
      'An alarm says that something rose, not why: a batch, a part, a way of working, or a change in what is recorded.',
    ],
  };
}

function charted(
  stream: Stream,
  grid: WeekGrid,
  arrived: Float64Array,
  size: number,
  designOf: (mean: number, certainty: number) => ChartDesign,
  platform: BoardPlatform,
  facts: WatchFacts,
): WatchStream {
  const { baseline, weeks: end } = grid;
  const expectedAt = (week: number) => Math.max(stream.expected[week]!, LEAST_EXPECTED);
  const recorded = stream.expected.map((value, week) => value * arrived[week]!);
  const expected = sum(recorded, baseline, end);
  const mean = Math.max(LEAST_EXPECTED, sum(stream.expected, baseline, end) / WATCHED_WEEKS);
  const { threshold, weeksToDoubling } = designOf(mean, stream.certainty);
  const watched = Array.from({ length: WATCHED_WEEKS }, (_, i) => ({
    count: stream.counts[baseline + i]!,
    expected: expectedAt(baseline + i) * arrived[baseline + i]!,
    arrived: arrived[baseline + i]!,
  }));
  const judged = watched.map((week) => ({ ...week, count: week.arrived < LEAST_ARRIVED ? null : week.count }));
  // The rate is known from so many events only: each week is judged by what the weeks before have added to that.
  const learned = learnedExpectations(judged, stream.certainty, size, LEARNED_SHARE);
  const charted = countCusum(
    judged.map(({ count }, i) => (count === null ? { count: 0, expected: 0, arrived: 0 } : { count, ...learned[i]! })),
    { ratio: RATIO, size, threshold, leastArrived: LEAST_ARRIVED },
  );
  // A week of which less than half is recorded is not judged: the chart stands where it stood.
  let standing: CusumStep = { statistic: 0, alarm: false, since: null };
  const steps = charted.map((step) => {
    if (step !== null) standing = step.alarm ? { ...step, alarm: false } : step;
    return step ?? standing;
  });
  const day = (i: number) => dayOf(grid.first + 7 * (baseline + i));
  const weeks = steps.map((step, i) => ({
    week: day(i),
    count: stream.counts[baseline + i]!,
    expected: recorded[baseline + i]!,
    statistic: step.statistic,
  }));
  const alarms = steps.flatMap((step, i) => {
    if (!step.alarm) return [];
    const since = step.since ?? i;
    const observed = sum(stream.counts, baseline + since, baseline + i + 1);
    let foreseen = 0;
    for (let week = since; week <= i; week++) foreseen += expectedAt(baseline + week) * arrived[baseline + week]!;
    const [low, high] = exactPoisson(observed, foreseen);
    return [{ week: day(i), since: day(since), observed, expected: foreseen, ratio: observed / foreseen, low, high, from: since, at: i }];
  });
  const statistic = steps.at(-1)!.alarm ? threshold : steps.at(-1)!.statistic;
  const isRecent = alarms.some(({ at }) => at >= WATCHED_WEEKS - RECENT_WEEKS);
  const state = isRecent ? 'alarm' : statistic > threshold / 2 ? 'rising' : 'quiet';
  const since = alarms[0] === undefined ? null : grid.first + 7 * (baseline + alarms[0].from);
  const events = eventsOf(stream, facts, grid.first + 7 * baseline);
  const isNew = stream.kind === 'new-faults';
  const modelYears = since === null || !isNew ? null : yearsOf(stream, facts.onsets, since);
  const buildRange = since === null || !isNew ? null : buildRangeOf(stream, facts.onsets, since);
  const behindSince = alarms.at(-1)?.since ?? day(0);
  const whole = {
    kind: stream.kind,
    platformId: platform.id,
    platformCode: platform.code,
    platformName: platform.name,
    fault: stream.fault,
    state,
    alarms: alarms.map(({ from: _from, at: _at, ...alarm }) => alarm),
    modelYears,
    buildRange,
    observed: sum(stream.counts, baseline, end),
    expected,
    baselineEvents: sum(stream.counts, 0, baseline),
    borrowed: stream.borrowed,
    shops: new Set(events).size,
    statistic,
    threshold,
    weeksToDoubling,
    weeks,
    casesBehind: streamBehind(stream, behindSince),
  } as const satisfies Omit<WatchStream, 'message'>;
  return { ...whole, message: messageOf(whole) };
}

/** New faults as visits at which they were proved or repaired, those of returns among them; returns as the repairs that came back. */
function streamBehind({ kind, platformId, fault }: Stream, since: string): CasesBehind {
  return kind === 'new-faults'
    ? casesBehind({ platformId, found: fault, state: 'counting', since: `${since}T00:00:00Z` })
    : repairsBehind({ platformId, fault, outcome: 'returned', endedSince: since });
}

/** Shops that saw the stream's events of the watched year. */
function eventsOf({ kind, platformId, fault }: Stream, { onsets, spans }: WatchFacts, from: number): string[] {
  if (kind === 'new-faults') {
    return onsets.filter((one) => one.platformId === platformId && one.fault === fault && one.day >= from).map(({ shopId }) => shopId);
  }
  return spans
    .filter((one) => one.platformId === platformId && one.fault === fault && one.ended >= from && isReturn(one.end))
    .map(({ endShopId, shopId }) => endShopId ?? shopId);
}

function messageOf({
  kind,
  platformName,
  fault,
  alarms,
  modelYears,
  buildRange,
  observed,
  expected,
}: Omit<WatchStream, 'message'>): string {
  const what = kind === 'new-faults' ? `${fault} on ${platformName}` : `Returns of repairs for ${fault} on ${platformName}`;
  const alarm = alarms.at(-1);
  if (!alarm) return `${what}: ${observed} in the last year, ${expected.toFixed(1)} expected; no alarm.`;
  const years = modelYears
    ? ` Most are of model year ${modelYears.firstYear}${modelYears.lastYear === modelYears.firstYear ? '' : ` to ${modelYears.lastYear}`} (${modelYears.events}, ${modelYears.expected.toFixed(1)} expected).`
    : '';
  const build = (year: number, sequence: number) => `${year} no. ${sequence},000`;
  const range = buildRange
    ? ` Thickest among builds of plant ${buildRange.plant} from ${build(buildRange.firstYear, buildRange.firstSequence)} to ${buildRange.lastYear} no. ${buildRange.lastSequence},999 (${buildRange.events}, ${buildRange.expected.toFixed(1)} expected).`
    : '';
  return `${what}: ${alarm.observed} since ${alarm.since} where ${alarm.expected.toFixed(1)} were to be expected; alarm in the week of ${alarm.week}.${years}${range}`;
}

export const definitionsUnder = (rules: StandingRules): string[] => [
  ...rulesInWords(rules),
  `Streams: one a platform, fault and kind. The last ${WATCHED_WEEKS} whole weeks are watched against the years before them (at least one).`,
  'Expected new faults: degree-days, some days earlier, of the shops where the platform’s vehicles are, plus a calendar share fitted for each fault, times the rate of the fault before, drawn towards that of all platforms. The days between heat and visit are those under which the region’s past weeks are likeliest; vehicles at a shop are as many as its visits over its heat. Expected returns: degree-days and a fitted calendar share that open repairs of the platform, fault and intent lived through, times their rate before, by the age of the repair.',
  'What all other streams of the kind did in the last 13 weeks, drawn towards no change, scales the expectation: more recording in general is no alarm of one stream.',
  `Chart: negative-binomial CUSUM tuned for a ratio of ${RATIO}, restarted after an alarm; thresholds such that all streams together give ${FALSE_ALARMS_A_YEAR} false alarm a year. A rate known from few events is drawn on by the weeks already watched, and its counts are allowed to spread wider.`,
  'Model years, and builds of one plant by the sequence of the VIN: likelihood-ratio scan over runs of them against the platform’s other faults, Monte Carlo p ≤ 0.05 (times the plants looked at).',
  'Recorded late: expected counts of the last weeks are those times the share recorded by now, by the delays of the last half year (visits of imports of the past left out); a week of which less than half is recorded is not judged.',
];

export const NEVER_WATCHED: Omit<WatchBoard, 'definitions'> = {
  scoredAt: null,
  isStale: false,
  verdict: 'never',
  message: 'The streams have not been looked at yet by the present rules. A director asks for it with POST /v1/outcomes/watches/scoring.',
  watches: [],
  streams: 0,
  alarms: 0,
  falseAlarmsPerYear: FALSE_ALARMS_A_YEAR,
  size: null,
  arrived: null,
  ratio: RATIO,
  baselineFrom: null,
  watchedFrom: null,
  watchedUntil: null,
  linkedShare: 0,
  cautions: [],
};
