import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

interface Life {
  readonly mu: number;
  readonly sigma: number;
  readonly eta: number;
  readonly beta: number;
  readonly loglik: number;
  readonly se_mu: number;
  readonly se_logsigma: number;
}

function expectLife(spells: readonly o.Spell[], law: o.LifeLaw, want: Life) {
  const got = o.fitLife(spells, law);
  expect(
    worstRelative([got.mu, got.sigma, got.eta, got.beta, got.logLikelihood], [want.mu, want.sigma, want.eta, want.beta, want.loglik]),
  ).toBeLessThan(1e-6);
  // Second differences of the likelihood: 1e-5 of their value.
  expect(worstRelative([got.muError, got.logSigmaError], [want.se_mu, want.se_logsigma])).toBeLessThan(1e-4);
}

// R 4.2.2, survival 3.5-3 (survreg). Data: Nelson (1982); Meeker and Escobar (1998); Lieblein and Zelen (1956).
describe('life models', () => {
  const check = checks<{
    genfan: {
      weibull: Life;
      lognormal: Life;
      exp_theta: number;
      exp_theta_ci_chisq_conservative: number[];
      failures: number;
      total_hours: number;
    };
    shock: { weibull: Life; lognormal: Life; mode1: Life; mode2: Life };
    bearings: { weibull: Life; lognormal: Life };
  }>('reliability');

  it('generator fans', () => {
    const spells = rows('genfan').map((r) => ({ time: Number(r.hours), end: Number(r.status) }));
    expectLife(spells, 'weibull', check.genfan.weibull);
    expectLife(spells, 'lognormal', check.genfan.lognormal);
  });

  it('generator fans: 12 failures in 344,440 h, mean life and its conservative limits', () => {
    const { failures, total_hours, exp_theta, exp_theta_ci_chisq_conservative: limits } = check.genfan;
    const got = o.rate(failures, total_hours);
    expect(worstRelative([1 / got.rate, 1 / got.interval[1]], [exp_theta, limits[0]!])).toBeLessThan(1e-6);
    // Both limits take 2(d + 1) degrees of freedom below and 2 d above when testing stopped at a time.
    expect(worstRelative([1 / got.interval[0]], [limits[1]!])).toBeLessThan(1e-6);
  });

  it('shock absorbers, together and by mode', () => {
    const ends: Record<string, number> = { C: 0, M1: 1, M2: 2 };
    const spells = rows('shock-absorber').map((r) => ({ time: Number(r.km), end: ends[r.mode!]! }));
    expectLife(spells, 'weibull', check.shock.weibull);
    expectLife(spells, 'lognormal', check.shock.lognormal);
    const only = (mode: number) => spells.map((s) => ({ time: s.time, end: s.end === mode ? 1 : 0 }));
    expectLife(only(1), 'weibull', check.shock.mode1);
    expectLife(only(2), 'weibull', check.shock.mode2);
  });

  it('ball bearings', () => {
    const spells = rows('ball-bearings').map((r) => ({ time: Number(r.mrev), end: 1 }));
    expectLife(spells, 'weibull', check.bearings.weibull);
    expectLife(spells, 'lognormal', check.bearings.lognormal);
  });
});

interface Cox {
  readonly coef: number;
  readonly se: number;
  readonly loglik: [number, number];
  readonly lrt: number;
}

function expectCox(spells: readonly o.CovariateSpell[], ties: o.TieRule, want: Cox) {
  const got = o.proportionalHazards(spells, ties);
  expect(worstRelative([got.nullLogLikelihood, got.logLikelihood, got.chiSquare], [...want.loglik, want.lrt])).toBeLessThan(1e-6);
  expect(worstRelative(got.coefficients, [want.coef])).toBeLessThan(1e-6);
  expect(worstRelative(got.errors, [want.se])).toBeLessThan(1e-4);
}

// R 4.2.2, survival 3.5-3 (coxph); 1.509 by Breslow as printed in Kleinbaum and Klein.
describe('proportional hazards', () => {
  it('6-MP against placebo by Efron and Breslow', () => {
    const check = checks<{ cox: { efron: Cox; breslow: Cox } }>('six-mp').cox;
    const spells = rows('drug6mp-long').map((r) => ({
      time: Number(r.time),
      end: Number(r.status),
      covariates: [r.arm === 'placebo' ? 1 : 0],
    }));
    expectCox(spells, 'efron', check.efron);
    expectCox(spells, 'breslow', check.breslow);
  });

  it('maintained leukaemia', () => {
    const check = checks<{ cox: Cox }>('aml').cox;
    const spells = rows('aml').map((r) => ({ time: Number(r.time), end: Number(r.status), covariates: [r.x === 'Maintained' ? 0 : 1] }));
    expectCox(spells, 'efron', check);
  });
});

// Doll and Hill (1966); Poisson regression of deaths on age and smoking, R 4.2.2.
it('British doctors by Poisson regression', () => {
  const check = checks<{ deviance: number; df: number; poisson_coef_smoke: number; poisson_se: number; coefs: Record<string, number> }>(
    'person-time',
  );
  const data = rows('british-doctors');
  const table = data.flatMap((r, age) =>
    ([1, 0] as const).map((smoke) => ({
      events: Number(smoke ? r.smoker_deaths : r.non_deaths),
      time: Number(smoke ? r.smoker_py : r.non_py),
      covariates: [1, ...[1, 2, 3, 4].map((a) => (a === age ? 1 : 0)), smoke],
    })),
  );
  const got = o.rateRegression(table);
  expect(worstRelative(got.coefficients, Object.values(check.coefs))).toBeLessThan(1e-6);
  expect(worstRelative([got.errors[5]!], [check.poisson_se])).toBeLessThan(1e-6);
  expect(worstRelative([got.deviance], [check.deviance])).toBeLessThan(1e-6);
  expect(got.df).toBe(check.df);
});
