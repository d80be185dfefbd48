export { type ChebyshevSeries, clenshaw, differentiateChebyshev, evaluateChebyshev, fitChebyshev } from './chebyshev.js';
export { BadSample, NoConvergence, OutOfRange } from './errors.js';
export { brent, type RootOptions, safeguardedNewton } from './roots.js';
