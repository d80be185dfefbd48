export { type ChebyshevSeries, clenshaw, differentiateChebyshev, evaluateChebyshev, fitChebyshev } from './chebyshev.js';
export { bicubicAt, bicubicPatches, hermiteCubic, splineSlopes } from './cubic.js';
export { BadSample, NoConvergence, OutOfRange } from './errors.js';
export { solveLinear } from './linear.js';
export { dampedNewton, type NewtonOptions, type NewtonResult } from './newton.js';
export { type Random, sfc32 } from './random.js';
export { brent, type RootOptions, safeguardedNewton } from './roots.js';
export { rSequence } from './sequence.js';
