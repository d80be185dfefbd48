import { type RecordedDelay, reportingDelay } from '#libs/outcomes/index.js';
import type { WeekGrid } from './watch-exposure.js';

/** What takes longer to be recorded is not waited for. */
export const DELAY_DAYS = 182;
export const MOST_DELAYS = 5_000;
/** Fewer tell nothing about how late records come. */
const FEWEST_DELAYS = 30;

/** Share of each week's visits that has been recorded by today, by the delays of the last half year; null where too few are known. */
export function arrivedShares(delays: readonly RecordedDelay[], { weeks }: WeekGrid): Float64Array | null {
  if (delays.length < FEWEST_DELAYS) return null;
  const within = reportingDelay(delays, DELAY_DAYS);
  return Float64Array.from({ length: weeks }, (_, week) => {
    // The last week ends yesterday: its days are one to seven days old.
    const oldest = 7 * (weeks - week);
    let sum = 0;
    for (let age = oldest; age > oldest - 7; age--) sum += age < within.length ? within[age]! : 1;
    return sum / 7;
  });
}
