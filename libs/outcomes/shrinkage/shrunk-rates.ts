import { checkLevel } from '../survival/sample.js';
import { fitGammaPoisson, gammaPoissonLog, type RateOf } from './conjugate.js';
import { type GammaPart, gammaMixtureQuantile } from './gamma-mixture-quantile.js';

/**
 * Rates of exchangeable cells, shrunk to their common mean, with intervals that carry the uncertainty of the fit.
 *
 * d ~ Poisson(l E), l ~ Gamma(a, rate a/m); ln m flat, a with the uniform shrinkage prior of b = a/m against the harmonic mean exposure
 *
 * events, exposure > 0 in one unit for all cells; result per that unit, in the order given. The posterior of each rate is the mixture, over a
 * grid of 11 shapes and 15 means weighed by their likelihood, of gammas; for each shape the mixture over means becomes one gamma of equal moments.
 * borrowed: share b/(b + E) averaged. BadSample as `fitGammaPoisson`. Coverage is simulated in tests/validate.
 * Source: Morris (1983), JASA 78:47; Christiansen and Morris (1997), JASA 92:618, for the Poisson case.
 */
export interface ShrunkCellRate {
  readonly rate: number;
  readonly low: number;
  readonly high: number;
  readonly events: number;
  readonly exposure: number;
  readonly borrowed: number;
  /** Events' worth of what is known: 1 over the squared relative standard deviation of the posterior. */
  readonly certainty: number;
}

const SHAPES = Array.from({ length: 11 }, (_, i) => 0.15 * 2.2 ** i);
const MEANS = 15;

export function shrunkRates(cells: readonly RateOf[], level = 0.95): readonly ShrunkCellRate[] {
  checkLevel(level);
  const grid = weighedGrid(cells);
  const tail = (1 - level) / 2;
  return Object.freeze(
    cells.map(({ events, exposure }) => {
      let rate = 0;
      let borrowed = 0;
      let square = 0;
      const parts = grid.map((points): GammaPart => {
        let weight = 0;
        let first = 0;
        let second = 0;
        for (const { shape, prior, weight: w } of points) {
          const mean = (shape + events) / (prior + exposure);
          weight += w;
          first += w * mean;
          second += w * (mean / (prior + exposure) + mean * mean);
          borrowed += (w * prior) / (prior + exposure);
        }
        rate += first;
        square += second;
        const mean = first / weight;
        const variance = second / weight - mean * mean;
        return { weight, shape: (mean * mean) / variance, rate: mean / variance };
      });
      const [low, high] = [gammaMixtureQuantile(parts, tail), gammaMixtureQuantile(parts, 1 - tail)];
      return Object.freeze({ rate, low, high, events, exposure, borrowed, certainty: (rate * rate) / (square - rate * rate) });
    }),
  );
}

interface GridPoint {
  readonly shape: number;
  readonly prior: number;
  readonly weight: number;
}

/** Shapes x means with their posterior weights, shapes of no weight left out. */
function weighedGrid(cells: readonly RateOf[]): readonly (readonly GridPoint[])[] {
  const fit = fitGammaPoisson(cells);
  const harmonic = cells.length / cells.reduce((sum, c) => sum + 1 / c.exposure, 0);
  const points = SHAPES.map((shape) => {
    // Conditional spread of ln m: from the information of each cell about it, a d/(a + d) taken at the fitted mean.
    const expected = cells.reduce(
      (sum, c) => sum + (shape * (fit.alpha / fit.beta) * c.exposure) / (shape + (fit.alpha / fit.beta) * c.exposure),
      0,
    );
    const spread = 1 / Math.sqrt(Math.max(expected, 0.1));
    return Array.from({ length: MEANS }, (_, j) => {
      const mean = (fit.alpha / fit.beta) * Math.exp(((j - (MEANS - 1) / 2) / ((MEANS - 1) / 2)) * 4 * spread);
      const prior = shape / mean;
      const log = gammaPoissonLog(cells, shape, prior) + Math.log((prior * harmonic) / (prior + harmonic) ** 2) + Math.log(spread);
      return { shape, prior, log };
    });
  });
  const most = points.flat().reduce((a, p) => Math.max(a, p.log), Number.NEGATIVE_INFINITY);
  const total = points.flat().reduce((sum, p) => sum + Math.exp(p.log - most), 0);
  return points
    .map((row) => row.map(({ shape, prior, log }) => ({ shape, prior, weight: Math.exp(log - most) / total })))
    .filter((row) => row.reduce((sum, p) => sum + p.weight, 0) > 1e-4);
}
