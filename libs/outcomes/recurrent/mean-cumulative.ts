import { BadSample } from '#libs/numeric/index.js';
import { groupBy } from '../grouping.js';
import { twoSidedZ } from '../special/normal.js';
import { checkLevel } from '../survival/sample.js';

/**
 * Mean cumulative number of returns of one vehicle by time t, with a variance that does not assume independent returns.
 *
 * M(t) = sum over t_j <= t of d_j/Y_j
 * robust Var M(t) = sum over vehicles of (sum over t_j <= t of (dN_ij - Y_ij d_j/Y_j)/Y_j)^2
 * Poisson Var M(t) = sum d_j/Y_j^2, too small when some vehicles return more than others (0.263 against 0.312 on the valve seats)
 * limits M exp(-+ z se/M) with the robust se
 *
 * until: end of watching of the vehicle on the clock, > 0; at: times of its events, each <= until (several at one time allowed).
 * A vehicle is at risk at t while t <= until. Shapes: one entry per distinct event time. Empty: columns of length 0.
 * Sources: Nelson (1995), Technometrics 37:147; Lawless and Nadeau (1995), Technometrics 37:158.
 */
export interface RecurrentHistory {
  readonly until: number;
  readonly at: readonly number[];
}

export interface MeanCumulative {
  readonly n: number;
  readonly level: number;
  readonly times: readonly number[];
  readonly atRisk: readonly number[];
  readonly events: readonly number[];
  readonly mean: readonly number[];
  readonly standardError: readonly number[];
  readonly poissonError: readonly number[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
}

export function meanCumulative(histories: readonly RecurrentHistory[], level = 0.95): MeanCumulative {
  checkLevel(level);
  check(histories);
  const z = twoSidedZ(level);
  const happened = groupBy(
    histories.flatMap((h, vehicle) => h.at.map((time) => ({ time, vehicle }))),
    (e) => e.time,
  );
  const times = [...happened.keys()].sort((a, b) => a - b);
  const leaving = histories.map((_, i) => i).sort((a, b) => histories[a]!.until - histories[b]!.until);
  // A vehicle still watched has influence own_i - drift(t), drift = sum d/Y^2 (also the Poisson variance); one that left at u keeps own_i - drift(u).
  const own = new Float64Array(histories.length);
  const out: Record<'atRisk' | 'events' | 'mean' | 'standardError' | 'poissonError' | 'lower' | 'upper', number[]> = {
    atRisk: [],
    events: [],
    mean: [],
    standardError: [],
    poissonError: [],
    lower: [],
    upper: [],
  };
  let mean = 0;
  let drift = 0;
  let settled = 0;
  let sum = 0;
  let squares = 0;
  let next = 0;
  for (const time of times) {
    while (next < leaving.length && histories[leaving[next]!]!.until < time) {
      const who = leaving[next++]!;
      settled += (own[who]! - drift) ** 2;
      sum -= own[who]!;
      squares -= own[who]! ** 2;
    }
    const y = histories.length - next;
    const events = happened.get(time)!;
    for (const { vehicle } of events) {
      const before = own[vehicle]!;
      own[vehicle] = before + 1 / y;
      sum += 1 / y;
      squares += own[vehicle]! ** 2 - before ** 2;
    }
    mean += events.length / y;
    drift += events.length / (y * y);
    const se = Math.sqrt(Math.max(0, settled + squares - 2 * drift * sum + y * drift * drift));
    out.atRisk.push(y);
    out.events.push(events.length);
    out.mean.push(mean);
    out.standardError.push(se);
    out.poissonError.push(Math.sqrt(drift));
    out.lower.push(mean * Math.exp((-z * se) / mean));
    out.upper.push(mean * Math.exp((z * se) / mean));
  }
  for (const column of Object.values(out)) Object.freeze(column);
  return Object.freeze({ n: histories.length, level, times: Object.freeze(times), ...out });
}

function check(histories: readonly RecurrentHistory[]): void {
  histories.forEach(({ until, at }, i) => {
    if (!(until > 0 && until < Number.POSITIVE_INFINITY))
      throw new BadSample(`vehicle ${i}: watched until ${until}, not a finite time > 0`);
    for (const t of at) if (!(t > 0 && t <= until)) throw new BadSample(`vehicle ${i}: event at ${t} is not in 0..${until}`);
  });
}
