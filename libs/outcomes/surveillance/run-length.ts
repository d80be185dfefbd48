import { BadSample, brent, NoConvergence } from '#libs/numeric/index.js';
import { negativeBinomialProbability } from '../special/discrete.js';
import { cusumScore } from './cusum.js';

/**
 * Average run length of the chart C_t = max(0, C_{t-1} + X_t - k), alarm at C_t >= h, from C_0 = 0: weeks to the first alarm.
 *
 * (I - Q) L = 1 over the lattice states 0, 1/q, .., below h; L(0) is the answer
 *
 * X negative binomial with the mean and size (Infinity: Poisson), every week alike. k, h > 0 must be multiples of some 1/q, q <= 200,
 * so that the chain is exact; BadSample otherwise. Checked to 1e-9 against the exact chain of R surveillance::arlCusum.
 * Source: Brook and Evans (1972), Biometrika 59:539.
 */
export interface CountChart {
  readonly mean: number;
  readonly size?: number;
  readonly k: number;
  readonly h: number;
}

export function countRunLength({ mean, size = Number.POSITIVE_INFINITY, k, h }: CountChart): number {
  if (!(mean > 0 && Number.isFinite(mean))) throw new BadSample(`mean ${mean} is not > 0`);
  if (!(size > 0 && k > 0 && h > 0)) throw new BadSample(`size ${size}, k ${k} and h ${h} must be > 0`);
  const q = lattice(k, h);
  const states = Math.round(h * q);
  const drop = Math.round(k * q);
  const probability: number[] = [];
  for (let x = 0; x * q - drop < states; x++) probability.push(negativeBinomialProbability(x, mean, size));
  const matrix = Array.from({ length: states }, (_, i) => {
    const row = new Float64Array(states + 1);
    row[i] = 1;
    row[states] = 1;
    for (let x = 0; x < probability.length; x++) {
      const to = Math.max(0, i + x * q - drop);
      if (to < states) row[to]! -= probability[x]!;
    }
    return row;
  });
  return eliminate(matrix);
}

function lattice(k: number, h: number): number {
  for (let q = 1; q <= 200; q++) {
    const whole = (v: number) => Math.abs(v * q - Math.round(v * q)) < 1e-9 * q;
    if (whole(k) && whole(h)) return q;
  }
  throw new BadSample(`k ${k} and h ${h} are not multiples of 1/q for any q up to 200`);
}

/** First unknown of (I - Q) L = 1. I - Q is an M-matrix, so elimination from the last state needs no pivoting and loses no digits. */
function eliminate(rows: readonly Float64Array[]): number {
  const n = rows.length;
  for (let p = n - 1; p > 0; p--) {
    const pivot = rows[p]!;
    for (let i = 0; i < p; i++) {
      const row = rows[i]!;
      const factor = row[p]! / pivot[p]!;
      if (factor === 0) continue;
      for (let j = 0; j < p; j++) row[j]! -= factor * pivot[j]!;
      row[n]! -= factor * pivot[n]!;
    }
  }
  return rows[0]![n]! / rows[0]![0]!;
}

/** Counts the chart meets, week by week through a season that then repeats. */
export interface SeasonalChart {
  /** Expected count of each week of the season, >= 0, at least one > 0. */
  readonly means: readonly number[];
  readonly size?: number;
  /** Ratio the chart is tuned for. */
  readonly ratio: number;
}

const STATES = 160;

/**
 * Average run length in weeks of the seasonal negative-binomial CUSUM at a threshold, started at 0 in any week of the season alike.
 *
 * L_w = 1 + Q_w L_{w+1}, carried backward through the seasons on a grid of 160 states, each step's mass split between the two nearest so
 * that its mean is kept; after some seasons the increments shrink by a constant factor, which closes the sum.
 * trueRatio multiplies the means the counts really have: 1 gives weeks between false alarms, more gives weeks to detection.
 * Accuracy: 1 % against the exact chain. NoConvergence when the factor has not settled in 400 seasons.
 */
export function seasonalRunLength(chart: SeasonalChart, threshold: number, trueRatio = 1): number {
  const steps = transitions(chart, threshold, trueRatio);
  const weeks = steps.length;
  let ahead: Float64Array = new Float64Array(STATES);
  let before = 0;
  let increment = 0;
  let factor = Number.NaN;
  for (let season = 0; season < 400; season++) {
    let fromZero = 0;
    for (let w = weeks - 1; w >= 0; w--) {
      ahead = backward(steps[w]!, ahead);
      fromZero += ahead[0]! / weeks;
    }
    const gained = fromZero - before;
    const next = gained / increment;
    if (gained < 1e-12 * fromZero) return fromZero;
    if (Math.abs(next - factor) < 1e-9) return fromZero + (gained * next) / (1 - next);
    factor = next;
    increment = gained;
    before = fromZero;
  }
  throw new NoConvergence('seasonal run length', 400, factor);
}

