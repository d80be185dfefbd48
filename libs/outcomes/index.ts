export {
  DIAGNOSIS_OUTCOMES,
  type DiagnosisOutcome,
  diagnosisOutcome,
  type FiveOutcomes,
  fiveOutcomes,
  type OutcomeShare,
  type Verdict,
  type WarningSkill,
  warningSkill,
} from './calibration/five-outcomes.js';
export {
  type BinnedReliability,
  binnedReliability,
  type Corp,
  corp,
  type ReliabilityBin,
} from './calibration/reliability.js';
export { type ReliabilityCurve, type ReliabilityStep, reliabilityCurve } from './calibration/reliability-curve.js';
export { brierScore, classScores, type Forecasts, logScore } from './calibration/scores.js';
export { type CalibrationLine, calibrationLine } from './calibration/slope.js';
export { beggGreenes, type Called, type Verification, type VerifiedRate } from './calibration/verification.js';
export { type CalledStratum, type VerifiedShare, verifiedShare } from './calibration/verified-share.js';
export {
  COOLING_BASE_C,
  coolingDegreeDays,
  degreeDayTable,
  degreeDayTableFromMonths,
  type MonthNormal,
  observedDegreeDays,
} from './heat/degree-days.js';
export { type DatedEpisodes, fitHeatClock, type HeatClockFit, type HeatClockOptions, heatTime } from './heat/heat-clock.js';
export { endOfHotSeason } from './heat/season.js';
export { type BreakEven, breakEven, type HoldingOdds, holdingOdds, type RepairOption } from './holding/holding-odds.js';
export { exactBinomial, type Interval, jeffreys, midPBinomial, wilson } from './intervals/binomial.js';
export { exactPoisson } from './intervals/poisson.js';
export { fitLife, type LifeLaw, type LifeModel, lifeSurvival } from './models/life-model.js';
export { type CovariateSpell, type ProportionalHazards, proportionalHazards, type TieRule } from './models/proportional-hazards.js';
export { type RateRegression, type RateRow, rateRegression } from './models/rate-regression.js';
export { type Adjustment, adjustedP, type Family, type Selection, selectFamilies } from './multiplicity/benjamini-hochberg.js';
export { DEFAULT_STRATA, type ProvedFault, type StratumRule, type VehicleHistory } from './patterns/history.js';
export { type PairRule, type PairTable, pairTables } from './patterns/pair-table.js';
export { type Pattern, type PatternHalf, type PatternOptions, type PatternVerdict, recurringPatterns } from './patterns/score.js';
export { type ExactOdds, exactOdds, type FourfoldTable, mantelHaenszelOdds, type OddsRatio } from './rates/odds-ratio.js';
export {
  type Exposure,
  kindAt,
  type Rate,
  rate,
  type SplitRule,
  splitAtEvent,
  type TimePart,
  type WatchedTime,
} from './rates/person-time.js';
export {
  type ExactRateRatio,
  exactRateRatio,
  mantelHaenszelRate,
  type RateRatio,
  type RateStratum,
  type StratifiedExact,
  stratifiedExact,
} from './rates/rate-ratio.js';
export { type MeanCumulative, meanCumulative, type RecurrentHistory } from './recurrent/mean-cumulative.js';
export {
  binomialMidP,
  type Funnel,
  type FunnelOptions,
  type Overdispersion,
  overdispersion,
  poissonMidP,
  proportionLimits,
  ratioLimits,
  type ShopCount,
  type ShopPlace,
  shopFunnel,
} from './shops/funnel.js';
export { type PeriodCount, type PolicyCounts, type PolicyEffect, policyEffect } from './shops/policy-effect.js';
export { type ConjugateFit, type CountOf, fitBetaBinomial, fitGammaPoisson, type RateOf } from './shrinkage/conjugate.js';
export {
  type CountCell,
  fitGammaMixture,
  type GammaMixture,
  type GammaMixtureFit,
  gammaMixtureLog,
  type ShrunkRatio,
  shrunkRatio,
  type ZeroTruncation,
} from './shrinkage/gamma-poisson-shrinker.js';
export { type ShrunkCellRate, shrunkRates } from './shrinkage/shrunk-rates.js';
export {
  type ShownRate,
  type ShrunkRate,
  type SmallCell,
  type SmallCellOptions,
  type SmallCellRate,
  smallCellRates,
} from './shrinkage/small-cells.js';
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
export {
  type CusumDesign,
  type CusumStep,
  type CusumWeek,
  countCusum,
  cusumScore,
  poissonReference,
} from './surveillance/cusum.js';
export { countDispersion } from './surveillance/dispersion.js';
export { type LearnedWeek, learnedExpectations, predictiveSize } from './surveillance/learning.js';
export { type RecordedDelay, reportingDelay } from './surveillance/reporting-delay.js';
export {
  type CountChart,
  countRunLength,
  cusumThreshold,
  familyRunLength,
  type SeasonalChart,
  seasonalRunLength,
} from './surveillance/run-length.js';
export { type RangeScan, type RangeScanOptions, rangeScan, type ScanProbability, scanProbability } from './surveillance/scan.js';
export { aalenJohansen, type IncidenceCurve, incidenceCurve } from './survival/aalen-johansen.js';
export { type Holding, kaplanMeier, type LimitScale, type SurvivalCurve, survivalAt, survivalCurve } from './survival/kaplan-meier.js';
export { type LifeQuantile, lifeQuantile } from './survival/life-quantile.js';
export { type LinkageWeighted, linkageWeighted, linkageWeightedBy } from './survival/linkage.js';
export { type LogRank, type LogRankWeight, logRank } from './survival/log-rank.js';
export { type RestrictedMean, restrictedMean } from './survival/restricted-mean.js';
export { probabilityBy, type ReturnProbability, returnProbability } from './survival/return-probability.js';
export { atRiskAt, numbersAtRisk, type RiskSets, regrouped, riskSets, stepAt } from './survival/risk-sets.js';
export { type Columns, causeOnly, type Sample, type Spell } from './survival/sample.js';
