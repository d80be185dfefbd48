import { betaTails, logBeta } from '../special/beta.js';

/**
 * Grid of probabilities on the logit scale and the beta kernel between a parent's mean and a child's probability on it.
 *
 * k(q | m) = q^(m s) (1 - q)^((1 - m) s)/B(m s, (1 - m) s), the beta density of q in the measure d logit(q)
 *
 * Means m: 121 points, logit -7 to 7 (0.0009 to 0.9991). Probabilities q: four times as fine. The mass beyond the ends is kept in two lumps
 * there. Rows: one per m. Log densities between the 121 points are read by a cubic through four of them, so that posteriors narrower than
 * the step of 0.117 are still integrated well (to a standard deviation of about 0.02 in the log odds).
 */
export const FINE = 4;
export const MEANS = 121;
const REACH = 7;
export const FINE_POINTS = (MEANS - 1) * FINE + 1;
export const FINE_STEP = (2 * REACH) / (FINE_POINTS - 1);

const logistic = (t: number) => 1 / (1 + Math.exp(-t));
export const fineLogit = (i: number) => -REACH + i * FINE_STEP;
/** The means of the grid, ascending. */
export const MEAN_GRID: readonly number[] = Object.freeze(Array.from({ length: MEANS }, (_, i) => logistic(fineLogit(i * FINE))));

export interface Kernel {
  readonly size: number;
  /** Density in d logit(q) at every 1st, 2nd and 4th fine point (by stride), each row-major means x points. */
  readonly density: Readonly<Record<1 | 2 | 4, Float64Array>>;
  readonly below: Float64Array;
  readonly above: Float64Array;
}

export function betaKernel(size: number): Kernel {
  const density = new Float64Array(MEANS * FINE_POINTS);
  const below = new Float64Array(MEANS);
  const above = new Float64Array(MEANS);
  const logQ = Float64Array.from({ length: FINE_POINTS }, (_, i) => -Math.log1p(Math.exp(-fineLogit(i))));
  const logOther = Float64Array.from({ length: FINE_POINTS }, (_, i) => -Math.log1p(Math.exp(fineLogit(i))));
  const edge = logistic(-REACH - FINE_STEP / 2);
  for (let m = 0; m < MEANS; m++) {
    const a = MEAN_GRID[m]! * size;
    const b = size - a;
    const scale = logBeta(a, b);
    for (let i = 0; i < FINE_POINTS; i++) density[m * FINE_POINTS + i] = Math.exp(a * logQ[i]! + b * logOther[i]! - scale);
    below[m] = betaTails(a, b, edge).lower;
    above[m] = betaTails(b, a, edge).lower;
  }
  return { size, density: { 1: density, 2: thinned(density, 2), 4: thinned(density, 4) }, below, above };
}

/** Every stride-th point of each row, side by side: the walk over a row is then over neighbouring memory. */
function thinned(density: Float64Array, stride: 2 | 4): Float64Array {
  const points = rowLength(stride);
  const out = new Float64Array(MEANS * points);
  for (let m = 0; m < MEANS; m++) for (let k = 0; k < points; k++) out[m * points + k] = density[m * FINE_POINTS + k * stride]!;
  return out;
}

const rowLength = (stride: 1 | 2 | 4) => (FINE_POINTS - 1) / stride + 1;

/** Values at the fine points first, first + stride, .. <= last, by a cubic through the four nearest of the 121 (ends: the nearest four). */
export function refine(coarse: Float64Array, first: number, last: number, stride: number): Float64Array {
  const out = new Float64Array(Math.floor((last - first) / stride) + 1);
  for (let k = 0; k < out.length; k++) {
    const at = (first + k * stride) / FINE;
    const i = Math.min(MEANS - 3, Math.max(1, Math.floor(at)));
    const t = at - i;
    if (t === 0) {
      out[k] = coarse[i]!;
      continue;
    }
    const p = coarse[i - 1]!;
    const q = coarse[i]!;
    const r = coarse[i + 1]!;
    const s = coarse[i + 2]!;
    // Lagrange through -1, 0, 1, 2.
    out[k] =
      (-p * t * (t - 1) * (t - 2)) / 6 +
      (q * (t + 1) * (t - 1) * (t - 2)) / 2 -
      (r * (t + 1) * t * (t - 2)) / 2 +
      (s * (t + 1) * t * (t - 1)) / 6;
  }
  return out;
}

export interface Window {
  readonly first: number;
  readonly last: number;
  readonly stride: 1 | 2 | 4;
  readonly most: number;
}

// exp(-30) of the peak is lost at either side: below 1e-12 of the mass.
const DEPTH = 30;

/** The fine points that carry the weight of a log density, and how coarsely they may be walked. */
export function windowOf(log: Float64Array): Window {
  let most = Number.NEGATIVE_INFINITY;
  for (const value of log) if (value > most) most = value;
  let from = 0;
  let to = MEANS - 1;
  while (log[from]! < most - DEPTH) from++;
  while (log[to]! < most - DEPTH) to--;
  from = Math.max(0, from - 1);
  to = Math.min(MEANS - 1, to + 1);
  const width = to - from;
  return { first: from * FINE, last: to * FINE, stride: width > 40 ? 4 : width > 20 ? 2 : 1, most };
}

/** log of the integral over q of k(q | m) e^log(q), for every m of the grid. */
export function passUp(log: Float64Array, kernel: Kernel): Float64Array {
  const { first, last, stride, most } = windowOf(log);
  const weights = refine(log, first, last, stride);
  for (let k = 0; k < weights.length; k++) weights[k] = Math.exp(weights[k]! - most) * stride * FINE_STEP;
  const bottom = Math.exp(log[0]! - most);
  const top = Math.exp(log[MEANS - 1]! - most);
  const out = new Float64Array(MEANS);
  const density = kernel.density[stride];
  const points = rowLength(stride);
  for (let m = 0; m < MEANS; m++) {
    let sum = kernel.below[m]! * bottom + kernel.above[m]! * top;
    const row = m * points + first / stride;
    for (let k = 0; k < weights.length; k++) sum += weights[k]! * density[row + k]!;
    out[m] = Math.log(sum) + most;
  }
  return out;
}

export interface Moments {
  readonly mean: number;
  readonly variance: number;
  /** log of the integral of e^log d logit. */
  readonly logMass: number;
}

/** Mean and variance of a probability whose log density in d logit is given on the grid. */
export function momentsOf(log: Float64Array): Moments {
  const { first, last, stride, most } = windowOf(log);
  const values = refine(log, first, last, stride);
  let mass = 0;
  let sum = 0;
  let squares = 0;
  for (let k = 0; k < values.length; k++) {
    const w = Math.exp(values[k]! - most);
    const q = logistic(fineLogit(first + k * stride));
    mass += w;
    sum += w * q;
    squares += w * q * q;
  }
  const mean = sum / mass;
  return { mean, variance: Math.max(0, squares / mass - mean * mean), logMass: Math.log(mass * stride * FINE_STEP) + most };
}
