import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

interface Limits {
  readonly n: number;
  readonly lo3: number;
  readonly lo2: number;
  readonly hi2: number;
  readonly hi3: number;
}

// Twelve hospitals of BUGS Examples volume I, Surgical; method of Spiegelhalter (2005); values computed with R 4.2.2.
describe('funnel of twelve hospitals', () => {
  const want = checks<{
    p0: number;
    z_unadjusted: number[];
    phi_winsorised: number;
    phi_raw: number;
    tau2_additive: number;
    z_multiplicative: number[];
    z_additive: number[];
    exact_binomial_limits: Limits[];
    normal_limits: Limits[];
    midp_test: number[];
  }>('funnel');
  const hospitals = rows('surgical-bugs').map((r) => ({ n: Number(r.n), r: Number(r.r) }));
  const target = hospitals.reduce((a, h) => a + h.r, 0) / hospitals.reduce((a, h) => a + h.n, 0);
  const errors = hospitals.map((h) => Math.sqrt((target * (1 - target)) / h.n));
  const z = hospitals.map((h, i) => (h.r / h.n - target) / errors[i]!);

  it('overdispersion: winsorised phi, then tau^2', () => {
    expect(target).toBeCloseTo(want.p0, 12);
    expect(worstRelative(z, want.z_unadjusted)).toBeLessThan(1e-6);
    expect(worstRelative([o.overdispersion(z, errors, 0).phi], [want.phi_raw])).toBeLessThan(1e-6);
    const { phi, tau2, beyondChance } = o.overdispersion(z, errors);
    expect(worstRelative([phi, tau2], [want.phi_winsorised, want.tau2_additive])).toBeLessThan(1e-6);
    expect(beyondChance).toBe(true);
    expect(
      worstRelative(
        z.map((v) => v / Math.sqrt(phi)),
        want.z_multiplicative,
      ),
    ).toBeLessThan(1e-6);
    expect(
      worstRelative(
        z.map((v, i) => (v * errors[i]!) / Math.hypot(errors[i]!, Math.sqrt(tau2))),
        want.z_additive,
      ),
    ).toBeLessThan(1e-6);
  });

  it('exact limits interpolated and clipped at 0, and mid-p', () => {
    // The table's outer limits are those of three standard deviations, its inner ones of 95 %.
    const threeSigma = 1 - o.normalTwoSided(3);
    for (const { n, lo3, lo2, hi2, hi3 } of want.exact_binomial_limits) {
      const wanted = [Math.max(0, lo2), hi2, Math.max(0, lo3), hi3];
      expect(worstRelative([...o.proportionLimits(target, n, 0.95), ...o.proportionLimits(target, n, threeSigma)], wanted)).toBeLessThan(
        1e-6,
      );
    }
    expect(
      worstRelative(
        hospitals.map((h) => o.binomialMidP(h.r, h.n, target)),
        want.midp_test,
      ),
    ).toBeLessThan(1e-6);
  });
});

describe('shop funnel', () => {
  it('a shop that stands out is found, one with little is not judged', () => {
    const shops = [
      ...Array.from({ length: 20 }, (_, i) => ({ observed: 18 + (i % 5), expected: 20 })),
      { observed: 55, expected: 20 },
      { observed: 9, expected: 2 },
    ];
    const { shops: places, tau2 } = o.shopFunnel(shops);
    expect(tau2).toBe(0);
    expect(places.map((s) => s.verdict)).toEqual([...Array.from({ length: 20 }, () => 'as-expected'), 'above', 'not-enough']);
    expect(places[20]!.ratio).toBeCloseTo(2.75, 12);
  });

  it('shops that all differ are not called outliers one by one', () => {
    const shops = Array.from({ length: 30 }, (_, i) => ({ observed: Math.round(100 * (0.6 + (0.8 * i) / 29)), expected: 100 }));
    const funnel = o.shopFunnel(shops);
    expect(funnel.beyondChance).toBe(true);
    expect(funnel.shops.every((s) => s.verdict === 'as-expected')).toBe(true);
    expect(shops.filter((s) => o.poissonMidP(s.observed, s.expected) < 0.05).length).toBeGreaterThan(10);
  });

  it('mid-p of a count of 0 by hand: 2 (exp(-m)/2)', () => {
    expect(o.poissonMidP(0, 3)).toBeCloseTo(Math.exp(-3), 14);
  });

  it('limits lie around the target, wider at a higher level and with spread between shops', () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 500, noNaN: true }), fc.double({ min: 0.001, max: 1, noNaN: true }), (expected, tau2) => {
        const [lower, upper] = o.ratioLimits(expected, 0.95);
        const [lower3, upper3] = o.ratioLimits(expected, 0.998);
        const [, wide] = o.ratioLimits(expected, 0.998, tau2);
        return lower3 <= lower && lower <= 1 && 1 <= upper && upper <= upper3 && wide >= 1 && lower3 >= 0;
      }),
    );
  });
});
