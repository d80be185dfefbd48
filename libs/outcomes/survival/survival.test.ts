import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { aalenJohansen } from './aalen-johansen.js';
import { kaplanMeier } from './kaplan-meier.js';
import { lifeQuantile } from './life-quantile.js';
import { logRank } from './log-rank.js';
import { restrictedMean } from './restricted-mean.js';
import { returnProbability } from './return-probability.js';
import { numbersAtRisk, riskSets, stepAt } from './risk-sets.js';
import type { Spell } from './sample.js';

// Whole times make ties frequent.
const spell = fc.record({ time: fc.integer({ min: 1, max: 12 }), end: fc.integer({ min: 0, max: 3 }) });
const sample = fc.array(spell, { minLength: 1, maxLength: 40 });
const shuffled = sample.chain((spells) =>
  fc.tuple(fc.constant(spells), fc.shuffledSubarray(spells, { minLength: spells.length, maxLength: spells.length })),
);

describe('Kaplan-Meier', () => {
  it('worked by hand: 1, 2+, 2, 3, 4+ gives 4/5, 3/5, 3/10', () => {
    const curve = kaplanMeier([
      { time: 1, end: 1 },
      { time: 2, end: 0 },
      { time: 2, end: 1 },
      { time: 3, end: 1 },
      { time: 4, end: 0 },
    ]);
    // At 2 four are at risk, the censored one with them: 4/5 * 3/4; at 3 two: * 1/2.
    for (const [i, want] of [4 / 5, 3 / 5, 3 / 10].entries()) expect(curve.survival[i]).toBeCloseTo(want, 14);
    expect(curve.atRisk).toEqual([5, 4, 2]);
    // Greenwood at 3: (3/10)^2 (1/(5 4) + 1/(4 3) + 1/(2 1)) = 9/100 * 19/30.
    expect(curve.standardError[2]).toBeCloseTo(Math.sqrt((9 / 100) * (19 / 30)), 14);
    // Area to 4: 1 + 4/5 + 3/5 + 3/10 = 27/10.
    expect(restrictedMean(curve, 4).mean).toBeCloseTo(27 / 10, 14);
    expect(lifeQuantile(curve)).toMatchObject({ estimate: 3, upper: null });
  });

  it('a median on a flat step is its middle', () => {
    const curve = kaplanMeier([1, 2, 5, 9].map((time) => ({ time, end: 1 })));
    expect(lifeQuantile(curve).estimate).toBe(3.5);
  });

  it('does not depend on the order of the sample', () => {
    fc.assert(
      fc.property(shuffled, ([a, b]) => {
        expect(kaplanMeier(b)).toEqual(kaplanMeier(a));
        expect(aalenJohansen(b, 1)).toEqual(aalenJohansen(a, 1));
      }),
    );
  });

  it('moves with the clock: twice the unit, the same shares', () => {
    fc.assert(
      fc.property(sample, (spells) => {
        const curve = kaplanMeier(spells);
        const doubled = kaplanMeier(spells.map((s) => ({ ...s, time: s.time * 2 })));
        expect(doubled.survival).toEqual(curve.survival);
        expect(restrictedMean(doubled, 24).mean).toBeCloseTo(2 * restrictedMean(curve, 12).mean, 10);
      }),
    );
  });

  it('keeps its limits around the estimate and within 0..1', () => {
    fc.assert(
      fc.property(sample, fc.constantFrom('log-log' as const, 'log' as const, 'plain' as const), (spells, scale) => {
        const curve = kaplanMeier(spells, 0.95, scale);
        curve.survival.forEach((s, i) => {
          expect(curve.lower[i]).toBeLessThanOrEqual(s);
          expect(curve.upper[i]).toBeGreaterThanOrEqual(s);
          expect(curve.lower[i]).toBeGreaterThanOrEqual(0);
          expect(curve.upper[i]).toBeLessThanOrEqual(1);
        });
      }),
    );
  });

  it('risk sets and numbers at risk count those not yet gone', () => {
    fc.assert(
      fc.property(sample, (spells) => {
        const sets = riskSets(spells);
        const want = [...sets.times].map((t) => spells.filter((s) => s.time >= t).length);
        expect([...sets.atRisk]).toEqual(want);
        expect(numbersAtRisk(spells, [...sets.times])).toEqual(want);
      }),
    );
  });

  it('columns and spells are the same sample', () => {
    fc.assert(
      fc.property(sample, (spells) => {
        const columns = { time: Float64Array.from(spells, (s) => s.time), end: Uint8Array.from(spells, (s) => s.end) };
        expect(kaplanMeier(columns)).toEqual(kaplanMeier(spells));
      }),
    );
  });
});

describe('Aalen-Johansen', () => {
  it('all ends and the running share sum to 1, and running is Kaplan-Meier of any end', () => {
    fc.assert(
      fc.property(sample, (spells) => {
        const ends = [1, 2, 3].map((k) => aalenJohansen(spells, k));
        const overall = kaplanMeier(spells);
        const { running, times } = ends[0]!;
        expect(times).toEqual(overall.times);
        times.forEach((_, i) => {
          const total = ends.reduce((sum, e) => sum + e.incidence[i]!, running[i]!);
          expect(total).toBeCloseTo(1, 12);
          expect(running[i]).toBeCloseTo(overall.survival[i]!, 12);
        });
      }),
    );
  });

  it("with every end counted as one, its jackknife variance is Greenwood's", () => {
    fc.assert(
      fc.property(sample, (spells) => {
        const curve = aalenJohansen(spells, [1, 2, 3]);
        const km = kaplanMeier(spells);
        curve.times.forEach((_, i) => {
          expect(curve.standardError[i]).toBeCloseTo(km.standardError[i]!, 7);
        });
      }),
    );
  });

  it('running sums equal the jackknife taken one spell at a time', () => {
    fc.assert(
      fc.property(fc.array(spell, { minLength: 2, maxLength: 20 }), (spells) => {
        for (const end of [1, 2]) {
          const curve = aalenJohansen(spells, end);
          curve.times.forEach((t, i) => {
            expect(curve.standardError[i]).toBeCloseTo(numericalJackknife(spells, end, t), 5);
          });
        }
      }),
      { numRuns: 40 },
    );
  });
});

