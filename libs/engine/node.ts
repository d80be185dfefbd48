import type { FaultCode, HypothesisCode } from './codes.js';

/** One severity of one hypothesis, with what it makes the running circuit show. */
export interface HypothesisNode {
  readonly code: HypothesisCode;
  /** The fault that brought this one about, for a pair along a leads-to edge. */
  readonly cascade: FaultCode | null;
  /** 0 to 1. */
  readonly severity: number;
  /** Share of cooling capacity lost. */
  readonly capacityLost: number;
  /** One standard deviation of it among systems; null where the effects are tabulated. */
  readonly lossSigma: number | null;
  /** Its circuit comes from the system model, not from the tables of effects. */
  readonly simulated: boolean;
  /** Prior share of this severity within its hypothesis. */
  readonly share: number;
  readonly mean: Float64Array;
  /** Covariance beyond the healthy one, row-major; null when there is none. */
  readonly spread: Float64Array | null;
}

/**
 * Every node is made here, so that all have one shape: the loops over the nodes of a case are most of its cost, and machine code made for nodes of one shape
 * is thrown away and made again at each further one.
 */
export function hypothesisNode(
  code: HypothesisCode,
  severity: number,
  capacityLost: number,
  share: number,
  mean: Float64Array,
  spread: Float64Array | null,
  cascade: FaultCode | null = null,
  simulated = false,
  lossSigma: number | null = null,
): HypothesisNode {
  return { code, cascade, severity, capacityLost, lossSigma, simulated, share, mean, spread };
}
