import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

// Values computed with R 4.2.2 (optim); its stopping rule leaves about 1e-5 in fitted parameters, less in posterior means.
const FITTED = 1e-4;

// Marshall and Spiegelhalter, "Surgical", twelve hospitals.
describe('twelve hospitals', () => {
  const check = checks<{
    beta_binomial: { alpha: number; beta: number; negloglik: number; post_mean: number[]; lo: number[]; hi: number[] };
  }>('funnel').beta_binomial;
  const cells = rows('surgical-bugs').map((r) => ({ events: Number(r.r), n: Number(r.n) }));

  it('beta-binomial fit and posteriors', () => {
    const fit = o.fitBetaBinomial(cells);
    expect(worstRelative([fit.alpha, fit.beta], [check.alpha, check.beta])).toBeLessThan(FITTED);
    expect(
      worstRelative(
        cells.map((c) => (fit.alpha + c.events) / (fit.alpha + fit.beta + c.n)),
        check.post_mean,
      ),
    ).toBeLessThan(1e-5);
    const quantile = (p: number) => cells.map((c) => o.betaQuantile(p, check.alpha + c.events, check.beta + c.n - c.events));
    expect(worstRelative(quantile(0.025), check.lo)).toBeLessThan(1e-6);
    expect(worstRelative(quantile(0.975), check.hi)).toBeLessThan(1e-6);
  });

  it('with the fit uncertain, intervals are wider and estimates alike', () => {
    const fit = o.fitBetaBinomial(cells);
    const shrunk = o.smallCellRates(cells.map((c, i) => ({ path: [`hospital ${i}`, 'all'], ...c })));
    shrunk.forEach((s, i) => {
      // The fitted size is 108; the prior on sizes believes smaller ones too, so that 0 of 47 is drawn up less: 0.045 for 0.053.
      expect(Math.abs(s.estimate / check.post_mean[i]! - 1)).toBeLessThan(0.2);
      expect(s.borrowed).toBeGreaterThan(0);
      expect(s.borrowed).toBeLessThan(1);
      expect(s.shown.level).toBe(0);
    });
    const width = (low: readonly number[], high: readonly number[]) => low.reduce((sum, l, i) => sum + high[i]! - l, 0);
    const plugIn = width(check.lo, check.hi);
    const carried = width(
      shrunk.map((s) => s.low),
      shrunk.map((s) => s.high),
    );
    expect(carried).toBeGreaterThan(plugIn);
    expect(carried).toBeLessThan(1.3 * plugIn);
    expect(fit.bounded).toBe(false);
  });
});

// Gaver and O'Muircheartaigh (1987), Technometrics 29:1.
describe('pump failures', () => {
  const check = checks<{ alpha: number; beta: number; negloglik: number; post_mean: number[]; lo: number[]; hi: number[] }>('pumps');
  const cells = rows('pumps-bugs').map((r) => ({ events: Number(r.failures), exposure: Number(r.time_kh) }));

  it('gamma-Poisson fit and posteriors', () => {
    const fit = o.fitGammaPoisson(cells);
    expect(worstRelative([fit.alpha, fit.beta], [check.alpha, check.beta])).toBeLessThan(FITTED);
    expect(worstRelative([-fit.logLikelihood], [check.negloglik])).toBeLessThan(1e-6);
    expect(
      worstRelative(
        cells.map((c) => (fit.alpha + c.events) / (fit.beta + c.exposure)),
        check.post_mean,
      ),
    ).toBeLessThan(1e-5);
    const quantile = (p: number) => cells.map((c) => o.gammaQuantile(p, check.alpha + c.events) / (check.beta + c.exposure));
    expect(worstRelative(quantile(0.025), check.lo)).toBeLessThan(1e-6);
    expect(worstRelative(quantile(0.975), check.hi)).toBeLessThan(1e-6);
  });

  it('with the fit uncertain, estimates stay near and intervals are wider in sum', () => {
    const shrunk = o.shrunkRates(cells);
    for (const [i, s] of shrunk.entries()) expect(Math.abs(s.rate / check.post_mean[i]! - 1)).toBeLessThan(0.2);
    const logWidth = (low: readonly number[], high: readonly number[]) => low.reduce((sum, l, i) => sum + Math.log(high[i]! / l), 0);
    expect(
      logWidth(
        shrunk.map((s) => s.low),
        shrunk.map((s) => s.high),
      ),
    ).toBeGreaterThan(logWidth(check.lo, check.hi) * 0.98);
  });
});

