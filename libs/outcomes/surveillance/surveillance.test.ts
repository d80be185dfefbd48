import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { countCusum, cusumScore } from './cusum.js';
import { countDispersion } from './dispersion.js';
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
