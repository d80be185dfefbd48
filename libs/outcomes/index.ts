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
