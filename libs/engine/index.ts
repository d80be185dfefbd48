export * from './codes.js';
export type * from './evidence.js';
export type { ConditionJudgement, JudgedReading, Judgement, JudgingContext } from './plausibility.js';
export { judgeConditions, judgeReading } from './plausibility.js';
export type * from './result.js';
export { ENGINE_VERSION } from './version.js';
