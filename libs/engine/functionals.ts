import type { RefrigerantName } from './codes.js';
import { CMD, D0, D1, DIM_PLACE, DIMS, DUTY, E, L, PRESSURE_DIMS, Q1, Q2, SPD, TC, TD, TQ1, TQ2, TS, TV } from './dims.js';
import type { Measured } from './measure.js';
import { saturationPressure, saturationSlope } from './saturation.js';

/**
 * A quantity a technician knows, as a difference of circuit dimensions. Pressures are shown in Pa though they are reckoned as saturation
 * temperatures; `plus` minus `minus` (when there is one) is its value.
 */
export interface Functional {
  readonly observation: string;
  readonly label: string;
  readonly unit: 'Pa' | 'K' | '1';
  readonly plus: number;
  readonly minus: number | null;
}

const first = (measured: readonly number[], options: readonly number[]) => options.find((i) => measured.includes(i));

/** Quantities the readings of a case allow. */
export function functionalsOf(present: readonly number[]): Functional[] {
  const out: Functional[] = [];
  const add = (
    observation: string,
    label: string,
    unit: Functional['unit'],
    plus: number | undefined,
    minus: number | null | undefined = null,
  ) => {
    if (plus !== undefined && minus !== undefined) out.push({ observation, label, unit, plus, minus });
  };
  const low = first(present, [L, E]);
  const upstream = first(present, [D0, D1]);
  const downstream = first(present, [Q2, Q1]);
  add('low-pressure', 'Low-side pressure', 'Pa', low);
  add('discharge-pressure', 'Pressure before the condenser', 'Pa', first(present, [D1, D0]));
  add('liquid-pressure', 'Pressure after the condenser', 'Pa', first(present, [Q1, Q2]));
  if (upstream !== undefined && downstream !== undefined)
    add('high-side-drop', 'Pressure lost over the condenser', 'Pa', upstream, downstream);
  if (present.includes(D0) && present.includes(D1)) add('discharge-line-drop', 'Pressure lost in the discharge line', 'Pa', D0, D1);
  if (present.includes(Q1) && present.includes(Q2)) add('liquid-line-drop', 'Pressure lost in the liquid line', 'Pa', Q1, Q2);
  if (present.includes(E) && present.includes(L)) add('low-side-drop', 'Pressure lost in the suction line', 'Pa', E, L);
  if (present.includes(TQ1)) add('subcooling', 'Subcooling', 'K', first(present, [Q1, Q2, D1, D0]), TQ1);
  if (present.includes(TS)) {
    const saturation = first(present, [E, L]);
    if (saturation !== undefined) add('superheat', 'Superheat', 'K', TS, saturation);
  }
  if (present.includes(TD)) add('discharge-temperature', 'Discharge temperature', 'K', TD);
  if (present.includes(TV)) add('vent-temperature', 'Vent temperature', 'K', TV);
  if (present.includes(TC)) add('core-temperature', 'Evaporator temperature', 'K', TC);
  if (present.includes(TD) && present.includes(TQ1)) add('condenser-fall', 'Temperature fall over the condenser', 'K', TD, TQ1);
  if (present.includes(TQ1) && present.includes(TQ2)) add('liquid-line-fall', 'Temperature fall in the liquid line', 'K', TQ1, TQ2);
  if (present.includes(CMD)) add('command', 'Stroke or speed command', '1', CMD);
  if (present.includes(DUTY)) add('duty', 'Share of time the clutch is on', '1', DUTY);
  if (present.includes(SPD)) add('speed-shortfall', 'Compressor speed against the speed asked', '1', SPD);
  return out;
}

/** Value of a functional on a vector of dimensions, in its own unit. */
export function valueOn(f: Functional, v: Float64Array, name: RefrigerantName): number {
  const at = (i: number) => (f.unit === 'Pa' ? saturationPressure(name, v[i]!) : v[i]!);
  return at(f.plus) - (f.minus === null ? 0 : at(f.minus));
}

/** Seen value, exact in pressure. */
export function seenOn(f: Functional, measured: Measured): number {
  const at = (i: number) => (f.unit === 'Pa' ? measured.pa[i]! : measured.x[i]!);
  return at(f.plus) - (f.minus === null ? 0 : at(f.minus));
}

/** Slope of the saturation curve at each pressure dimension of a vector, Pa/K; 1 elsewhere. */
export function slopesAt(v: Float64Array, name: RefrigerantName): Float64Array {
  const slopes = new Float64Array(DIMS).fill(1);
  for (const i of PRESSURE_DIMS) slopes[i] = saturationSlope(name, Math.min(v[i]!, 365));
  return slopes;
}

/**
 * Variance of the functional under a covariance of the dimensions, in its own unit squared, with the slopes of `slopesAt`. The difference of two
 * covariances may give a negative number: only sums are variances.
 */
export function varianceOn(f: Functional, covariance: Float64Array, slopes: Float64Array): number {
  const pressure = f.unit === 'Pa';
  const a = pressure ? slopes[f.plus]! : 1;
  let v = a * a * covariance[f.plus * DIMS + f.plus]!;
  if (f.minus !== null) {
    const b = pressure ? slopes[f.minus]! : 1;
    v += b * b * covariance[f.minus * DIMS + f.minus]! - 2 * a * b * covariance[f.plus * DIMS + f.minus]!;
  }
  return v;
}

export const placeOfDim = (dim: number) => DIM_PLACE[dim]!;
