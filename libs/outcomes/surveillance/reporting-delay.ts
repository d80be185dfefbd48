import { BadSample } from '#libs/numeric/index.js';

/**
 * Distribution of the delay between a return and its record, from records that could only be seen when their delay was short enough.
 *
 * G(x) = product over y > x of (1 - n_y/N_y), n_y records with delay y, N_y those with delay <= y that would have been seen up to a delay of y
 *
 * delay: whole periods (weeks) from the event to its record; longest: the largest delay with which that event would be in the data at all
 * (now - event), >= delay. Result: G(0), .., G(last), last the largest `longest` asked for or seen; G(last) = 1, so that G is conditional on a record
 * within `last`: returns recorded later are unknown. Short delays are over-represented among recent events, and a plain share would be too quick.
 * Where N_y = 0 nothing is known between and the factor is 1. Empty: BadSample.
 * Sources: Lagakos, Barraj and De Gruttola (1988), Biometrika 75:515 (from memory); Kalbfleisch and Lawless (1991), Stat. Sinica 1:19 (from memory).
 */
export interface RecordedDelay {
  readonly delay: number;
  readonly longest: number;
}

export function reportingDelay(records: readonly RecordedDelay[], last?: number): Float64Array {
  if (records.length === 0) throw new BadSample('no record to learn the delay from');
  let most = 0;
  records.forEach(({ delay, longest }, i) => {
    if (!(Number.isInteger(delay) && Number.isInteger(longest) && delay >= 0 && longest >= delay)) {
      throw new BadSample(`record ${i}: delay ${delay} of at most ${longest}`);
    }
    most = Math.max(most, longest);
  });
  const end = last ?? most;
  if (!(Number.isInteger(end) && end >= 0)) throw new BadSample(`last delay ${end} is not a whole number >= 0`);
  const cumulative = new Float64Array(end + 1).fill(1);
  for (let y = end; y > 0; y--) {
    let exactly = 0;
    let within = 0;
    for (const { delay, longest } of records) {
      if (longest < y || delay > y) continue;
      within++;
      if (delay === y) exactly++;
    }
    cumulative[y - 1] = cumulative[y]! * (within > 0 ? 1 - exactly / within : 1);
  }
  return cumulative;
}