/** sqrt of the sum of squared derivatives with respect to each weight, by central differences on a weighted estimator written plainly. */
function numericalJackknife(spells: readonly Spell[], end: number, t: number): number {
  const step = 1e-5;
  const times = [...new Set(spells.map((s) => s.time))].sort((a, b) => a - b);
  const incidence = (w: readonly number[]) => {
    let s = 1;
    let f = 0;
    for (const time of times) {
      if (time > t) break;
      const sum = (of: (s: Spell) => boolean) => spells.reduce((total, x, i) => total + (of(x) ? w[i]! : 0), 0);
      const y = sum((x) => x.time >= time);
      f += (s * sum((x) => x.time === time && x.end === end)) / y;
      s *= 1 - sum((x) => x.time === time && x.end > 0) / y;
    }
    return f;
  };
  let squares = 0;
  spells.forEach((_, i) => {
    const at = (h: number) => incidence(spells.map((_s, j) => (j === i ? 1 + h : 1)));
    squares += ((at(step) - at(-step)) / (2 * step)) ** 2;
  });
  return Math.sqrt(squares);
}

describe('return probability', () => {
  it('without censoring is the plain share, and its effective count the sample', () => {
    const spells = [1, 1, 2, 1, 2, 2, 1, 2].map((end, i) => ({ time: i + 1, end }));
    const got = returnProbability(spells, 1, 4);
    expect(got.probability).toBeCloseTo(3 / 8, 14);
    expect(got.effectiveN).toBeCloseTo(8, 10);
    expect(got).toMatchObject({ n: 8, events: 3, atRisk: 5, followed: true });
  });

  it('is exactly 1 once all have returned, whatever the rounding of the jumps, with the exact lower limit', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 60 }), (times) => {
        const got = returnProbability(
          times.map((time) => ({ time, end: 1 })),
          1,
          9,
        );
        expect(got).toMatchObject({ probability: 1, upper: 1, events: times.length, followed: true });
        // (lower)^n = 0.025.
        expect(got.lower ** times.length).toBeCloseTo(0.025, 9);
      }),
    );
  });

  it('without events is bounded by those still watched at the horizon: 0 of 20 gives at most 0.168 (Newcombe 1998)', () => {
    const spells = Array.from({ length: 20 }, () => ({ time: 10, end: 0 }));
    expect(returnProbability(spells, 1, 5).upper).toBeCloseTo(0.1684334709831, 10);
    expect(returnProbability(spells, 1, 11)).toMatchObject({ followed: false, lower: 0, upper: 1 });
    expect(returnProbability([], 1, 5)).toMatchObject({ n: 0, probability: 0, lower: 0, upper: 1, followed: false });
  });
});

describe('log-rank', () => {
  const member = fc.record({
    time: fc.integer({ min: 1, max: 9 }),
    end: fc.integer({ min: 0, max: 1 }),
    stratum: fc.constantFrom('x', 'y'),
  });
  const groups = fc.array(fc.array(member, { minLength: 1, maxLength: 20 }), { minLength: 2, maxLength: 4 });
  const test = (parts: readonly (readonly (Spell & { readonly stratum: string })[])[]) =>
    logRank(
      parts,
      parts.map((part) => part.map((s) => s.stratum)),
    );

  it('scores sum to 0 and the order of the groups changes nothing', () => {
    fc.assert(
      fc.property(groups, (parts) => {
        const got = test(parts);
        expect(got.observed.reduce((sum, o, g) => sum + o - got.expected[g]!, 0)).toBeCloseTo(0, 10);
        const turned = test([...parts].reverse());
        expect(turned.degreesOfFreedom).toBe(got.degreesOfFreedom);
        expect(turned.chiSquare ?? -1).toBeCloseTo(got.chiSquare ?? -1, 8);
        expect(got.degreesOfFreedom).toBeLessThan(parts.length);
      }),
    );
  });

  it('groups that never met are not compared, and one group cannot be', () => {
    const apart = test([[{ time: 1, end: 1, stratum: 'x' }], [{ time: 1, end: 1, stratum: 'y' }]]);
    expect(apart).toMatchObject({ chiSquare: null, degreesOfFreedom: 0, pValue: null });
    expect(() => logRank([[{ time: 1, end: 1 }]])).toThrow(BadSample);
  });
});

it('refuses spells that contradict themselves', () => {
  for (const bad of [
    { time: -1, end: 0 },
    { time: Number.NaN, end: 0 },
    { time: 1, end: 0.5 },
    { time: 1, end: -1 },
  ]) {
    expect(() => kaplanMeier([bad])).toThrow(BadSample);
  }
  expect(() => kaplanMeier({ time: Float64Array.of(1, 2), end: Uint8Array.of(1) })).toThrow(BadSample);
  expect(stepAt([], 3)).toBe(-1);
});
