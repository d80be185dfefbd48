import type { Channel } from './channels/channel.js';
import type { FaultCode, HypothesisCode } from './codes.js';
import { DIMS } from './dims.js';
import type { Expectation } from './expectation.js';
import { logDensity, type Precision, precision } from './gaussian.js';
import type { Measured } from './measure.js';
import type { HypothesisNode } from './node.js';

/** A node with its log likelihood, split into circuit and channels. */
export interface WeighedNode {
  readonly node: HypothesisNode;
  readonly circuit: number;
  readonly channels: number;
  /** log(prior x share) + log likelihood, before normalisation. */
  readonly logWeight: number;
}

/** Width over which a wild reading may fall, in the units of each dimension: any needle position, any probe temperature, any share. */
const BROAD = [90, 90, 100, 100, 100, 100, 100, 100, 100, 150, 60, 60, 1.2, 1.2, 1.5];
export const broadOf = (dim: number): number => BROAD[dim]!;

/**
 * Log likelihood of the running circuit for every node: residuals of the readings that are there, missing ones marginalised by leaving them
 * out, under healthy hardware + effect doubt + instrument covariance.
 */
export function circuitLikelihoods(nodes: readonly HypothesisNode[], healthy: Expectation, measured: Measured): Float64Array {
  const { present, x, noise } = measured;
  const d = present.length;
  const out = new Float64Array(nodes.length);
  if (d === 0) return out;
  const logBroad = Float64Array.from(present, (i) => -Math.log(BROAD[i]!));
  const base = new Float64Array(d * d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      const k = present[a]! * DIMS + present[b]!;
      base[a * d + b] = healthy.covariance[k]! + noise[k]!;
    }
  }
  const plain = precision(base, d);
  const r = new Float64Array(d);
  const work = new Float64Array(d * d);
  // A cascade shows the circuit of its effect: the same mean and spread are weighed once.
  const done = new Map<Float64Array, { spread: Float64Array | null; value: number }>();
  nodes.forEach((node, index) => {
    const known = done.get(node.mean);
    if (known && known.spread === node.spread) {
      out[index] = known.value;
      return;
    }
    for (let a = 0; a < d; a++) r[a] = x[present[a]!]! - node.mean[present[a]!]!;
    let p: Precision = plain;
    if (node.spread !== null) {
      for (let a = 0; a < d; a++)
        for (let b = 0; b < d; b++) work[a * d + b] = base[a * d + b]! + node.spread[present[a]! * DIMS + present[b]!]!;
      p = precision(work, d);
    }
    out[index] = logDensity(r, p, logBroad);
    done.set(node.mean, { spread: node.spread, value: out[index]! });
  });
  return out;
}

/** Weights of every node from prior, circuit and channels. */
export function weigh(
  nodes: readonly HypothesisNode[],
  logPrior: (node: HypothesisNode) => number,
  circuit: Float64Array,
  channels: readonly Channel[],
): WeighedNode[] {
  return nodes.map((node, i) => {
    let sum = 0;
    for (const channel of channels) sum += channel.logLikelihood(node);
    return { node, circuit: circuit[i]!, channels: sum, logWeight: logPrior(node) + circuit[i]! + sum };
  });
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

/** Normalised probabilities; several seatings of the ports are mixed by their weights before. */
export function normalise(nodes: readonly HypothesisNode[], logWeights: Float64Array): Posterior {
  let max = Number.NEGATIVE_INFINITY;
  for (const w of logWeights) if (w > max) max = w;
  const probabilities = new Float64Array(nodes.length);
  let total = 0;
  for (let i = 0; i < nodes.length; i++) {
    probabilities[i] = Math.exp(logWeights[i]! - max);
    total += probabilities[i]!;
  }
  const codes = new Map<HypothesisCode, number>();
  const pairs = new Map<string, number>();
  for (let i = 0; i < nodes.length; i++) {
    probabilities[i]! /= total;
    const { code, cascade } = nodes[i]!;
    codes.set(code, (codes.get(code) ?? 0) + probabilities[i]!);
    const key = pairKey(code, cascade);
    pairs.set(key, (pairs.get(key) ?? 0) + probabilities[i]!);
  }
  return { nodes: probabilities, codes, pairs };
}
