import type { MeasurementErrorCode } from '../codes.js';
import { D0, D1, DIMS, E, L, PRESSURE_DIMS, Q1, Q2, TC, TV } from '../dims.js';
import type { Expectation } from '../expectation.js';
import type { Measured } from '../measure.js';
import { type HypothesisNode, hypothesisNode } from '../node.js';
import type { Room } from '../room.js';
import { looseNode } from './nodes.js';

const HIGH = new Set([D0, D1, Q1, Q2]);

/** Measurement errors as hypotheses of their own: what each instrument may show when it, not the vehicle, is at fault. */
export function mistakeNodes(healthy: Expectation, measured: Measured, room: Room): HypothesisNode[] {
  const gauge = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'gauge');
  const transducer = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'transducer');
  const restKnown = measured.rest.differencePa !== null;
  const nodes: HypothesisNode[] = [];
  const loose = (code: MeasurementErrorCode, dims: readonly number[], sigma: (dim: number) => number, share = 1) =>
    looseNode(
      code,
      healthy,
      dims.map((i) => [i, sigma(i)] as const),
      room,
      { share },
    );

  // Hand valves open join the gauges: both show one pressure in between; only their difference is known.
  const { mean: joined, covariance: spread } = room.take();
  joined.set(healthy.mean);
  const between = (healthy.mean[L]! + healthy.mean[D1]!) / 2;
  for (const i of gauge) joined[i] = between;
  const both = gauge.map((i) => [i, 0.8] as const);
  nodes.push(looseNode('manifold-valves-open', healthy, both, room, { common: 9, mean: joined }));

  const lowGauge = gauge.filter((i) => i === L || i === E);
  const highGauge = gauge.filter((i) => HIGH.has(i));
  if (lowGauge.length > 0) nodes.push(loose('port-not-opened', lowGauge, () => 18, 0.5));
  if (highGauge.length > 0) nodes.push(loose('port-not-opened', highGauge, () => 25, 0.5));
  if (gauge.length === 0) nodes.push(loose('port-not-opened', [], () => 0));

  // A bias seen at rest has been taken out of the running values; without a look at rest it is still in them.
  nodes.push(loose('gauge-bias', restKnown ? [] : gauge, (i) => (i === L || i === E ? 7 : 3)));
  nodes.push(loose('transducer-bias', restKnown ? [] : transducer, () => 4));

  spread.fill(0);
  for (const i of PRESSURE_DIMS) spread[i * DIMS + i] = 36;
  spread[TV * DIMS + TV] = 80;
  spread[TC * DIMS + TC] = 80;
  nodes.push(hypothesisNode('sample-unsettled', 0.5, 0, 1, healthy.mean, spread));
  return nodes;
}

/** A vehicle transducer off by anything: loose until a look at rest has shown it. */
export function sensorBiasNode(healthy: Expectation, measured: Measured, room: Room): HypothesisNode {
  const transducer = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'transducer');
  const loose = measured.rest.differencePa !== null ? [] : transducer.map((i) => [i, 7] as const);
  return looseNode('pressure-sensor-bias', healthy, loose, room);
}
