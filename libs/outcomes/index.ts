export {
  COOLING_BASE_C,
  coolingDegreeDays,
  degreeDayTable,
  degreeDayTableFromMonths,
  type MonthNormal,
} from './heat/degree-days.js';
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
export { aalenJohansen, type IncidenceCurve, incidenceCurve } from './survival/aalen-johansen.js';
export { kaplanMeier, type LimitScale, type SurvivalCurve, survivalCurve } from './survival/kaplan-meier.js';
export { type LifeQuantile, lifeQuantile } from './survival/life-quantile.js';
export { type LogRank, type LogRankWeight, logRank } from './survival/log-rank.js';
export { type ProbabilityBy, probabilityBy } from './survival/probability-by.js';
export { type RestrictedMean, restrictedMean } from './survival/restricted-mean.js';
export { numbersAtRisk, type RiskSets, riskSets, stepAt } from './survival/risk-sets.js';
export { causeOnly, type Sample } from './survival/sample.js';
