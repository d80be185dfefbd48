export { exactBinomial, type Interval, jeffreys, midPBinomial, wilson } from './intervals/binomial.js';
export { exactPoisson } from './intervals/poisson.js';
export { betaDensity, betaTails, logBeta } from './special/beta.js';
export {
  binomialAtLeast,
  binomialLower,
  binomialProbability,
  hypergeometricLower,
  hypergeometricProbability,
  negativeBinomialProbability,
  poissonLower,
  poissonProbability,
  poissonUpper,
} from './special/discrete.js';
export { digamma, gammaTails, logGamma, type Tails, trigamma } from './special/gamma.js';
export { chiSquareLower, chiSquareUpper, normalLower, normalQuantile, normalTwoSided, normalUpper, twoSidedZ } from './special/normal.js';
export { betaQuantile, chiSquareQuantile, gammaQuantile } from './special/quantile.js';
export { aalenJohansen, type CumulativeIncidence, type IncidenceCurve } from './survival/aalen-johansen.js';
export { kaplanMeier, type LimitScale, type SurvivalCurve, stepAt, survivalCurve } from './survival/kaplan-meier.js';
export { type GroupedSpell, type LogRank, type LogRankOptions, logRank } from './survival/log-rank.js';
export { type LifeQuantile, lifeQuantile } from './survival/quantile-of-life.js';
export { type RestrictedMean, restrictedMean } from './survival/restricted-mean.js';
export { type ReturnProbability, returnProbability } from './survival/return-probability.js';
export { numbersAtRisk, type RiskSets, riskSets } from './survival/risk-sets.js';
export type { Spell } from './survival/spell.js';
