import { countDispersion, cusumThreshold, familyRunLength, predictiveSize, seasonalRunLength } from '#libs/outcomes/index.js';
import { type Stream, sum, WATCHED_WEEKS, type WeekGrid } from './watch-exposure.js';

/** Ratio of rates to be caught soon. */
export const RATIO = 2;
export const FALSE_ALARMS_A_YEAR = 1;
/** No expectation is so sure that a single event could be an alarm: half an event in half a year. */
export const LEAST_EXPECTED = 0.02;
/** Thresholds are computed on a grid of mean counts this factor apart, and read between in the logarithm. */
const GRID_STEP = 2;
/** Certainty of the least known rate that has a threshold of its own. Between it and a rate that is known for sure thresholds differ by some 3 % and are read in a straight line. */
const LEAST_CERTAINTY = 2;

/** What a chart of a stream is run with. */
export interface ChartDesign {
  readonly threshold: number;
  /** Weeks after which a doubling is seen, on average over the weeks in which it may begin. */
  readonly weeksToDoubling: number;
}

/** Size of the weekly counts about their expectations, over all streams of the baseline. */
export function dispersionOf(streams: readonly Stream[], grid: WeekGrid): number {
  const counts: number[] = [];
  const expected: number[] = [];
  for (const stream of streams) {
    for (let week = 0; week < grid.baseline; week++) {
      if (!(stream.expected[week]! > 0)) continue;
      counts.push(stream.counts[week]!);
      expected.push(stream.expected[week]!);
    }
  }
  return counts.length === 0 ? Number.POSITIVE_INFINITY : countDispersion(counts, expected);
}

/**
 * The design for a mean weekly count and the certainty of its rate, on the season of all streams in the watched year; each node is computed once, when it is
 * needed. A rate that is less known makes counts spread wider about their predictions (`predictiveSize`).
 */
export function designsOf(streams: readonly Stream[], grid: WeekGrid, size: number): (mean: number, certainty: number) => ChartDesign {
  const season = new Float64Array(WATCHED_WEEKS);
  for (const { expected } of streams) for (let week = 0; week < WATCHED_WEEKS; week++) season[week]! += expected[grid.baseline + week]!;
  const whole = sum(season, 0, WATCHED_WEEKS);
  const shape = Array.from(season, (value) => (whole > 0 ? (value * WATCHED_WEEKS) / whole : 1));
  const weeks = familyRunLength(Math.max(1, streams.length), FALSE_ALARMS_A_YEAR);
  const sizes = [size, predictiveSize(size, LEAST_CERTAINTY)] as const;
  const nodes = new Map<string, ChartDesign>();
  const node = (k: number, sure: 0 | 1): ChartDesign => {
    const key = `${k} ${sure}`;
    let design = nodes.get(key);
    if (design === undefined) {
      const mean = LEAST_EXPECTED * GRID_STEP ** k;
      const chart = { means: shape.map((s) => Math.max(s * mean, LEAST_EXPECTED / 10)), size: sizes[sure], ratio: RATIO };
      const threshold = cusumThreshold(chart, weeks);
      design = { threshold, weeksToDoubling: seasonalRunLength(chart, threshold, RATIO) };
      nodes.set(key, design);
    }
    return design;
  };
  return (mean, certainty) => {
    const place = Math.max(0, Math.log(mean / LEAST_EXPECTED) / Math.log(GRID_STEP));
    const low = Math.floor(place);
    const unsure = Math.min(1, (1 / predictiveSize(size, certainty) - 1 / size) / (1 / sizes[1] - 1 / size));
    const at = (sure: 0 | 1): ChartDesign => {
      const [a, b] = [node(low, sure), node(low + 1, sure)];
      return {
        threshold: between(a.threshold, b.threshold, place - low),
        weeksToDoubling: Math.exp(between(Math.log(a.weeksToDoubling), Math.log(b.weeksToDoubling), place - low)),
      };
    };
    const [known, guessed] = [at(0), at(1)];
    return {
      threshold: between(known.threshold, guessed.threshold, unsure),
      weeksToDoubling: between(known.weeksToDoubling, guessed.weeksToDoubling, unsure),
    };
  };
}

const between = (a: number, b: number, share: number): number => a + (b - a) * share;
