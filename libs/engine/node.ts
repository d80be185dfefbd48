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
  /** One standard deviation of it among systems; absent where the effects are tabulated, null where the calibration does not hold it. */
  readonly lossSigma?: number | null;
  /** Its circuit comes from the system model, not from the tables of effects. */
  readonly simulated?: boolean;
  /** Prior share of this severity within its hypothesis. */
  readonly share: number;
  readonly mean: Float64Array;
  /** Covariance beyond the healthy one, row-major; null when there is none. */
  readonly spread: Float64Array | null;
}
