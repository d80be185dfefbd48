export { type ChebyshevSeries, clenshaw, differentiateChebyshev, evaluateChebyshev, fitChebyshev } from './chebyshev.js';
export { bicubicAt, bicubicPatches, hermiteCubic, splineSlopes } from './cubic.js';
export { BadSample, NoConvergence, OutOfRange } from './errors.js';
export { brent, type RootOptions, safeguardedNewton } from './roots.js';
