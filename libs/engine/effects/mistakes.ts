import type { MeasurementErrorCode } from '../codes.js';
import { D0, D1, DIMS, E, L, PRESSURE_DIMS, Q1, Q2, TC, TV } from '../dims.js';
import type { Expectation } from '../expectation.js';
import type { Measured } from '../measure.js';
import type { HypothesisNode } from '../node.js';
import { looseNode } from './nodes.js';

const HIGH = new Set([D0, D1, Q1, Q2]);

/** Measurement errors as hypotheses of their own: what each instrument may show when it, not the vehicle, is at fault. */
export function mistakeNodes(healthy: Expectation, measured: Measured): HypothesisNode[] {
  const gauge = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'gauge');
  const transducer = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'transducer');
  const restKnown = measured.rest.differencePa !== null;
  const nodes: HypothesisNode[] = [];
  const add = (code: MeasurementErrorCode, node: HypothesisNode, share = 1) => nodes.push({ ...node, code, share });

  // Hand valves open join the gauges: both show one pressure in between; only their difference is known.
  const joined = new Float64Array(healthy.mean);
  const between = (healthy.mean[L]! + healthy.mean[D1]!) / 2;
  for (const i of gauge) joined[i] = between;
  const open = looseNode(
    'manifold-valves-open',
    healthy,
    gauge.map((i) => [i, 0.8] as const),
    9,
  );
  add('manifold-valves-open', { ...open, mean: joined });

  const lowGauge = gauge.filter((i) => i === L || i === E);
  const highGauge = gauge.filter((i) => HIGH.has(i));
  if (lowGauge.length > 0)
    add(
      'port-not-opened',
      looseNode(
        'port-not-opened',
        healthy,
        lowGauge.map((i) => [i, 18] as const),
      ),
      0.5,
    );
  if (highGauge.length > 0)
    add(
      'port-not-opened',
      looseNode(
        'port-not-opened',
        healthy,
        highGauge.map((i) => [i, 25] as const),
      ),
      0.5,
    );
  if (gauge.length === 0) add('port-not-opened', looseNode('port-not-opened', healthy, []));

  // A bias seen at rest has been taken out of the running values; without a look at rest it is still in them.
  add('gauge-bias', looseNode('gauge-bias', healthy, restKnown ? [] : gauge.map((i) => [i, i === L || i === E ? 7 : 3] as const)));
  add('transducer-bias', looseNode('transducer-bias', healthy, restKnown ? [] : transducer.map((i) => [i, 4] as const)));

  const spread = new Float64Array(DIMS * DIMS);
  for (const i of PRESSURE_DIMS) spread[i * DIMS + i] = 36;
  spread[TV * DIMS + TV] = 80;
  spread[TC * DIMS + TC] = 80;
  add('sample-unsettled', { ...looseNode('sample-unsettled', healthy, []), spread });
  return nodes;
}

/** A vehicle transducer off by anything: loose until a look at rest has shown it. */
export function sensorBiasNode(healthy: Expectation, measured: Measured): HypothesisNode {
  const transducer = PRESSURE_DIMS.filter((i) => measured.devices[i] === 'transducer');
  const loose = measured.rest.differencePa !== null ? [] : transducer.map((i) => [i, 7] as const);
  return looseNode('pressure-sensor-bias', healthy, loose);
}
