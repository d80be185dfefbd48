import { BadSample } from '#libs/numeric/index.js';
import { maximize } from '../likelihood/maximize.js';
import { cholesky, inverseDiagonal } from '../linear/cholesky.js';
import { normalUpper } from '../special/normal.js';
import { columnsOf, type Sample } from '../survival/sample.js';

/**
 * Parametric life of a repair, right-censored: Weibull or lognormal.
 *
 * ln T = mu + sigma Z; Weibull: Z smallest extreme value, S(t) = exp(-(t/eta)^beta), eta = e^mu, beta = 1/sigma; lognormal: Z standard normal
 * ln L = sum over ends of ln f(t) + sum over censored of ln S(t), with the 1/t of the density kept
 *
 * Every end > 0 is a failure; for one kind among several pass `causeOnly` (what life would be if the others did not happen: counterfactual).
 * times > 0. BadSample for fewer than two distinct failure times: the spread cannot then be told. beta > 1 means wearing out, < 1 early failure.
 * Checked on fans, shock absorbers (both modes) and ball bearings. Source: Meeker and Escobar (1998), Statistical Methods for Reliability Data, chapter 8.
 */
export type LifeLaw = 'weibull' | 'lognormal';

export interface LifeModel {
  readonly law: LifeLaw;
  readonly mu: number;
  readonly sigma: number;
  /** e^mu: the 63 % life (Weibull) or the median (lognormal). */
  readonly eta: number;
  readonly beta: number;
  readonly logLikelihood: number;
  readonly muError: number;
  readonly logSigmaError: number;
}

const HALF_LOG_TWO_PI = 0.5 * Math.log(2 * Math.PI);

export function fitLife(sample: Sample, law: LifeLaw = 'weibull'): LifeModel {
  const { time, end } = columnsOf(sample);
  const logs = time.map((t, i) => {
    if (!(t > 0)) throw new BadSample(`time ${i} is ${t}, not > 0`);
    return Math.log(t);
  });
  const failed = new Set<number>();
  logs.forEach((x, i) => {
    if (end[i]! > 0) failed.add(x);
  });
  if (failed.size < 2) throw new BadSample('a life model needs failures at two different times at least');
  const likelihood = ([mu, logSigma]: readonly number[]) => {
    const sigma = Math.exp(logSigma!);
    let sum = 0;
    logs.forEach((x, i) => {
      const z = (x - mu!) / sigma;
      if (law === 'weibull') sum += (end[i]! > 0 ? z - logSigma! - x : 0) - Math.exp(z);
      else sum += end[i]! > 0 ? -(z * z) / 2 - HALF_LOG_TWO_PI - logSigma! - x : Math.log(normalUpper(z));
    });
    return sum;
  };
  const middle = logs.reduce((a, b) => a + b, 0) / logs.length;
  const { at, value, information } = maximize(likelihood, [middle, -0.5]);
  const variance = inverseDiagonal(cholesky(information, 2), 2);
  const [mu, logSigma] = at as [number, number];
  return Object.freeze({
    law,
    mu,
    sigma: Math.exp(logSigma),
    eta: Math.exp(mu),
    beta: Math.exp(-logSigma),
    logLikelihood: value,
    muError: Math.sqrt(variance[0]!),
    logSigmaError: Math.sqrt(variance[1]!),
  });
}

/** Share of repairs that still hold at t > 0. */
export function lifeSurvival(model: LifeModel, t: number): number {
  const z = (Math.log(t) - model.mu) / model.sigma;
  return model.law === 'weibull' ? Math.exp(-Math.exp(z)) : normalUpper(z);
}
