import { NoConvergence } from '#libs/numeric/index.js';
import { gammaPrefactor, gammaTails } from '../special/gamma.js';

/**
 * Quantile of a mixture of gamma distributions: x with sum of w_i P(shape_i, rate_i x) = p, by Newton's method on ln x inside a bracket.
 *
 * Weights sum to 1. Accurate to 1e-12 of the tail probability.
 */
export interface GammaPart {
  readonly weight: number;
  readonly shape: number;
  readonly rate: number;
}

export function gammaMixtureQuantile(parts: readonly GammaPart[], p: number): number {
  const mean = parts.reduce((sum, { weight, shape, rate }) => sum + (weight * shape) / rate, 0);
  let low = -745;
  let high = Math.log(mean) + 50;
  let t = Math.log(mean);
  for (let i = 0; i < 300; i++) {
    const x = Math.exp(t);
    let lower = 0;
    let slope = 0;
    for (const { weight, shape, rate } of parts) {
      lower += weight * gammaTails(shape, rate * x).lower;
      slope += weight * shape * gammaPrefactor(shape, rate * x);
    }
    if (Math.abs(lower - p) < 1e-13 || high - low < 1e-14) return x;
    if (lower < p) low = t;
    else high = t;
    const step = Math.max(-3, Math.min(3, (p - lower) / slope));
    t = t + step > low && t + step < high ? t + step : (low + high) / 2;
  }
  throw new NoConvergence('quantile of a gamma mixture', 300, p);
}
