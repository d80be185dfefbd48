import type { FaultCode, HypothesisCode } from './codes.js';
import { DIMS } from './dims.js';
import type { Expectation } from './expectation.js';
import { logDensity, type Precision, precision } from './gaussian.js';
import type { NodeGroup } from './groups.js';
import type { Measured } from './measure.js';
import type { HypothesisNode } from './node.js';

/** Width over which a wild reading may fall, in the units of each dimension: any needle position, any probe temperature, any share. */
const BROAD = [90, 90, 100, 100, 100, 100, 100, 100, 100, 150, 60, 60, 1.2, 1.2, 1.5];
export const broadOf = (dim: number): number => BROAD[dim]!;

/**
 * Log likelihood of the running circuit for every node: residuals of the readings that are there, missing ones marginalised by leaving them
 * out, under healthy hardware + effect doubt + instrument covariance.
 */
export function circuitLikelihoods(
  nodes: readonly HypothesisNode[],
  twins: Int32Array,
  healthy: Expectation,
  measured: Measured,
): Float64Array {
  const { present, x, noise } = measured;
  const d = present.length;
  const out = new Float64Array(nodes.length);
  if (d === 0) return out;
  const logBroad = Float64Array.from(present, (i) => -Math.log(BROAD[i]!));
  const at = Int32Array.from(present);
  const seen = Float64Array.from(present, (i) => x[i]!);
  const base = new Float64Array(d * d);
  // Of a covariance the lower half is enough for its precision.
  for (let a = 0; a < d; a++) {
    for (let b = 0; b <= a; b++) {
      const k = at[a]! * DIMS + at[b]!;
      base[a * d + b] = healthy.covariance[k]! + noise[k]!;
    }
  }
  const plain = precision(base, d);
  const r = new Float64Array(d);
  const work = new Float64Array(d * d);
  const inverse = new Float64Array(d * d);
  for (let index = 0; index < nodes.length; index++) {
    if (twins[index] !== index) {
      out[index] = out[twins[index]!]!;
      continue;
    }
    const { mean, spread } = nodes[index]!;
    for (let a = 0; a < d; a++) r[a] = seen[a]! - mean[at[a]!]!;
    let p: Precision = plain;
    if (spread !== null) {
      for (let a = 0; a < d; a++) {
        const row = at[a]! * DIMS;
        for (let b = 0; b <= a; b++) work[a * d + b] = base[a * d + b]! + spread[row + at[b]!]!;
      }
      p = precision(work, d, inverse);
    }
    out[index] = logDensity(r, p, logBroad);
  }
  return out;
}

export interface Posterior {
  /** Probability of each node, aligned with the nodes. */
  readonly nodes: Float64Array;
  /** Probability of each code, over its severities and cascades. */
  readonly codes: ReadonlyMap<HypothesisCode, number>;
  /** Probability of each code with one cascade cause. */
  readonly pairs: ReadonlyMap<string, number>;
}

export const pairKey = (code: HypothesisCode, cascade: FaultCode | null) => (cascade === null ? code : `${code}<${cascade}`);

/**
 * Normalised probabilities: those of the hypotheses to the power of `confidence`, severities and cascades in proportion; of the whole the share `astray` falls
 * back to the prior. Several seatings of the ports are mixed by their weights before.
 */
export function normalise(
  groups: readonly NodeGroup[],
  logWeights: Float64Array,
  prior: Float64Array,
  astray: number,
  confidence = 1,
): Posterior {
  let max = Number.NEGATIVE_INFINITY;
  for (const w of logWeights) if (w > max) max = w;
  const probabilities = logWeights.map((w) => Math.exp(w - max));
  if (confidence !== 1) {
    const sums = new Map<HypothesisCode, number>();
    for (const { code, members } of groups) {
      let sum = sums.get(code) ?? 0;
      for (const i of members) sum += probabilities[i]!;
      sums.set(code, sum);
    }
    for (const { code, members } of groups) {
      const factor = Math.max(sums.get(code)!, 1e-300) ** (confidence - 1);
      for (const i of members) probabilities[i]! *= factor;
    }
  }
  let total = 0;
  for (const p of probabilities) total += p;
  for (let i = 0; i < probabilities.length; i++) probabilities[i] = ((1 - astray) * probabilities[i]!) / total + astray * prior[i]!;
  const codes = new Map<HypothesisCode, number>();
  const pairs = new Map<string, number>();
  for (const { code, cascade, members } of groups) {
    let sum = 0;
    for (const i of members) sum += probabilities[i]!;
    codes.set(code, (codes.get(code) ?? 0) + sum);
    pairs.set(pairKey(code, cascade), sum);
  }
  return { nodes: probabilities, codes, pairs };
}
