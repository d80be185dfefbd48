import { BadSample } from '#libs/numeric/index.js';
import { gammaQuantile } from '../special/quantile.js';
import { checkLevel } from '../survival/sample.js';
import type { Interval } from './binomial.js';

/**
 * Exact interval for the mean of a Poisson count (Garwood), and for a rate count/exposure.
 *
 * lower G(alpha/2; x), upper G(1 - alpha/2; x + 1), G the gamma quantile of that shape
 *
 * exposure > 0 in the clock's unit; the rate is per that unit. x = 0 has lower limit 0. BadSample for x < 0 or exposure <= 0.
 * Source: Garwood (1936), Biometrika 28:437.
 */
export function exactPoisson(count: number, exposure = 1, level = 0.95): Interval {
  if (!(count >= 0 && count < Number.POSITIVE_INFINITY)) throw new BadSample(`count ${count} is not a finite number >= 0`);
  if (!(exposure > 0)) throw new BadSample(`exposure ${exposure} is not > 0`);
  checkLevel(level);
  const tail = (1 - level) / 2;
  const lower = count === 0 ? 0 : gammaQuantile(tail, count) / exposure;
  return Object.freeze([lower, gammaQuantile(1 - tail, count + 1) / exposure] as const);
}
