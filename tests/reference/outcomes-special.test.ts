import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks } from './outcomes-data.js';

interface Point {
  readonly fn: string;
  readonly args: number[];
  readonly r: string;
  readonly mp: string | null;
}

const functions: Record<string, (...args: number[]) => number> = {
  qnorm: (p) => o.normalQuantile(p!),
  pnorm: (x) => o.normalLower(x!),
  pnormUpper: (x) => o.normalUpper(x!),
  qbeta: (p, a, b) => o.betaQuantile(p!, a!, b!),
  pbeta: (x, a, b) => o.betaTails(a!, b!, x!).lower,
  pbetaUpper: (x, a, b) => o.betaTails(a!, b!, x!).upper,
  qgamma: (p, a) => o.gammaQuantile(p!, a!),
  pgamma: (x, a) => o.gammaTails(a!, x!).lower,
  pgammaUpper: (x, a) => o.gammaTails(a!, x!).upper,
  qchisq: (p, df) => o.chiSquareQuantile(p!, df!),
  pchisq: (x, df) => o.chiSquareLower(x!, df!),
  pchisqUpper: (x, df) => o.chiSquareUpper(x!, df!),
  ppois: (k, m) => o.poissonLower(k!, m!),
  ppoisUpper: (k, m) => o.poissonUpper(k!, m!),
  pbinom: (k, n, p) => o.binomialLower(k!, n!, p!),
  dbinom: (k, n, p) => o.binomialProbability(k!, n!, p!),
  phyper: (x, m, n, k) => o.hypergeometricLower(x!, m!, n!, k!),
  lgamma: (x) => o.logGamma(x!),
  lbeta: (a, b) => o.logBeta(a!, b!),
  digamma: (x) => o.digamma(x!),
  trigamma: (x) => o.trigamma(x!),
};

// Below this a double has lost bits (subnormal) or R itself flushes to 0.
const SMALLEST = 1e-300;

// Points from data/outcomes/special-functions.json: mpmath 1.3.0 at 40 digits, or R 4.2.2 where mpmath gave no value.
describe('special functions against 40-digit values', () => {
  const { points } = checks<{ points: Point[] }>('special-functions');

  it('covers the whole grid of 970 points', () => {
    expect(points).toHaveLength(970);
  });

  for (const fn of Object.keys(functions)) {
    const grid = points.filter((p) => p.fn === fn);
    it(`${fn}: ${grid.length} points within 1e-9`, () => {
      expect(grid.length).toBeGreaterThan(0);
      const off = grid
        .map((p) => {
          const want = Number(p.mp ?? p.r);
          const got = functions[fn]!(...p.args);
          const error = Math.abs(want) < SMALLEST ? Math.abs(got - want) : Math.abs(got / want - 1);
          return { args: p.args, want, got, error };
        })
        .filter((p) => !(p.error <= 1e-9));
      expect(off).toEqual([]);
    });
  }
});
