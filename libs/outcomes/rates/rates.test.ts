import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { exactBinomial, midPBinomial } from '../intervals/binomial.js';
import { adjustedP, selectFamilies } from '../multiplicity/benjamini-hochberg.js';
import { meanCumulative } from '../recurrent/mean-cumulative.js';
import { exactOdds } from './odds-ratio.js';
import { exactRateRatio, mantelHaenszelRate, stratifiedExact } from './rate-ratio.js';

const stratum = fc.record({
  exposedEvents: fc.integer({ min: 0, max: 9 }),
  exposedTime: fc.integer({ min: 1, max: 50 }),
  referenceEvents: fc.integer({ min: 0, max: 9 }),
  referenceTime: fc.integer({ min: 1, max: 90 }),
});
const strata = fc.array(stratum, { minLength: 1, maxLength: 6 });

describe('rate ratios', () => {
  it('worked by hand: 4 in 10 against 3 in 30 is 4; given 7 events, 4 or more exposed at 1/4 have 1156/16384', () => {
    const one = { exposedEvents: 4, exposedTime: 10, referenceEvents: 3, referenceTime: 30 };
    expect(mantelHaenszelRate([one]).ratio).toBeCloseTo(4, 14);
    // Sum of C(7,k) 3^(7-k): k = 4: 945, 5: 189, 6: 21, 7: 1; half of 945 by the mid-p convention.
    expect(stratifiedExact([one]).oneSided).toBeCloseTo((945 / 2 + 189 + 21 + 1) / 16384, 14);
    expect(exactRateRatio(one).midP).toBeCloseTo((2 * (945 / 2 + 189 + 21 + 1)) / 16384, 14);
    expect(stratifiedExact([one]).smallest).toBeCloseTo(0.5 / 16384, 18);
  });

  it('two strata worked by hand: (2 of 2 at 1/2, 1 of 2 at 1/4)', () => {
    const two = [
      { exposedEvents: 2, exposedTime: 5, referenceEvents: 0, referenceTime: 5 },
      { exposedEvents: 1, exposedTime: 1, referenceEvents: 1, referenceTime: 3 },
    ];
    // P(3) = 1/4 * 6/16 + 1/2 * 1/16 = 1/8, P(4) = 1/4 * 1/16 = 1/64.
    expect(stratifiedExact(two).oneSided).toBeCloseTo(1 / 16 + 1 / 64, 14);
    expect(stratifiedExact(two).expected).toBeCloseTo(1.5, 14);
  });

  it('swapping exposed and reference turns the ratio over and keeps the test', () => {
    fc.assert(
      fc.property(strata, (list) => {
        const turned = list.map((s) => ({
          exposedEvents: s.referenceEvents,
          exposedTime: s.referenceTime,
          referenceEvents: s.exposedEvents,
          referenceTime: s.exposedTime,
        }));
        const [a, b] = [mantelHaenszelRate(list), mantelHaenszelRate(turned)];
        if (a.ratio !== null && b.ratio !== null && b.ratio > 0) expect(a.ratio).toBeCloseTo(1 / b.ratio, 8);
        expect(a.chiSquare).toBeCloseTo(b.chiSquare, 8);
        expect(stratifiedExact(list).twoSided).toBeCloseTo(stratifiedExact(turned).twoSided, 9);
        expect(stratifiedExact(list).oneSided + stratifiedExact(turned).oneSided).toBeCloseTo(1, 9);
      }),
    );
  });

  it('does not depend on the unit of time', () => {
    fc.assert(
      fc.property(strata, (list) => {
        const days = list.map((s) => ({ ...s, exposedTime: s.exposedTime * 365.25, referenceTime: s.referenceTime * 365.25 }));
        const [a, b] = [mantelHaenszelRate(list), mantelHaenszelRate(days)];
        if (a.ratio !== null) expect(b.ratio).toBeCloseTo(a.ratio, 8);
        expect(stratifiedExact(days).oneSided).toBeCloseTo(stratifiedExact(list).oneSided, 10);
      }),
    );
  });

  it('without reference events there is no ratio, and events need time', () => {
    expect(mantelHaenszelRate([{ exposedEvents: 2, exposedTime: 3, referenceEvents: 0, referenceTime: 3 }]).ratio).toBeNull();
    expect(() => mantelHaenszelRate([{ exposedEvents: 2, exposedTime: 0, referenceEvents: 0, referenceTime: 3 }])).toThrow(BadSample);
  });
});