/** One week: by count, its chance and how far it moves the chart, in whole states and the share of one more. The same from every state; beyond the last is the alarm. */
interface Transition {
  readonly chances: Float64Array;
  readonly states: Int32Array;
  readonly shares: Float64Array;
}

function transitions(
  { means, size = Number.POSITIVE_INFINITY, ratio }: SeasonalChart,
  threshold: number,
  trueRatio: number,
): readonly Transition[] {
  if (means.length === 0 || !means.every((m) => m >= 0 && Number.isFinite(m)) || !means.some((m) => m > 0)) {
    throw new BadSample('a season needs finite means >= 0, one of them > 0');
  }
  if (!(ratio > 1) || !(size > 0) || !(threshold > 0) || !(trueRatio > 0))
    throw new BadSample('ratio > 1, size, threshold and true ratio > 0');
  const made = new Map<number, Transition>();
  return means.map((mean) => {
    const known = made.get(mean);
    if (known) return known;
    const transition = oneWeek(mean, size, ratio, threshold, trueRatio);
    made.set(mean, transition);
    return transition;
  });
}

function oneWeek(mean: number, size: number, ratio: number, threshold: number, trueRatio: number): Transition {
  const scores: number[] = [];
  const chances: number[] = [];
  for (let y = 0; y < 100_000; y++) {
    const score = cusumScore(y, mean, ratio, size);
    if (score >= threshold) break;
    scores.push(score);
    chances.push(negativeBinomialProbability(y, mean * trueRatio, size));
    if (mean === 0) break;
  }
  const moves = scores.map((score) => (score * STATES) / threshold);
  const states = Int32Array.from(moves, Math.floor);
  return { chances: Float64Array.from(chances), states, shares: Float64Array.from(moves, (move, y) => move - states[y]!) };
}

/** 1 + Q L: the mean run from each state of a week, given that of the next. Mass that would fall below 0 stays at 0. */
function backward({ chances, states, shares }: Transition, ahead: Float64Array): Float64Array {
  const now = new Float64Array(STATES).fill(1);
  for (let y = 0; y < chances.length; y++) {
    const [move, share] = [states[y]!, shares[y]!];
    const [lower, upper] = [chances[y]! * (1 - share), chances[y]! * share];
    const fallen = Math.min(STATES, -move);
    for (let i = 0; i < fallen; i++) now[i]! += chances[y]! * ahead[0]!;
    const end = STATES - 1 - move;
    for (let i = Math.max(0, fallen); i < Math.min(STATES, end); i++) now[i]! += lower * ahead[i + move]! + upper * ahead[i + move + 1]!;
    if (end >= 0 && end < STATES) now[end]! += lower * ahead[STATES - 1]!;
  }
  return now;
}

/**
 * The threshold at which the seasonal chart gives one false alarm in `weeks` weeks on average (between 0.05 and 40).
 *
 * For a family of charts pass `familyRunLength`. Sub-week precision is not meaningful: solved to 1e-3 of the logarithm of the run length.
 */
export function cusumThreshold(chart: SeasonalChart, weeks: number): number {
  if (!(weeks > 1 && weeks < 1e7)) throw new BadSample(`${weeks} weeks between false alarms is not in 1..10^7`);
  const miss = (h: number) => Math.log(seasonalRunLength(chart, h)) - Math.log(weeks);
  let low = 0.05;
  if (miss(low) > 0) return low;
  let high = 1;
  while (miss(high) < 0) {
    low = high;
    high *= 1.6;
    if (high > 40) throw new NoConvergence('CUSUM threshold', 40, miss(high / 1.6));
  }
  return brent(miss, low, high, { fTolerance: 1e-3, xTolerance: 1e-6 });
}

/** Weeks between false alarms each of `streams` independent charts needs so that the whole family gives `perYear` false alarms a year. */
export function familyRunLength(streams: number, perYear: number): number {
  if (!(streams >= 1 && perYear > 0)) throw new BadSample(`${streams} streams, ${perYear} false alarms a year`);
  return (streams * WEEKS_A_YEAR) / perYear;
}

const WEEKS_A_YEAR = 365.25 / 7;
