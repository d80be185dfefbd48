import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { negativeBinomialProbability } from '../special/discrete.js';
import { countCusum, cusumScore } from './cusum.js';
import { countDispersion } from './dispersion.js';
import { learnedExpectations, predictiveSize } from './learning.js';
import { reportingDelay } from './reporting-delay.js';

describe('reporting delay', () => {
  it('three events by hand, one too recent to show a long delay', () => {
    // Delays 0 (of at most 0), 0 (of 1), 1 (of 1): N_1 = 2, n_1 = 1: G(0) = 1/2, where the plain share would say 2/3.
    const g = reportingDelay([
      { delay: 0, longest: 0 },
      { delay: 0, longest: 1 },
      { delay: 1, longest: 1 },
    ]);
    expect([...g]).toEqual([0.5, 1]);
  });

  it('is the plain share where nothing is cut off, and never falls', () => {
    const delays = fc.array(fc.integer({ min: 0, max: 8 }), { minLength: 1, maxLength: 60 });
    fc.assert(
      fc.property(delays, (list) => {
        const g = reportingDelay(list.map((delay) => ({ delay, longest: 8 })));
        g.forEach((value, x) => {
          expect(value).toBeCloseTo(list.filter((d) => d <= x).length / list.length, 12);
        });
      }),
    );
    expect(() => reportingDelay([])).toThrow(BadSample);
    expect(() => reportingDelay([{ delay: 3, longest: 2 }])).toThrow(BadSample);
  });
});

describe('dispersion and score', () => {
  it('size by hand: counts 0 and 4 about 2 vary by 4, 2 more than Poisson: 2^2/2', () => {
    expect(countDispersion([0, 4], [2, 2])).toBeCloseTo(2, 12);
    expect(countDispersion([2, 2], [2, 2])).toBe(Number.POSITIVE_INFINITY);
  });

  it('the score rises with the count, and its mean under the expectation is negative', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(
      fc.property(number(0.1, 20), number(1.1, 4), number(0.5, 50), fc.integer({ min: 0, max: 60 }), (mean, ratio, size, y) => {
        expect(cusumScore(y + 1, mean, ratio, size)).toBeGreaterThan(cusumScore(y, mean, ratio, size));
        expect(cusumScore(mean, mean, ratio, size)).toBeLessThan(0);
      }),
    );
  });

  it('refuses counts that are none and a chart tuned for no change', () => {
    expect(() => countCusum([{ count: 1.5, expected: 1 }], { ratio: 2, size: 1, threshold: 1 })).toThrow(BadSample);
    expect(() => countCusum([], { ratio: 1, size: 1, threshold: 1 })).toThrow(BadSample);
  });
});

describe('what is learned of a rate', () => {
  it('by hand: four events of certainty, then 4 where 2 were expected', () => {
    const weeks = [4, null, 0].map((count) => ({ count, expected: 2 }));
    const [first, second, third] = learnedExpectations([...weeks, { count: 1, expected: 3 }], 4, Number.POSITIVE_INFINITY).slice(0, 3);
    expect(first).toEqual({ expected: 2, size: 4 });
    // (4 + 4)/(4 + 2) of 2; a week that is not judged teaches nothing.
    expect(second!.expected).toBeCloseTo((2 * 8) / 6, 12);
    expect(third).toEqual(second);
    const half = learnedExpectations(weeks, 4, Number.POSITIVE_INFINITY, 0.5);
    expect(half[1]!.expected).toBeCloseTo((2 * 6) / 5, 12);
    expect(learnedExpectations(weeks, 4, 8, 0)[2]).toEqual({ expected: 2, size: predictiveSize(8, 4) });
    expect(() => learnedExpectations(weeks, 0, 1)).toThrow(BadSample);
  });

  it('gives the counts of some weeks together the probability they have under a rate drawn from its uncertainty', () => {
    // The product of one-step predictions is the gamma-mixed Poisson probability of the whole: y = (1, 0, 3), m = (1, 2, 1/2), a = 5/2, by the integral in closed form.
    const [counts, means, a] = [[1, 0, 3], [1, 2, 0.5], 2.5];
    const learned = learnedExpectations(
      counts.map((count, i) => ({ count, expected: means[i]! })),
      a,
      Number.POSITIVE_INFINITY,
    );
    const product = counts.reduce((p, y, i) => p * negativeBinomialProbability(y, learned[i]!.expected, learned[i]!.size), 1);
    // a^a/(a + M)^(a + Y) Gamma(a + Y)/Gamma(a) prod m^y/y!, with Gamma(6.5)/Gamma(2.5) = 5.5 4.5 3.5 2.5.
    const whole = (a ** a / (a + 3.5) ** (a + 4)) * 5.5 * 4.5 * 3.5 * 2.5 * (0.5 ** 3 / 6);
    expect(product).toBeCloseTo(whole, 12);
  });
});
