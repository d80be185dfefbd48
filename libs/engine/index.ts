export {
  isRelated,
  type KnownGood,
  type KnownPlatform,
  platformCalibration,
  RELATED_NEEDED,
  SHOPS_NEEDED,
} from './calibration/platform.js';
export { OWN_AT_MOST } from './calibration/vehicle.js';
export { CATALOGUE, entryOf } from './catalogue/entries.js';
export * from './codes.js';
export { type CircuitCycles, type CircuitState, circuitCycles } from './cycle.js';
export { diagnose, expectedHealthy, type HealthyExpectation } from './diagnose.js';
export { DIM_NAMES } from './dims.js';
export type * from './evidence.js';
export type { ConditionJudgement, JudgedReading, Judgement, JudgingContext } from './plausibility.js';
export { judgeConditions, judgeReading } from './plausibility.js';
export type * from './result.js';
export { signatureDimensions, signatureVersion } from './signature.js';
export { explainBySimulation, type SimulatedExplanation } from './simulation/explain.js';
export { trustChecks } from './trust.js';
export { ENGINE_VERSION } from './version.js';
