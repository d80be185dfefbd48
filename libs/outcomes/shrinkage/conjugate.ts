import { BadSample } from '#libs/numeric/index.js';
import { maximize } from '../likelihood/maximize.js';
import { logGamma, logGammaRise } from '../special/gamma.js';

/**
 * Empirical Bayes fits of exchangeable counts by maximum likelihood, without the uncertainty of the fit.
 *
 * beta-binomial: p ~ Beta(alpha, beta), x ~ Binomial(n, p); posterior Beta(alpha + x, beta + n - x)
 * gamma-Poisson: l ~ Gamma(alpha, rate beta), d ~ Poisson(l E); posterior Gamma(alpha + d, rate beta + E)
 *
 * For intervals use `smallCellRates` or `shrunkRates`: the plug-in intervals of these fits are too short (84 % at nominal 95 %).
 * Counts that vary no more than chance have no finite maximum; alpha + beta (or alpha) is then held at 1e6 (`bounded` true).
 * BadSample for fewer than two cells, negative counts, or no event at all. Checked on the twelve hospitals, the pumps and the batting averages.
 * Source: Carlin and Louis (2000), Bayes and Empirical Bayes Methods, chapter 3.
 */
export interface CountOf {
  readonly events: number;
  readonly n: number;
}

export interface ConjugateFit {
  readonly alpha: number;
  readonly beta: number;
  readonly logLikelihood: number;
  readonly bounded: boolean;
}

const LARGEST_LOG = Math.log(1e6);

export function fitBetaBinomial(cells: readonly CountOf[]): ConjugateFit {
  check(cells, true);
  const events = cells.reduce((sum, c) => sum + c.events, 0);
  const n = cells.reduce((sum, c) => sum + c.n, 0);
  const pooled = Math.min(0.999, Math.max(0.001, events / n));
  const likelihood = ([logit, logSize]: readonly number[]) => {
    const size = Math.exp(Math.min(logSize!, LARGEST_LOG));
    const alpha = size / (1 + Math.exp(-logit!));
    const beta = size / (1 + Math.exp(logit!));
    const log = ({ events, n: of }: CountOf) => logGammaRise(alpha, events) + logGammaRise(beta, of - events) - logGammaRise(size, of);
    return cells.reduce((sum, c) => sum + log(c), 0) - beyond(logSize!);
  };
  const { at, value } = maximize(likelihood, [Math.log(pooled / (1 - pooled)), Math.log(20)]);
  const size = Math.exp(Math.min(at[1]!, LARGEST_LOG));
  const alpha = size / (1 + Math.exp(-at[0]!));
  return Object.freeze({ alpha, beta: size - alpha, logLikelihood: value, bounded: at[1]! > LARGEST_LOG - 1 });
}

export interface RateOf {
  readonly events: number;
  readonly exposure: number;
}

export function fitGammaPoisson(cells: readonly RateOf[]): ConjugateFit {
  check(
    cells.map((c) => ({ events: c.events, n: c.exposure })),
    false,
  );
  const pooled = cells.reduce((sum, c) => sum + c.events, 0) / cells.reduce((sum, c) => sum + c.exposure, 0);
  const likelihood = ([logMean, logShape]: readonly number[]) => {
    const alpha = Math.exp(Math.min(logShape!, LARGEST_LOG));
    return gammaPoissonLog(cells, alpha, alpha / Math.exp(logMean!)) - beyond(logShape!);
  };
  const { at, value } = maximize(likelihood, [Math.log(pooled), 0]);
  const alpha = Math.exp(Math.min(at[1]!, LARGEST_LOG));
  return Object.freeze({ alpha, beta: alpha / Math.exp(at[0]!), logLikelihood: value, bounded: at[1]! > LARGEST_LOG - 1 });
}

/** Log likelihood of gamma-Poisson counts: negative binomial, all constants kept. */
export function gammaPoissonLog(cells: readonly RateOf[], alpha: number, beta: number): number {
  return cells.reduce((sum, { events, exposure }) => {
    const share = Math.log1p(exposure / beta);
    return sum + logGammaRise(alpha, events) - logGamma(events + 1) - alpha * share + events * Math.log(exposure / (beta + exposure));
  }, 0);
}

/** A wall beyond the largest size, so that a likelihood that rises for ever stops there. */
function beyond(logSize: number): number {
  return Math.max(0, logSize - LARGEST_LOG) ** 2;
}

function check(cells: readonly CountOf[], binomial: boolean): void {
  if (cells.length < 2) throw new BadSample('shrinkage needs at least two cells');
  cells.forEach(({ events, n }, i) => {
    if (!(events >= 0 && n > 0 && n < Number.POSITIVE_INFINITY && events < Number.POSITIVE_INFINITY)) {
      throw new BadSample(`cell ${i}: ${events} events of ${n}`);
    }
    if (binomial && events > n) throw new BadSample(`cell ${i}: ${events} events of ${n}`);
  });
  if (!cells.some((c) => c.events > 0)) throw new BadSample('no cell has an event: nothing can be fitted');
}
