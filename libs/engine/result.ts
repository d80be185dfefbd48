import type { FaultCode, HypothesisCode, Place } from './codes.js';

/* Arrays are plain (not readonly) so that the result fits any wire shape with the same fields. Nobody writes to them. */

export interface TrustFinding {
  /** Word code of the check, e.g. rest-agreement, unit-slip. */
  code: string;
  level: 'ok' | 'note' | 'doubt' | 'stop';
  readings: string[];
  message: string;
  remedy: string | null;
}

/** A value with its 90 % interval. */
export interface Interval {
  value: number;
  low: number;
  high: number;
}

export interface FaultProbability {
  code: HypothesisCode;
  name: string;
  probability: number;
  /** 0 to 1; null where a size has no meaning. */
  severity: Interval | null;
  /** Share of cooling capacity lost. */
  capacityLost: Interval | null;
  /** The fault that brought this one about and may still be in place. */
  cascade: FaultCode | null;
}

export type EvidenceSize = 'strong-for' | 'for' | 'slight-for' | 'neutral' | 'slight-against' | 'against' | 'strong-against';

export interface EvidenceWeight {
  code: HypothesisCode;
  /** Natural log of this hypothesis's likelihood over the average of the others. */
  logOdds: number;
  size: EvidenceSize;
}

export interface LedgerLine {
  observation: string;
  readings: string[];
  label: string;
  seen: number | null;
  expectedHealthy: number | null;
  /** One standard deviation, same unit. */
  tolerance: number | null;
  unit: string | null;
  weights: EvidenceWeight[];
}

export interface Prediction {
  observation: string;
  label: string;
  unit: string;
  seen: number | null;
  healthy: number | null;
  leader: number | null;
  runnerUp: number | null;
}

export interface Restriction {
  after: Place;
  before: Place;
  /** Pressure lost beyond the healthy drop, Pa. */
  dropPa: number;
  candidates: FaultCode[];
  /** Height on the condenser face, 0 top to 1 bottom. */
  heightShare: number | null;
  message: string;
}

/** A height of the condenser face, 0 top to 1 bottom. */
export interface FaceRow {
  height: number;
  temperatureK: number;
  /** What a sound condenser that agrees with the rows above the step would show here, K. */
  healthyK: number;
}

/** What a thermal map of the condenser face shows once the healthy profile is taken out. */
export interface ThermalPicture {
  rows: FaceRow[];
  /** Largest fall from one height to the next beyond the healthy one, K, and its height. */
  stepK: number;
  stepAt: number;
  /** Height where subcooling begins on this layout, and the fall over it beyond the healthy one; null where it has none. */
  boundaryAt: number | null;
  boundaryStepK: number | null;
  /** Coldest condensing row less the air in front of it, K. */
  coldestAboveAirK: number;
  /** Temperatures left out because another cooler's warm air stands there. */
  leftOut: number;
  verdict: 'step-inside' | 'step-at-cartridge' | 'no-step';
  message: string;
}

/** What a pressure did in time, in the reference of its trace. */
export interface TracePicture {
  /** Which of the traces, from 0. */
  trace: number;
  place: Place;
  seconds: number;
  /** Where it stayed: the mean over whole cycles, or the middle of a last quarter that no longer drifts; null while it drifts. */
  settledPa: number | null;
  /** Low side only: the fall, and its middle eight tenths in time. */
  pullDown: { seconds: number; fallPa: number; paPerMinute: number } | null;
  cycling: { cycles: number; periodSeconds: number; duty: number; lowPa: number; highPa: number; meanPa: number } | null;
  message: string;
}

export interface NextTest {
  code: string;
  name: string;
  why: string;
  how: string;
  handsOnMinutes: number;
  waitMinutes: number;
  separates: HypothesisCode[];
  /** Expected lowering of wrong-repair cost per minute, in shares of a full repair. */
  savingPerMinute: number;
  destroysEvidence: boolean;
}

export interface Caution {
  code: string;
  text: string;
}

export interface Signature {
  version: string;
  /** Standardised residuals in the order of the version; null where not read. */
  values: (number | null)[];
}

export interface EngineResult {
  engineVersion: string;
  /** Sound readings of this very vehicle from earlier visits that it was judged by. */
  ownReadings: number;
  status: 'answered' | 'cannot-tell';
  reason: string | null;
  summary: string;
  ownerParagraph: string;
  trust: TrustFinding[];
  faults: FaultProbability[];
  tied: HypothesisCode[];
  /** Faults these readings cannot tell apart, class by class: those with a fault of some probability here. */
  alike: HypothesisCode[][];
  ledger: LedgerLine[];
  predictions: Prediction[];
  contradictions: string[];
  restriction: Restriction | null;
  thermal: ThermalPicture | null;
  traces: TracePicture[];
  unseen: FaultCode[];
  notModelled: string[];
  nextTests: NextTest[];
  cautions: Caution[];
  signature: Signature;
}

/** One entry of the catalogue. */
export interface CatalogueEntry {
  code: HypothesisCode;
  name: string;
  kind: 'fault' | 'measurement';
  layouts: string[];
  mechanism: string;
  provedBy: string;
  causes: string;
  leadsTo: FaultCode[];
  temporaryRemedy: string | null;
  permanentRemedy: string | null;
  caution: string | null;
  seenBy: string[];
}
