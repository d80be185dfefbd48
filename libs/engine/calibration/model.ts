import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '../codes.js';
import { DIMS } from '../dims.js';
import type { Expectation } from '../expectation.js';
import type { Weather } from '../weather.js';
import { CONDITIONS, clamped, scaled, scaledSigma, TERMS, terms } from './features.js';

/**
 * One hypothesis at one severity in one regime (clutch cycling or not, stroke free or at its end, liquid flashing or not) for one kind of system:
 * regression of the circuit on the weather, with what hardware leaves open.
 */
export interface CalibratedNode {
  readonly code: FaultCode;
  readonly severity: number;
  /** Prior share of the severity within its hypothesis; regimes of one severity share it by their gates. */
  readonly share: number;
  /** Severity the regimes belong to: the same number within a group means the same severity of the same hypothesis. */
  readonly band: number;
  /** Share of the regime over all simulated weathers. */
  readonly regimeShare: number;
  /** Weights of the regime's log odds on the gate's terms. */
  readonly gate: Float32Array;
  /** Median share of capacity lost over the simulated systems, and its robust width. */
  readonly capacityLost: number;
  readonly lossSigma: number;
  /** DIMS x TERMS. */
  readonly coefficients: Float32Array;
  /** Lower triangle of the residual covariance, row by row. */
  readonly covariance: Float32Array;
}

export interface CalibratedGroup {
  readonly key: string;
  /** Sound system first. */
  readonly nodes: readonly CalibratedNode[];
}

export const TRIANGLE = (DIMS * (DIMS + 1)) / 2;

/** Place of an element in the lower triangle. */
export const triangleAt = (i: number, j: number): number => (i >= j ? (i * (i + 1)) / 2 + j : (j * (j + 1)) / 2 + i);

export function groupKey(layout: Layout, compressor: CompressorKind): string {
  return `${layout}/${compressor === 'variable-commanded' ? 'variable' : compressor}`;
}

/** All dimensions of the engine. */
export const ALL_DIMS: readonly number[] = Array.from({ length: DIMS }, (_, i) => i);

/** Terms that move with one condition, and by how much: three of fifteen on average, so that only these are multiplied. */
export interface TermChange {
  readonly places: Int32Array;
  readonly by: Float64Array;
}

/** Regression terms of a case's weather, and half their change over one standard deviation to either side of each condition not known exactly. */
export interface WeatherTerms {
  readonly at: Float64Array;
  readonly changes: readonly TermChange[];
  /** Scaled conditions and their widths, for the gates. */
  readonly conditions: Float64Array;
  readonly sigma: Float64Array;
}

export function weatherTerms(weather: Weather, refrigerant: RefrigerantName): WeatherTerms {
  const c = clamped(scaled(weather, refrigerant));
  const sigma = scaledSigma(weather);
  const changes: TermChange[] = [];
  const places = new Int32Array(TERMS);
  const by = new Float64Array(TERMS);
  for (let k = 0; k < CONDITIONS; k++) {
    if (sigma[k]! <= 0) continue;
    const up = new Float64Array(c);
    const down = new Float64Array(c);
    up[k]! += sigma[k]!;
    down[k]! -= sigma[k]!;
    const above = terms(clamped(up), new Float64Array(TERMS));
    const below = terms(clamped(down), new Float64Array(TERMS));
    let moved = 0;
    for (let i = 0; i < TERMS; i++) {
      if (above[i] === below[i]) continue;
      places[moved] = i;
      by[moved++] = (above[i]! - below[i]!) / 2;
    }
    changes.push({ places: places.slice(0, moved), by: by.slice(0, moved) });
  }
  return { at: terms(c, new Float64Array(TERMS)), changes, conditions: c, sigma };
}

/** Terms of a gate: constant and the scaled conditions. */
export const GATE_TERMS = CONDITIONS + 1;

const ALONE = Float64Array.of(1);

/**
 * Probability of each regime of one severity in this weather: softmax of the gates, each drawn towards even odds by what is not known of the
 * weather (logit of the mean over sqrt(1 + pi/8 variance), the usual normal approximation of a logistic mean).
 */
export function regimeShares(regimes: readonly CalibratedNode[], t: WeatherTerms): Float64Array {
  if (regimes.length === 1) return ALONE;
  const logits = new Float64Array(regimes.length);
  let top = Number.NEGATIVE_INFINITY;
  for (let r = 0; r < regimes.length; r++) {
    const { gate } = regimes[r]!;
    let logit = gate[0]!;
    let variance = 0;
    for (let k = 0; k < CONDITIONS; k++) {
      const wide = gate[k + 1]! * t.sigma[k]!;
      logit += gate[k + 1]! * t.conditions[k]!;
      variance += wide * wide;
    }
    logits[r] = logit / Math.sqrt(1 + (Math.PI / 8) * variance);
    if (logits[r]! > top) top = logits[r]!;
  }
  let sum = 0;
  for (let i = 0; i < logits.length; i++) {
    logits[i] = Math.exp(logits[i]! - top);
    sum += logits[i]!;
  }
  for (let i = 0; i < logits.length; i++) logits[i]! /= sum;
  return logits;
}

