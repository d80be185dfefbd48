export { BadSample, NoConvergence, OutOfRange } from './errors.js';