it("Fisher's test is the same with rows and columns swapped", () => {
  const cell = fc.integer({ min: 0, max: 8 });
  fc.assert(
    fc.property(cell, cell, cell, cell, (a, b, c, d) => {
      const [one, other] = [exactOdds([{ a, b, c, d }]), exactOdds([{ a, b: c, c: b, d }])];
      expect(one.p).toBeCloseTo(other.p, 9);
      expect(one.greater).toBeCloseTo(other.greater, 9);
    }),
    { numRuns: 40 },
  );
});

it('mid-p limits lie inside the exact ones', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 40 }), fc.nat(), (n, k) => {
      const x = k % (n + 1);
      const [exact, mid] = [exactBinomial(x, n), midPBinomial(x, n)];
      expect(mid[0]).toBeGreaterThanOrEqual(exact[0] - 1e-12);
      expect(mid[1]).toBeLessThanOrEqual(exact[1] + 1e-12);
    }),
    { numRuns: 60 },
  );
});

describe('many tests', () => {
  it('adjusted p-values keep the order of the p-values and are never smaller', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 20 }), (p) => {
        for (const method of ['benjamini-hochberg', 'benjamini-yekutieli', 'holm'] as const) {
          const q = adjustedP(p, method);
          q.forEach((value, i) => {
            expect(value).toBeGreaterThanOrEqual(p[i]! - 1e-15);
            expect(value).toBeLessThanOrEqual(1);
            p.forEach((other, j) => {
              if (p[i]! < other) expect(value).toBeLessThanOrEqual(q[j]!);
            });
          });
        }
      }),
    );
  });

  it('members are tested only inside selected families, at the level the selection leaves', () => {
    const result = selectFamilies([
      { key: 'a', p: 0.001, members: [0.001, 0.02, 0.5] },
      { key: 'b', p: 0.6, members: [1e-9] },
    ]);
    // One of two families selected: members at 0.05/2; of q = 0.003, 0.03, 0.5 only the first passes 0.025.
    expect(result.map((r) => r.selected)).toEqual([true, false]);
    expect(result[0]!.members).toEqual([true, false, false]);
    expect(result[1]!.members).toEqual([]);
  });
});

describe('mean cumulative function', () => {
  it('worked by hand: three vehicles, events at 1, 2 and 2', () => {
    const got = meanCumulative([
      { until: 3, at: [1, 2] },
      { until: 2, at: [2] },
      { until: 1.5, at: [] },
    ]);
    // 1/3 at 1 with three at risk; + 2/2 at 2 with two.
    expect(got.atRisk).toEqual([3, 2]);
    expect(got.mean[0]).toBeCloseTo(1 / 3, 14);
    expect(got.mean[1]).toBeCloseTo(4 / 3, 14);
    // Influences at 2: (1 - 1/3)/3 + 0, (0 - 1/3)/3 + 0, (0 - 1/3)/3: squares 4/81 + 1/81 + 1/81.
    expect(got.standardError[1]).toBeCloseTo(Math.sqrt(6 / 81), 14);
  });

  it('of vehicles with one event at most is the Nelson-Aalen sum when all are watched on', () => {
    const got = meanCumulative([1, 2, 3, 4].map((t) => ({ until: 9, at: [t] })));
    expect(got.mean.at(-1)).toBeCloseTo(1, 14);
  });
});