/** Nodes of a group by severity, in order; reckoned once a group. */
const severities = new WeakMap<CalibratedGroup, (readonly CalibratedNode[])[]>();
export function bandsOf(group: CalibratedGroup): readonly (readonly CalibratedNode[])[] {
  let held = severities.get(group);
  if (!held) {
    const byBand = new Map<number, CalibratedNode[]>();
    for (const node of group.nodes) {
      const same = byBand.get(node.band);
      if (same) same.push(node);
      else byBand.set(node.band, [node]);
    }
    held = [...byBand.values()];
    severities.set(group, held);
  }
  return held;
}

/** Mean and covariance over the regimes of a sound system in this weather; filled as `predict` says. */
export function soundAt(group: CalibratedGroup, t: WeatherTerms, dims: readonly number[]): Expectation {
  const regimes = bandsOf(group)[0]!;
  if (regimes.length === 1) return predict(regimes[0]!, t, dims);
  const shares = regimeShares(regimes, t);
  const parts = regimes.map((node) => predict(node, t, dims));
  return mixture(parts, shares, dims);
}

/** Mean and covariance of a mixture: the covariances averaged, and the means' own scatter. */
export function mixture(parts: readonly Expectation[], shares: Float64Array, dims: readonly number[]): Expectation {
  const mean = new Float64Array(DIMS);
  const covariance = new Float64Array(DIMS * DIMS);
  parts.forEach((part, r) => {
    for (let i = 0; i < DIMS; i++) mean[i]! += shares[r]! * part.mean[i]!;
  });
  parts.forEach((part, r) => {
    for (const i of dims) {
      const di = part.mean[i]! - mean[i]!;
      for (const j of dims) {
        covariance[i * DIMS + j]! += shares[r]! * (part.covariance[i * DIMS + j]! + di * (part.mean[j]! - mean[j]!));
      }
    }
  });
  return { mean, covariance };
}

/**
 * Mean and covariance of the circuit under one node in a case's weather.
 *
 * mean = C f(weather);  covariance = K + sum over conditions of d d', d = (C f(c + sigma) - C f(c - sigma)) / 2: conditions not written down are
 * marginalised to first order over one standard deviation to either side, where the clamped box ends the weather ends. The covariance is filled
 * for the dimensions asked for, and so is the mean.
 */
export function predict(
  node: CalibratedNode,
  t: WeatherTerms,
  dims: readonly number[],
  meanDims: readonly number[] = ALL_DIMS,
): Expectation {
  const out = { mean: new Float64Array(DIMS), covariance: new Float64Array(DIMS * DIMS) };
  predictInto(node, t, dims, meanDims, out.mean, out.covariance);
  return out;
}

/** Change of each dimension asked for with each condition, a column each. */
const change = new Float64Array(CONDITIONS * DIMS);

/** The same into arrays that may hold anything: what is not asked for is left as it is. `dims` rise. */
export function predictInto(
  node: CalibratedNode,
  t: WeatherTerms,
  dims: readonly number[],
  meanDims: readonly number[],
  mean: Float64Array,
  covariance: Float64Array,
): void {
  const { coefficients, covariance: own } = node;
  const { at, changes } = t;
  for (let m = 0; m < meanDims.length; m++) {
    const i = meanDims[m]!;
    let sum = 0;
    for (let k = 0, place = i * TERMS; k < TERMS; k++, place++) sum += coefficients[place]! * at[k]!;
    mean[i] = sum;
  }
  const n = changes.length;
  for (let a = 0; a < dims.length; a++) {
    const i = dims[a]!;
    const row = i * TERMS;
    for (let c = 0; c < n; c++) {
      const { places, by } = changes[c]!;
      let sum = 0;
      for (let m = 0; m < places.length; m++) sum += coefficients[row + places[m]!]! * by[m]!;
      change[a * CONDITIONS + c] = sum;
    }
    const triangle = (i * (i + 1)) / 2;
    for (let b = 0; b <= a; b++) {
      const j = dims[b]!;
      let sum = own[triangle + j]!;
      for (let c = 0; c < n; c++) sum += change[a * CONDITIONS + c]! * change[b * CONDITIONS + c]!;
      covariance[i * DIMS + j] = sum;
      covariance[j * DIMS + i] = sum;
    }
  }
}
