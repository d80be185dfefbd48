import { BadSample, NoConvergence } from '#libs/numeric/index.js';
import { cholesky, inverseDiagonal, solveCholesky } from '../linear/cholesky.js';

/**
 * Poisson regression of event counts on covariates with exposure: ln E[d] = ln(time) + x b.
 *
 * Iteratively reweighted least squares from the counts; errors from the inverse information; deviance 2 sum d ln(d/mu) - (d - mu)
 *
 * On person-time split at events and seasons this is the piecewise exponential model (Holford 1980; Laird and Olivier 1981).
 * covariates: as many numbers a row, a column of ones for the intercept given by the caller. time > 0. BadSample when columns depend on each
 * other; NoConvergence when a coefficient runs to infinity (a group without events). Checked on the British doctors.
 * Source: McCullagh and Nelder (1989), Generalized Linear Models, chapter 6.
 */
export interface RateRow {
  readonly events: number;
  readonly time: number;
  readonly covariates: readonly number[];
}

export interface RateRegression {
  readonly coefficients: readonly number[];
  readonly errors: readonly number[];
  readonly deviance: number;
  readonly df: number;
}

const ITERATIONS = 50;

export function rateRegression(rows: readonly RateRow[]): RateRegression {
  const size = rows[0]?.covariates.length ?? 0;
  if (size === 0 || rows.length < size) throw new BadSample(`${rows.length} rows for ${size} coefficients`);
  rows.forEach(({ events, time, covariates }, i) => {
    if (!(events >= 0 && time > 0) || covariates.length !== size) throw new BadSample(`row ${i}: ${events} events in ${time}`);
  });
  const mu = Float64Array.from(rows, (r) => r.events + 0.1);
  let b: Float64Array = new Float64Array(size);
  let deviance = Number.POSITIVE_INFINITY;
  for (let iteration = 0; iteration < ITERATIONS; iteration++) {
    const information = new Float64Array(size * size);
    const right = new Float64Array(size);
    rows.forEach(({ events, time, covariates }, i) => {
      const working = Math.log(mu[i]! / time) + (events - mu[i]!) / mu[i]!;
      for (let j = 0; j < size; j++) {
        right[j]! += mu[i]! * covariates[j]! * working;
        for (let k = 0; k < size; k++) information[j * size + k]! += mu[i]! * covariates[j]! * covariates[k]!;
      }
    });
    const factor = cholesky(information, size);
    b = solveCholesky(factor, right, size);
    rows.forEach(({ time, covariates }, i) => {
      mu[i] = time * Math.exp(covariates.reduce((sum, x, k) => sum + x * b[k]!, 0));
    });
    const next = 2 * rows.reduce((sum, { events: d }, i) => sum + (d > 0 ? d * Math.log(d / mu[i]!) : 0) - (d - mu[i]!), 0);
    if (Math.abs(next - deviance) < 1e-11 * (1 + Math.abs(next))) {
      const errors = Object.freeze(Array.from(inverseDiagonal(factor, size), Math.sqrt));
      return Object.freeze({ coefficients: Object.freeze([...b]), errors, deviance: next, df: rows.length - size });
    }
    deviance = next;
  }
  throw new NoConvergence('Poisson regression', ITERATIONS, deviance);
}
