import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { policyEffect } from './policy-effect.js';

const period = (events: number, exposure: number) => ({ events, exposure });

describe('policy effect', () => {
  it('halved here while the rest fell by a tenth: 0.5/0.9, by hand', () => {
    const got = policyEffect({
      before: period(40, 1000),
      after: period(20, 1000),
      comparisonBefore: period(100, 2000),
      comparisonAfter: period(90, 2000),
    });
    expect(got.ratio).toBeCloseTo(0.5 / 0.9, 12);
    const error = Math.sqrt(1 / 40 + 1 / 20 + 1 / 100 + 1 / 90);
    expect(got.lower).toBeCloseTo((0.5 / 0.9) * Math.exp(-1.959963984540054 * error), 10);
  });

  it('is 1 when both change alike, whatever the exposure is counted in, and null without events', () => {
    const n = fc.integer({ min: 1, max: 500 });
    fc.assert(
      fc.property(n, n, fc.double({ min: 0.1, max: 1e4, noNaN: true }), (a, b, unit) => {
        const got = policyEffect({
          before: period(a, unit),
          after: period(b, unit),
          comparisonBefore: period(a, 3),
          comparisonAfter: period(b, 3),
        });
        expect(got.ratio).toBeCloseTo(1, 9);
        expect(got.pValue).toBeCloseTo(1, 6);
      }),
    );
    const none = policyEffect({ before: period(3, 1), after: period(0, 1), comparisonBefore: period(3, 1), comparisonAfter: period(3, 1) });
    expect(none.ratio).toBeNull();
  });
});
