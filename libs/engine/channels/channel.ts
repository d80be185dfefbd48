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

/** Standardised residual against healthy, or null. */
export function standardised(channel: Channel | undefined): number | null {
  if (!channel || channel.seen === null || channel.expectedHealthy === null || !channel.tolerance) return null;
  return (channel.seen - channel.expectedHealthy) / channel.tolerance;
}
