import type { HypothesisNode } from '../node.js';

/** One observation outside the running circuit, with its likelihood under every hypothesis. */
export interface Channel {
  readonly observation: string;
  readonly label: string;
  readonly readings: readonly string[];
  readonly seen: number | null;
  readonly expectedHealthy: number | null;
  readonly tolerance: number | null;
  readonly unit: string | null;
  readonly logLikelihood: (node: HypothesisNode) => number;
}

/** A channel with what it says about every node, in their order: reckoned once, used by posterior, ledger and contradictions. */
export interface Heard extends Channel {
  readonly logs: Float64Array;
}

export function heard(channel: Channel, nodes: readonly HypothesisNode[]): Heard {
  const logs = new Float64Array(nodes.length);
  for (let i = 0; i < nodes.length; i++) logs[i] = channel.logLikelihood(nodes[i]!);
  return { ...channel, logs };
}

/** Standardised residual against healthy, or null. */
export function standardised(channel: Channel | undefined): number | null {
  if (!channel || channel.seen === null || channel.expectedHealthy === null || !channel.tolerance) return null;
  return (channel.seen - channel.expectedHealthy) / channel.tolerance;
}
