import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { sfc32 } from '#libs/numeric/index.js';
import { isotonicMeans } from './isotonic.js';
import { reliabilityCurve } from './reliability-curve.js';
import { beggGreenes } from './verification.js';
import { verifiedShare } from './verified-share.js';

describe('isotonic means', () => {
  it('by hand: 1, 3, 2, 4 pools the middle two; weights count', () => {
    expect([...isotonicMeans([1, 1, 1, 1], [1, 3, 2, 4])]).toEqual([1, 2.5, 2.5, 4]);
    expect([...isotonicMeans([1, 3, 1], [1, 9, 2])]).toEqual([1, 2.75, 2.75]);
  });

  it('never falls, keeps the weighted sum, and leaves what is in order as it is', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 1, max: 5 }), fc.double({ min: 0, max: 1, noNaN: true })), { minLength: 1 }),
        (points) => {
          const weight = points.map(([w]) => w);
          const fit = isotonicMeans(
            weight,
            points.map(([w, y]) => w * y),
          );
          for (let i = 1; i < fit.length; i++) expect(fit[i]! - fit[i - 1]!).toBeGreaterThanOrEqual(-1e-12);
          const total = points.reduce((sum, [w, y]) => sum + w * y, 0);
          expect(weight.reduce((sum, w, i) => sum + w * fit[i]!, 0)).toBeCloseTo(total, 9);
        },
      ),
    );
  });
});

describe('the reliability curve with its band', () => {
  const draw = (n: number, seed: number, truth: (p: number) => number) => {
    const random = sfc32(seed);
    const probability = Array.from({ length: n }, () => Math.round(100 * random.uniform()) / 100);
    return { probability, outcome: probability.map((p) => (random.uniform() < truth(p) ? 1 : 0)) };
  };

  it('steps cover all forecasts; a calibrated forecaster stays in the band about as often as it says', () => {
    let inside = 0;
    let all = 0;
    let ratio = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const sample = draw(400, seed, (p) => p);
      const curve = reliabilityCurve(sample, { seed });
      expect(curve.steps.reduce((sum, step) => sum + step.n, 0)).toBe(400);
      inside += curve.steps.filter((step) => step.observed >= step.low - 1e-12 && step.observed <= step.high + 1e-12).length;
      all += curve.steps.length;
      ratio += curve.miscalibration / curve.expectedMiscalibration / 40;
    }
    expect(inside / all).toBeGreaterThan(0.9);
    expect(ratio).toBeGreaterThan(0.8);
    expect(ratio).toBeLessThan(1.25);
  });

  it('one that claims too much leaves it', () => {
    const curve = reliabilityCurve(draw(2_000, 3, (p) => 0.5 + 0.4 * (p - 0.5)));
    expect(curve.miscalibration).toBeGreaterThan(5 * curve.expectedMiscalibration);
    expect(curve.steps.at(-1)!.observed).toBeLessThan(curve.steps.at(-1)!.low);
  });
});

describe('the share of right answers under partial proof', () => {
  it('agrees with Begg and Greenes where there are two answers: 344 × 231/263 + 306 × 54/81 right of 650 (Drum and Christacopoulos 1972)', () => {
    const got = verifiedShare([
      { right: 231, proved: 263, unproved: 166 },
      { right: 54, proved: 81, unproved: 140 },
    ]);
    // Right called positive: prevalence × sensitivity; right called negative: (1 − prevalence) × specificity.
    const both = beggGreenes(
      { provedPresent: 231, provedAbsent: 32, unproved: 166 },
      { provedPresent: 27, provedAbsent: 54, unproved: 140 },
    );
    const right = both.prevalence! * both.sensitivity.corrected! + (1 - both.prevalence!) * both.specificity.corrected!;
    expect(got.corrected).toBeCloseTo(right, 12);
    expect(got.naive).toBeCloseTo(285 / 344, 12);
    expect(got.bounds[0]).toBeCloseTo(285 / 650, 12);
    expect(got.bounds[1]).toBeCloseTo(591 / 650, 12);
    expect(got.lower!).toBeLessThan(got.corrected!);
  });

  it('is not told while one answer has no proof, and never leaves its bounds', () => {
    expect(
      verifiedShare([
        { right: 5, proved: 9, unproved: 1 },
        { right: 0, proved: 0, unproved: 3 },
      ]).corrected,
    ).toBeNull();
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(30), fc.nat(30), fc.nat(50)), { minLength: 1, maxLength: 8 }), (counts) => {
        const strata = counts.map(([right, wrong, unproved]) => ({ right, proved: right + wrong + 1, unproved }));
        const { corrected, bounds } = verifiedShare(strata);
        expect(corrected!).toBeGreaterThanOrEqual(bounds[0] - 1e-12);
        expect(corrected!).toBeLessThanOrEqual(bounds[1] + 1e-12);
      }),
    );
  });

  it('its interval covers: proof that depends on the answer, 300 drawn organisations', () => {
    const random = sfc32(11);
    let covered = 0;
    for (let trial = 0; trial < 300; trial++) {
      const strata = [0.9, 0.6, 0.35].map((q, s) => {
        let [right, proved, unproved] = [0, 0, 0];
        for (let i = 0; i < 150; i++) {
          if (random.uniform() < [0.5, 0.25, 0.1][s]!) {
            proved++;
            if (random.uniform() < q) right++;
          } else unproved++;
        }
        return { right, proved, unproved };
      });
      const { lower, upper } = verifiedShare(strata);
      if (lower !== null && lower <= 0.61667 && upper! >= 0.61667) covered++;
    }
    expect(covered / 300).toBeGreaterThan(0.9);
  });
});
