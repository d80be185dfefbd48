import { BadSample } from '#libs/numeric/index.js';
import { maximize } from '../likelihood/maximize.js';
import { negativeBinomialLog } from '../special/discrete.js';
import { digamma, logGamma } from '../special/gamma.js';
import { gammaMixtureQuantile } from './gamma-mixture-quantile.js';

/**
 * Gamma-Poisson shrinker: ratios of observed to expected counts over many pairs, most of which are not special.
 *
 * n ~ Poisson(l e), l ~ P Gamma(a1, b1) + (1 - P) Gamma(a2, b2)
 * Q = posterior weight of the first part; EBGM = exp{Q [psi(a1 + n) - ln(b1 + e)] + (1 - Q)[psi(a2 + n) - ln(b2 + e)]}
 * EB05, EB95: 5 % and 95 % quantiles of the posterior mixture of gammas
 *
 * n: count; e > 0: expected count; weight: how many cells share that n and e (default 1).
 * truncation: `none` keeps zero cells (right where, as here, all pairs that could occur are known); `mixture` is the coherent likelihood when
 * zero cells were dropped; `component` truncates each part by itself, as published software does: another model, for comparison only.
 * pull: a part without data runs away; pull times the squared distance of the log parameters from `start` is taken off the log likelihood. The
 * default moves a well determined fit by less than its rounding; some hundred cells with few events need about 0.01 (a prior deviation of e^7).
 * Sources: DuMouchel (1999), Am. Stat. 53:177; DuMouchel and Pregibon (2001).
 * Checked on the scores and fit printed for a public agency's data (17,189 cells).
 */
export interface GammaMixture {
  readonly a1: number;
  readonly b1: number;
  readonly a2: number;
  readonly b2: number;
  readonly share: number;
}

export interface CountCell {
  readonly n: number;
  readonly e: number;
  readonly weight?: number;
}

export type ZeroTruncation = 'none' | 'mixture' | 'component';

export function gammaMixtureLog(cells: readonly CountCell[], prior: GammaMixture, truncation: ZeroTruncation = 'none'): number {
  const { a1, b1, a2, b2, share } = prior;
  const { exp, log, log1p } = Math;
  const coefficient1 = coefficients(a1);
  const coefficient2 = coefficients(a2);
  let sum = 0;
  for (const { n, e, weight = 1 } of cells) {
    const first = coefficient1(n) - a1 * log1p(e / b1) + n * log(e / (b1 + e));
    const second = coefficient2(n) - a2 * log1p(e / b2) + n * log(e / (b2 + e));
    const zero1 = exp(-a1 * log1p(e / b1));
    const zero2 = exp(-a2 * log1p(e / b2));
    let value: number;
    if (truncation === 'component') value = log((share * exp(first)) / (1 - zero1) + ((1 - share) * exp(second)) / (1 - zero2));
    else {
      value = log(share * exp(first) + (1 - share) * exp(second));
      if (truncation === 'mixture') value -= log(1 - share * zero1 - (1 - share) * zero2);
    }
    sum += weight * value;
  }
  return sum;
}

/** ln Gamma(a + n)/(Gamma(a) n!), each count once: tables have few distinct ones. */
function coefficients(a: number): (n: number) => number {
  const known: number[] = [];
  const base = logGamma(a);
  return (n) => {
    known[n] ??= logGamma(a + n) - base - logGamma(n + 1);
    return known[n];
  };
}

/** ln P(n) of one part: negative binomial with mean a e/b and size a. */
function partLog(n: number, e: number, a: number, b: number): number {
  return negativeBinomialLog(n, (a * e) / b, a);
}

export interface GammaMixtureFit extends GammaMixture {
  readonly logLikelihood: number;
}

const DEFAULT_START: GammaMixture = { a1: 0.2, b1: 0.1, a2: 2, b2: 4, share: 1 / 3 };

export function fitGammaMixture(
  cells: readonly CountCell[],
  truncation: ZeroTruncation = 'none',
  start: GammaMixture = DEFAULT_START,
  pull = 1e-9,
): GammaMixtureFit {
  cells.forEach(({ n, e }, i) => {
    if (!(Number.isInteger(n) && n >= 0 && e > 0 && e < Number.POSITIVE_INFINITY))
      throw new BadSample(`cell ${i}: count ${n}, expected ${e}`);
    if (truncation !== 'none' && n === 0) throw new BadSample(`cell ${i}: a zero count under truncation`);
  });
  if (!cells.some((c) => c.n > 0)) throw new BadSample('no cell has an event: nothing can be fitted');
  const of = ([la1, lb1, la2, lb2, logit]: readonly number[]): GammaMixture => ({
    a1: Math.exp(la1!),
    b1: Math.exp(lb1!),
    a2: Math.exp(la2!),
    b2: Math.exp(lb2!),
    share: 1 / (1 + Math.exp(-logit!)),
  });
  const from = [Math.log(start.a1), Math.log(start.b1), Math.log(start.a2), Math.log(start.b2), Math.log(start.share / (1 - start.share))];
  const { at } = maximize((theta) => gammaMixtureLog(cells, of(theta), truncation) - pull * distance(theta, from), from);
  const found = of(at);
  return Object.freeze({ ...found, logLikelihood: gammaMixtureLog(cells, found, truncation) });
}

function distance(at: readonly number[], from: readonly number[]): number {
  return at.reduce((sum, v, i) => sum + (v - from[i]!) ** 2, 0);
}

export interface ShrunkRatio {
  readonly q: number;
  readonly ebgm: number;
  readonly eb05: number;
  readonly eb95: number;
}

export function shrunkRatio({ n, e }: CountCell, prior: GammaMixture): ShrunkRatio {
  if (!(n >= 0 && e > 0)) throw new BadSample(`count ${n}, expected ${e}`);
  const { a1, b1, a2, b2, share } = prior;
  const odds = (1 - share) * Math.exp(partLog(n, e, a2, b2) - partLog(n, e, a1, b1));
  const q = share / (share + odds);
  const parts = [
    { weight: q, shape: a1 + n, rate: b1 + e },
    { weight: 1 - q, shape: a2 + n, rate: b2 + e },
  ];
  const logMean = parts.reduce((sum, p) => sum + (p.weight === 0 ? 0 : p.weight * (digamma(p.shape) - Math.log(p.rate))), 0);
  return Object.freeze({ q, ebgm: Math.exp(logMean), eb05: gammaMixtureQuantile(parts, 0.05), eb95: gammaMixtureQuantile(parts, 0.95) });
}
