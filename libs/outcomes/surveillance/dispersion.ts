import { BadSample } from '#libs/numeric/index.js';

/**
 * Negative-binomial size of counts about their expectations, by moments.
 *
 * 1/s = sum ((y - m)^2 - m)/sum m^2;  variance m + m^2/s
 *
 * y counts of past quiet weeks, m > 0 their expectations. Infinity when the counts vary no more than Poisson ones. Weeks of real outbreaks
 * left in make s too small and a chart too slow; few weeks make it uncertain (relative error about sqrt(2/n) (1 + s/m)).
 * Source: Breslow (1984), Applied Statistics 33:38, moment estimation of extra-Poisson variation (from memory).
 */
export function countDispersion(counts: readonly number[], expected: readonly number[]): number {
  if (counts.length !== expected.length || counts.length === 0)
    throw new BadSample(`${counts.length} counts, ${expected.length} expectations`);
  let excess = 0;
  let squares = 0;
  counts.forEach((y, i) => {
    const m = expected[i]!;
    if (!(y >= 0 && m > 0 && Number.isFinite(m))) throw new BadSample(`week ${i}: count ${y}, expected ${m}`);
    excess += (y - m) ** 2 - m;
    squares += m * m;
  });
  return excess > 0 ? squares / excess : Number.POSITIVE_INFINITY;
}
