import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { betaTails } from '../special/beta.js';
import { logGammaRise } from '../special/gamma.js';
import { betaQuantile } from '../special/quantile.js';
import { mixtureQuantile } from './beta-mixture.js';
import { fitBetaBinomial, fitGammaPoisson } from './conjugate.js';
import { shrunkRatio } from './gamma-poisson-shrinker.js';
import { shrunkRates } from './shrunk-rates.js';
import { type SmallCell, smallCellRates } from './small-cells.js';

const count = fc.integer({ min: 0, max: 30 }).chain((n) => fc.record({ n: fc.constant(n), events: fc.integer({ min: 0, max: n }) }));
const cells = fc
  .array(fc.record({ count, family: fc.constantFrom('f', 'g'), repair: fc.constantFrom('r', 's') }), { minLength: 2, maxLength: 8 })
  .map((list) => list.map(({ count: c, family, repair }, i): SmallCell => ({ path: [`p${i}`, `${family}.${repair}`, repair], ...c })));

describe('small cells', () => {
  it('estimates lie inside their intervals, inside 0..1, and do not depend on the order', () => {
    fc.assert(
      fc.property(cells, (list) => {
        const rates = smallCellRates(list);
        const reversed = smallCellRates([...list].reverse());
        rates.forEach((rate, i) => {
          expect(rate.low).toBeGreaterThanOrEqual(0);
          expect(rate.low).toBeLessThan(rate.estimate);
          expect(rate.high).toBeGreaterThan(rate.estimate);
          expect(rate.high).toBeLessThanOrEqual(1);
          expect(rate.borrowed).toBeGreaterThan(0);
          expect(rate.borrowed).toBeLessThanOrEqual(1);
          expect(reversed[list.length - 1 - i]!.estimate).toBeCloseTo(rate.estimate, 9);
        });
      }),
      { numRuns: 10 },
    );
  });

  it('events turned into their complement turn the interval round', () => {
    fc.assert(
      fc.property(cells, (list) => {
        const rates = smallCellRates(list);
        const turned = smallCellRates(list.map((c) => ({ ...c, events: c.n - c.events })));
        rates.forEach((rate, i) => {
          expect(turned[i]!.estimate).toBeCloseTo(1 - rate.estimate, 6);
          expect(turned[i]!.low).toBeCloseTo(1 - rate.high, 5);
        });
      }),
      { numRuns: 6 },
    );
  });

  it('a large cell keeps its own rate, an empty one takes its family over', () => {
    const list = [
      { path: ['big', 'f', 'r'], n: 5000, events: 2000 },
      { path: ['a', 'f', 'r'], n: 40, events: 4 },
      { path: ['b', 'f', 'r'], n: 40, events: 5 },
      { path: ['empty', 'f', 'r'], n: 0, events: 0 },
      { path: ['other', 'g', 'r'], n: 30, events: 3 },
    ];
    const [big, , , empty] = smallCellRates(list);
    expect(big!.estimate).toBeCloseTo(0.4, 2);
    expect(big!.borrowed).toBeLessThan(0.05);
    expect(empty!.borrowed).toBeCloseTo(1, 9);
    expect(empty!.shown).toMatchObject({ level: 1, key: 'f', n: 5080, events: 2009 });
    expect(empty!.high - empty!.low).toBeGreaterThan(big!.high - big!.low);
  });

  it('refuses a cell given twice, more events than episodes, and paths that differ in length', () => {
    const cell = { path: ['a', 'f'], n: 3, events: 1 };
    expect(() => smallCellRates([cell, cell])).toThrow(BadSample);
    expect(() => smallCellRates([{ ...cell, events: 4 }])).toThrow(BadSample);
    expect(() => smallCellRates([cell, { ...cell, path: ['b', 'f', 'r'] }])).toThrow(BadSample);
    expect(() => smallCellRates([{ ...cell, path: ['a'] }])).toThrow(BadSample);
    expect(smallCellRates([])).toEqual([]);
  });
});

