import { twoSidedZ } from '../special/normal.js';
import { type RiskSets, riskSets } from './risk-sets.js';
import { checkLevel, type Sample } from './sample.js';

/**
 * Kaplan-Meier estimate of the share still holding, with Greenwood's variance and log-log limits.
 *
 * S(t) = product over t_j <= t of (1 - d_j/Y_j)
 * se^2 = sum over t_j <= t of d_j/(Y_j (Y_j - d_j)),  Var S(t) = S(t)^2 se^2
 * cumulative hazard (Nelson-Aalen) H(t) = sum d_j/Y_j with variance sum d_j/Y_j^2
 * limits S^exp(+-z se/|ln S|); or `log`: S exp(+-z se); or `plain`: S +- z S se; clipped to 0..1
 *
 * Every end > 0 is the event: where another end competes use `aalenJohansen`, since 1 - S then overstates (0.425 against 0.134 on
 * published data). Log-log limits are the ones to use below about 50 events.
 * Shapes: one entry per distinct event time. Where S reaches 0 the standard error is its limit 0, the limits are 0 and the last
 * upper limit before. Empty or without events: columns of length 0, S(t) = 1 everywhere.
 * Checked on the 6-MP, leukaemia and fan data (tests/reference/outcomes-survival.test.ts).
 * Sources: Kaplan and Meier (1958), JASA 53:457; Greenwood (1926); Klein and Moeschberger (2003), sections 4.2-4.3.
 */
export interface SurvivalCurve {
  readonly n: number;
  readonly level: number;
  readonly times: readonly number[];
  readonly atRisk: readonly number[];
  readonly events: readonly number[];
  readonly survival: readonly number[];
  readonly standardError: readonly number[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  readonly cumulativeHazard: readonly number[];
  readonly cumulativeHazardError: readonly number[];
}

export type LimitScale = 'log-log' | 'log' | 'plain';

export function kaplanMeier(sample: Sample, level = 0.95, scale: LimitScale = 'log-log'): SurvivalCurve {
  return survivalCurve(riskSets(sample), level, scale);
}

/** The same from risk sets already counted. */
export function survivalCurve(sets: RiskSets, level = 0.95, scale: LimitScale = 'log-log'): SurvivalCurve {
  checkLevel(level);
  const z = twoSidedZ(level);
  const times: number[] = [];
  const atRisk: number[] = [];
  const events: number[] = [];
  const survival: number[] = [];
  const standardError: number[] = [];
  const lower: number[] = [];
  const upper: number[] = [];
  const cumulativeHazard: number[] = [];
  const cumulativeHazardError: number[] = [];
  let s = 1;
  let greenwood = 0;
  let hazard = 0;
  let hazardVariance = 0;
  for (let j = 0; j < sets.times.length; j++) {
    let d = 0;
    for (const column of sets.events) d += column[j]!;
    if (d === 0) continue;
    const y = sets.atRisk[j]!;
    s *= 1 - d / y;
    if (y > d) greenwood += d / (y * (y - d));
    const [low, high] = s > 0 ? survivalLimits(s, Math.sqrt(greenwood), z, scale) : [0, upper.at(-1) ?? 1];
    hazard += d / y;
    hazardVariance += d / (y * y);
    times.push(sets.times[j]!);
    atRisk.push(y);
    events.push(d);
    survival.push(s);
    standardError.push(s * Math.sqrt(greenwood));
    lower.push(low);
    upper.push(high);
    cumulativeHazard.push(hazard);
    cumulativeHazardError.push(Math.sqrt(hazardVariance));
  }
  const columns = { times, atRisk, events, survival, standardError, lower, upper, cumulativeHazard, cumulativeHazardError };
  // Read-only by their type: freezing a list of numbers makes an object of each of them, which costs more than the curve.
  return Object.freeze({ n: sets.n, level, ...columns });
}

/** Share still holding at a time, with its limits. */
export interface Holding {
  readonly survival: number;
  readonly lower: number;
  readonly upper: number;
}

/** `survivalCurve` read at some times only, ascending; null before the first event. `cause`: the one end that is the event, the others being censored; 0: any. */
export function survivalAt(sets: RiskSets, at: readonly number[], level = 0.95, cause = 0): readonly (Holding | null)[] {
  checkLevel(level);
  const asked = cause === 0 ? sets.events : sets.events.slice(cause - 1, cause);
  const z = twoSidedZ(level);
  let s = 1;
  let greenwood = 0;
  let before = { s, greenwood };
  let started = false;
  const upperOf = (step: typeof before) => survivalLimits(step.s, Math.sqrt(step.greenwood), z, 'log-log')[1];
  let j = 0;
  return at.map((t): Holding | null => {
    for (; j < sets.times.length && sets.times[j]! <= t; j++) {
      let d = 0;
      for (const column of asked) d += column[j]!;
      if (d === 0) continue;
      const y = sets.atRisk[j]!;
      before = { s, greenwood };
      s *= 1 - d / y;
      if (y > d) greenwood += d / (y * (y - d));
      started = true;
    }
    if (!started) return null;
    if (s > 0) {
      const [lower, upper] = survivalLimits(s, Math.sqrt(greenwood), z, 'log-log');
      return { survival: s, lower, upper };
    }
    return { survival: 0, lower: 0, upper: before.s < 1 ? upperOf(before) : 1 };
  });
}

function survivalLimits(s: number, seLog: number, z: number, scale: LimitScale): readonly [number, number] {
  if (scale === 'plain') return [Math.max(0, s - z * s * seLog), Math.min(1, s + z * s * seLog)];
  if (scale === 'log') return [s * Math.exp(-z * seLog), Math.min(1, s * Math.exp(z * seLog))];
  const spread = Math.exp((z * seLog) / Math.abs(Math.log(s)));
  return [s ** spread, s ** (1 / spread)];
}
