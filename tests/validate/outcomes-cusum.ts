import { countCusum, countDispersion, cusumThreshold, familyRunLength } from '#libs/outcomes/index.js';
import { seeded } from './outcomes-random.js';

/** How a weekly chart keeps its word: false alarms against the stated rate, and weeks to see a doubling. */
export interface CusumStudy {
  /** False alarms a week over those stated, size known. */
  readonly known: number;
  /** The same with the size estimated from three past years of ten streams together. */
  readonly estimated: number;
  /** The same for a Poisson chart on the same overdispersed counts. */
  readonly poissonChart: number;
  /** Mean weeks to the first alarm after the rate doubled at the start of the hot months. */
  readonly weeksToDoubling: number;
}

const WEEKS = 52;
const PAST_YEARS = 3;
const RATIO = 2;

/** Expected counts of a year: nearly nothing in winter, `peak` in the hottest week. Invented. */
export function seasonOf(peak: number): number[] {
  return Array.from(
    { length: WEEKS },
    (_, w) => 0.05 + peak * Math.max(0, Math.sin((Math.PI * (w - 16)) / 24)) * (w > 16 && w < 40 ? 1 : 0),
  );
}

/** Streams of `years` years each; the stated rate is that of a family of 20 streams with 4 false alarms a year. */
export function cusumStudy(streams: number, years: number, seed: number): CusumStudy {
  const random = seeded(seed);
  const size = 2;
  const means = seasonOf(4);
  const stated = familyRunLength(20, 4);
  const tens = Math.max(1, Math.ceil(streams / 10));
  const counts = (weeks: number, times = 1) =>
    Array.from({ length: weeks }, (_, w) => random.negativeBinomial(means[w % WEEKS]! * times, size));
  const alarms = (rows: readonly (readonly number[])[], s: number, threshold: number) => {
    let found = 0;
    for (const row of rows) {
      const steps = countCusum(
        row.map((count, w) => ({ count, expected: means[w % WEEKS]! })),
        { ratio: RATIO, size: s, threshold },
      );
      for (const step of steps) if (step?.alarm) found++;
    }
    return found / (rows.length * rows[0]!.length);
  };
  const exact = cusumThreshold({ means, size, ratio: RATIO }, stated);
  const poisson = cusumThreshold({ means, ratio: RATIO }, stated);
  const rows = Array.from({ length: streams }, () => counts(years * WEEKS));
  let estimated = 0;
  for (let t = 0; t < tens; t++) {
    const past = Array.from({ length: 10 * PAST_YEARS }, () => counts(WEEKS)).flat();
    const s = countDispersion(
      past,
      past.map((_, w) => means[w % WEEKS]!),
    );
    const threshold = cusumThreshold({ means, size: s, ratio: RATIO }, stated);
    estimated += alarms(rows.slice(t * 10, t * 10 + 10), s, threshold) / tens;
  }
  let delay = 0;
  for (let i = 0; i < streams; i++) {
    const steps = countCusum(
      counts(2 * WEEKS, RATIO)
        .map((count, w) => ({ count, expected: means[w % WEEKS]! }))
        .slice(17),
      {
        ratio: RATIO,
        size,
        threshold: exact,
      },
    );
    const first = steps.findIndex((step) => step?.alarm);
    delay += (first < 0 ? steps.length : first + 1) / streams;
  }
  return {
    known: alarms(rows, size, exact) * stated,
    estimated: estimated * stated,
    poissonChart: alarms(rows, Number.POSITIVE_INFINITY, poisson) * stated,
    weeksToDoubling: delay,
  };
}