describe('fits', () => {
  it('a likelihood that is flat up to the bound is climbed, too: nine cells on which the search once went round in rounding errors', () => {
    const events = [2, 1, 0, 0, 1, 1, 0, 1, 1];
    const exposures = [
      2789.4414565328398, 598.5296004951714, 1758.413124682146, 75.5464253819883, 494.7577192512061, 2698.8545185216194, 2913.1222578459665,
      4907.5145171003305, 1454.2445938895078,
    ];
    const fit = fitGammaPoisson(exposures.map((exposure, i) => ({ events: events[i]!, exposure })));
    expect(fit.bounded).toBe(true);
    const pooled = 7 / exposures.reduce((sum, one) => sum + one, 0);
    expect(fit.alpha / fit.beta / pooled).toBeCloseTo(1, 4);
  });

  it('ratios of gamma functions keep their digits where each is large: rising factorials', () => {
    for (const a of [0.3, 15, 99.5, 101, 1e6, 1e9]) {
      for (const n of [0, 1, 3, 40]) {
        const whole = Array.from({ length: n }, (_, k) => Math.log(a + k)).reduce((sum, one) => sum + one, 0);
        expect(Math.abs(logGammaRise(a, n) - whole)).toBeLessThan(1e-12 * Math.max(1, whole));
      }
    }
    expect(logGammaRise(0, 1)).toBeNaN();
  });

  it('counts that vary no more than chance are bounded, not lost', () => {
    const same = Array.from({ length: 6 }, () => ({ events: 5, n: 20, exposure: 2 }));
    const binomial = fitBetaBinomial(same);
    expect(binomial.bounded).toBe(true);
    expect(binomial.alpha / (binomial.alpha + binomial.beta)).toBeCloseTo(1 / 4, 6);
    const poisson = fitGammaPoisson(same);
    expect(poisson.bounded).toBe(true);
    expect(poisson.alpha / poisson.beta).toBeCloseTo(5 / 2, 5);
  });

  it('a unit of exposure ten times as large makes rates ten times as small', () => {
    const list = [3, 8, 1, 0, 12].map((events, i) => ({ events, exposure: 2 + i }));
    const rates = shrunkRates(list);
    const scaled = shrunkRates(list.map((c) => ({ ...c, exposure: c.exposure / 10 })));
    rates.forEach((rate, i) => {
      expect(scaled[i]!.rate).toBeCloseTo(rate.rate * 10, 4);
      expect(scaled[i]!.low).toBeCloseTo(rate.low * 10, 4);
      expect(rate.low).toBeLessThan(rate.rate);
      expect(rate.high).toBeGreaterThan(rate.rate);
    });
  });

  it('no event anywhere cannot be fitted', () => {
    expect(() =>
      fitGammaPoisson([
        { events: 0, exposure: 1 },
        { events: 0, exposure: 2 },
      ]),
    ).toThrow(BadSample);
  });

  it('one part of weight 1 is the plain gamma posterior: mean of ln at psi(a + n) - ln(b + e)', () => {
    const got = shrunkRatio({ n: 4, e: 2 }, { a1: 2, b1: 3, a2: 2, b2: 3, share: 0.5 });
    // Gamma(6, rate 5): exp(psi(6))/5, psi(6) = 137/60 - Euler's constant.
    expect(got.ebgm).toBeCloseTo(Math.exp(137 / 60 - 0.5772156649015329) / 5, 12);
    expect(got.eb05).toBeLessThan(got.ebgm);
  });
});

it('quantiles of a mixture of betas: one part is the beta quantile, and the tail is the one asked for', () => {
  expect(mixtureQuantile([{ weight: 1, a: 12, b: 58 }], 0.025)).toBeCloseTo(betaQuantile(0.025, 12, 58), 8);
  const parts = [
    { weight: 0.3, a: 1, b: 9 },
    { weight: 0.7, a: 30, b: 20 },
  ];
  const x = mixtureQuantile(parts, 0.9);
  expect(parts.reduce((sum, { weight, a, b }) => sum + weight * betaTails(a, b, x).lower, 0)).toBeCloseTo(0.9, 8);
});