// Efron and Morris (1975), JASA 70:311: batting averages. The likelihood is nearly flat in alpha + beta: only the posterior means are compared.
it('batting averages', () => {
  const check = checks<{ beta_binomial_eb: { negloglik: number; post_mean: number[] } }>('baseball').beta_binomial_eb;
  const cells = rows('efron-morris-baseball').map((r) => ({ events: Number(r.hits), n: Number(r.atbats) }));
  const fit = o.fitBetaBinomial(cells);
  expect(
    worstRelative(
      cells.map((c) => (fit.alpha + c.events) / (fit.alpha + fit.beta + c.n)),
      check.post_mean,
    ),
  ).toBeLessThan(1e-3);
});

// DuMouchel (1999), Am. Stat. 53:177; scores printed in the vignette of openEBGM 0.9.1, whose bisection rounds quantiles: tolerance 0.011.
describe('gamma-Poisson shrinker', () => {
  interface Cell {
    N: number;
    E: number;
    Qn: number;
    ebgm: number;
    eb05: number;
    eb95: number;
  }
  const check = checks<{
    theta: [number, number, number, number, number];
    cells: Cell[];
    printed: { ebgm: number[]; eb05: number[]; eb95: number[] };
    fit: { cells: number; mixture_truncated: Fit; component_truncated: Fit };
  }>('gamma-poisson-mixture');
  interface Fit {
    nll_mle: number;
    mle: { alpha1: number; beta1: number; alpha2: number; beta2: number; P: number };
  }
  const [a1, b1, a2, b2, share] = check.theta;

  it('scores of eleven cells, computed and printed', () => {
    const got = check.cells.map((c) => o.shrunkRatio({ n: c.N, e: c.E }, { a1, b1, a2, b2, share }));
    expect(
      worstRelative(
        got.map((g) => g.q),
        check.cells.map((c) => c.Qn),
      ),
    ).toBeLessThan(1e-6);
    expect(
      worstRelative(
        got.map((g) => g.ebgm),
        check.cells.map((c) => c.ebgm),
      ),
    ).toBeLessThan(1e-6);
    expect(
      worstRelative(
        got.map((g) => g.eb05),
        check.cells.map((c) => c.eb05),
      ),
    ).toBeLessThan(1e-6);
    expect(
      worstRelative(
        got.map((g) => g.eb95),
        check.cells.map((c) => c.eb95),
      ),
    ).toBeLessThan(1e-6);
    got.forEach((g, i) => {
      expect(Math.abs(g.ebgm - check.printed.ebgm[i]!)).toBeLessThan(0.011);
      expect(Math.abs(g.eb05 - check.printed.eb05[i]!)).toBeLessThan(0.011);
      expect(Math.abs(g.eb95 - check.printed.eb95[i]!)).toBeLessThan(0.011);
    });
  });

  const cells = rows('caers-ne-counts').map((r) => ({ n: Number(r.N), e: Number(r.E), weight: Number(r.count) }));

  it('log likelihoods of the 17,189 cells at both published maxima', () => {
    expect(cells.reduce((sum, c) => sum + c.weight, 0)).toBe(check.fit.cells);
    for (const [name, truncation] of [
      ['mixture_truncated', 'mixture'],
      ['component_truncated', 'component'],
    ] as const) {
      const { mle, nll_mle } = check.fit[name];
      const at = { a1: mle.alpha1, b1: mle.beta1, a2: mle.alpha2, b2: mle.beta2, share: mle.P };
      expect(worstRelative([-o.gammaMixtureLog(cells, at, truncation)], [nll_mle])).toBeLessThan(1e-8);
    }
  });

  it('fit with each part truncated, as the published software does', () => {
    const { mle, nll_mle } = check.fit.component_truncated;
    const fit = o.fitGammaMixture(cells, 'component', { a1: 2, b1: 0.5, a2: 2, b2: 2, share: 0.1 });
    // The maximum is flat: R's own stopping rule leaves about 1e-3 in the parameters, 1e-9 in the likelihood.
    expect(-fit.logLikelihood).toBeLessThanOrEqual(nll_mle + 1e-5);
    expect(worstRelative([fit.a1, fit.b1, fit.a2, fit.b2, fit.share], [mle.alpha1, mle.beta1, mle.alpha2, mle.beta2, mle.P])).toBeLessThan(
      5e-3,
    );
  });
});
