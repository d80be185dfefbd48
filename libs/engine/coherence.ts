import type { Heard } from './channels/channel.js';
import { DIMS } from './dims.js';
import type { Expectation } from './expectation.js';
import { density1 } from './gaussian.js';
import type { Measured } from './measure.js';
import type { HypothesisNode } from './node.js';
import { broadOf } from './posterior.js';

/** What one seating of port and transducer makes of the readings. */
export interface Seated {
  readonly weight: number;
  readonly measured: Measured;
  readonly own: readonly Heard[];
}

/**
 * Readings that do not belong together (another vehicle's, another day's, another place than written): each is one the bank knows, but on its own.
 *
 *   log p(evidence | apart) = sum over channels of log sum_n w_n L_n  +  sum over readings of log sum_n w_n t(x; mean_n, s sigma_n)
 *
 * w_n prior of node n; t the density of one reading (Student's, or wild), wider by s because its weather may be another one. Evidence that belongs together
 * is likelier under the joint density than under the product of its parts by the total correlation of the readings; foreign evidence is less likely.
 */
const WIDER = 2;

/** Log of the prior mean of a likelihood given as logs. */
function logMean(logs: Float64Array, weights: Float64Array): number {
  let best = Number.NEGATIVE_INFINITY;
  for (const x of logs) if (x > best) best = x;
  let sum = 0;
  for (let i = 0; i < logs.length; i++) sum += weights[i]! * Math.exp(logs[i]! - best);
  return best + Math.log(sum);
}

/** Log density of the evidence when its parts have nothing to do with one another. `weights` is the prior of the nodes. */
export function logApart(
  weights: Float64Array,
  nodes: readonly HypothesisNode[],
  twins: Int32Array,
  healthy: Expectation,
  channels: readonly Heard[],
  seated: readonly Seated[],
): number {
  // Nodes of one circuit speak once, with the weight of all.
  const mass = new Float64Array(nodes.length);
  for (let n = 0; n < nodes.length; n++) mass[twins[n]!]! += weights[n]!;
  const logs = seated.map(({ weight, measured, own }) => {
    let log = Math.log(weight);
    for (const { logs } of own) log += logMean(logs, weights);
    for (const i of measured.present) {
      const k = i * DIMS + i;
      const variance = healthy.covariance[k]! + measured.noise[k]!;
      let sum = 0;
      for (let n = 0; n < nodes.length; n++) {
        if (mass[n] === 0) continue;
        const { mean, spread } = nodes[n]!;
        const sigma = Math.sqrt(Math.max(variance + (spread === null ? 0 : spread[k]!), 1e-6));
        sum += mass[n]! * density1(measured.x[i]! - mean[i]!, WIDER * sigma, broadOf(i));
      }
      log += Math.log(sum);
    }
    return log;
  });
  const best = Math.max(...logs);
  let sum = 0;
  for (const log of logs) sum += Math.exp(log - best);
  let total = best + Math.log(sum);
  for (const { logs } of channels) total += logMean(logs, weights);
  return total;
}

/**
 * Start odds that a case's readings do not belong together, by pairs of running readings: the more there are, the better they witness for each other.
 * Set on the tempering seeds as high as costs cases of one vehicle less than 0.01 nats in every set of observations.
 */
const APART = 0.006;

/** Probability that the evidence does not belong together, from its log densities apart and together and the number of running readings. */
export function astray(apart: number, together: number, readings: number): number {
  if (readings < 2) return 0;
  const prior = 1 - (1 - APART) ** ((readings * (readings - 1)) / 2);
  return 1 / (1 + ((1 - prior) / prior) * Math.exp(Math.min(together - apart, 600)));
}
