import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

// Values computed with R 4.2.2; 13 digits are stored.
const TOLERANCE = 1e-6;

// Doll and Hill (1966), NCI Monograph 19:205, as in Breslow and Day (1987) volume II.
describe('British doctors', () => {
  const check = checks<{
    crude_rr: number;
    mh_rr: number;
    mh_ci95: number[];
    var_log_rr_mh: number;
    mh_chisq: number;
    conditional_exact_crude: { p: number; rr: number; ci: number[] };
  }>('person-time');
  const strata = rows('british-doctors').map((r) => ({
    exposedEvents: Number(r.smoker_deaths),
    exposedTime: Number(r.smoker_py),
    referenceEvents: Number(r.non_deaths),
    referenceTime: Number(r.non_py),
  }));
  const crude = strata.reduce((sum, s) => ({
    exposedEvents: sum.exposedEvents + s.exposedEvents,
    exposedTime: sum.exposedTime + s.exposedTime,
    referenceEvents: sum.referenceEvents + s.referenceEvents,
    referenceTime: sum.referenceTime + s.referenceTime,
  }));

  it('Mantel-Haenszel rate ratio 1.4247 (1.1547, 1.7578) where the crude one is 1.7198', () => {
    const got = o.mantelHaenszelRate(strata);
    expect(worstRelative([got.ratio!, got.lower!, got.upper!], [check.mh_rr, ...check.mh_ci95])).toBeLessThan(TOLERANCE);
    expect(worstRelative([got.varianceLog!, got.chiSquare], [check.var_log_rr_mh, check.mh_chisq])).toBeLessThan(TOLERANCE);
    expect(worstRelative([o.mantelHaenszelRate([crude]).ratio!], [check.crude_rr])).toBeLessThan(TOLERANCE);
  });

  it('exact comparison of the crude rates', () => {
    const got = o.exactRateRatio(crude);
    const want = check.conditional_exact_crude;
    expect(worstRelative([got.p, got.ratio!, ...got.interval], [want.p, want.rr, ...want.ci])).toBeLessThan(TOLERANCE);
  });
});

describe('fourfold tables', () => {
  const check = checks<{
    tea: { two_sided_p: number; one_sided_p: number; cond_mle_or: number; ci95: number[]; one_sided_lower: number };
    convictions: { p_less: number; ci_upper: number; or: number };
    ucb: Record<string, number> & { ci: number[]; exact_ci: number[]; per_dept_or: number[] };
  }>('mantel-haenszel');

  // Fisher (1935), The Design of Experiments: 3 of 4 cups right. 17/70 by hand.
  it('lady tasting tea', () => {
    const got = o.exactOdds([{ a: 3, b: 1, c: 1, d: 3 }]);
    expect(got.greater).toBeCloseTo(17 / 70, 14);
    expect(
      worstRelative([got.p, got.greater, got.estimate], [check.tea.two_sided_p, check.tea.one_sided_p, check.tea.cond_mle_or]),
    ).toBeLessThan(1e-4);
    expect(worstRelative([got.interval[0]], [check.tea.ci95[0]!])).toBeLessThan(1e-4);
    // The upper limit leaves 4 of 4 a chance of 0.975: psi^4/(1 + 16 psi + 36 psi^2 + 16 psi^3 + psi^4). R finds 1/psi to 1.2e-4 only: 621.9.
    const psi = got.interval[1];
    expect(psi ** 4 / (1 + 16 * psi + 36 * psi ** 2 + 16 * psi ** 3 + psi ** 4)).toBeCloseTo(0.975, 10);
    expect(Math.abs(1 / psi - 1 / check.tea.ci95[1]!)).toBeLessThan(1.2e-4);
    expect(worstRelative([o.exactOdds([{ a: 3, b: 1, c: 1, d: 3 }], 0.9).interval[0]], [check.tea.one_sided_lower])).toBeLessThan(1e-4);
  });

  // Fisher (1962), twins and convictions, as in R's help of fisher.test.
  it('convictions of twins', () => {
    const table = [{ a: 2, b: 15, c: 10, d: 3 }];
    const got = o.exactOdds(table);
    // R's uniroot stops at 1e-4 or so on these; its one-sided upper limit is the 90 % two-sided one.
    expect(worstRelative([got.less], [check.convictions.p_less])).toBeLessThan(TOLERANCE);
    expect(worstRelative([got.estimate], [check.convictions.or])).toBeLessThan(1e-3);
    expect(worstRelative([o.exactOdds(table, 0.9).interval[1]], [check.convictions.ci_upper])).toBeLessThan(1e-3);
  });

  // Bickel, Hammel and O'Connell (1975), Science 187:398.
  it('Berkeley admissions by department', () => {
    const data = rows('ucbadmissions');
    const cell = (dept: string, gender: string, admit: string) =>
      Number(data.find((r) => r.Dept === dept && r.Gender === gender && r.Admit === admit)!.Freq);
    const tables = ['A', 'B', 'C', 'D', 'E', 'F'].map((dept) => ({
      a: cell(dept, 'Male', 'Admitted'),
      b: cell(dept, 'Female', 'Admitted'),
      c: cell(dept, 'Male', 'Rejected'),
      d: cell(dept, 'Female', 'Rejected'),
    }));
    const { ucb } = check;
    const got = o.mantelHaenszelOdds(tables);
    expect(worstRelative([got.ratio!, got.lower!, got.upper!], [ucb.common_or!, ...ucb.ci])).toBeLessThan(TOLERANCE);
    expect(worstRelative([got.correctedChiSquare, got.correctedP], [ucb.mh_chisq_corrected!, ucb.p!])).toBeLessThan(TOLERANCE);
    expect(worstRelative([got.chiSquare, got.p], [ucb.mh_chisq_uncorrected!, ucb.p_uncorrected!])).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        tables.map((t) => o.mantelHaenszelOdds([t]).ratio!),
        ucb.per_dept_or,
      ),
    ).toBeLessThan(TOLERANCE);
    const marginal = tables.reduce((s, t) => ({ a: s.a + t.a, b: s.b + t.b, c: s.c + t.c, d: s.d + t.d }));
    expect(worstRelative([o.mantelHaenszelOdds([marginal]).ratio!], [ucb.marginal_or!])).toBeLessThan(TOLERANCE);
    const exact = o.exactOdds(tables);
    expect(worstRelative([exact.p], [ucb.exact_p!])).toBeLessThan(TOLERANCE);
    expect(worstRelative([exact.estimate, ...exact.interval], [ucb.exact_or!, ...ucb.exact_ci])).toBeLessThan(1e-4);
  });
});

// Nelson (1995), Technometrics 37:147; standard errors after Lawless and Nadeau (1995), ibid. 158.
describe('valve seat replacements', () => {
  const check = checks<{
    valveSeat: {
      time: number;
      n_risk: number;
      d: number;
      mcf: number;
      se_lawless_nadeau: number;
      se_poisson: number;
      lower_log: number;
      upper_log: number;
    }[];
  }>('mean-cumulative');

  it('mean cumulative function with robust and Poisson standard errors at all 46 times', () => {
    const engines = new Map<string, { until: number; at: number[] }>();
    for (const r of rows('valve-seat')) {
      const engine = engines.get(r.id!) ?? { until: 0, at: [] };
      engine.until = Math.max(engine.until, Number(r.time));
      if (r.status === '1') engine.at.push(Number(r.time));
      engines.set(r.id!, engine);
    }
    const got = o.meanCumulative([...engines.values()]);
    const want = check.valveSeat;
    expect(got.times).toEqual(want.map((r) => r.time));
    expect(got.atRisk).toEqual(want.map((r) => r.n_risk));
    expect(got.events).toEqual(want.map((r) => r.d));
    expect(
      worstRelative(
        got.mean,
        want.map((r) => r.mcf),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        got.standardError,
        want.map((r) => r.se_lawless_nadeau),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        got.poissonError,
        want.map((r) => r.se_poisson),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        got.lower,
        want.map((r) => r.lower_log),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        got.upper,
        want.map((r) => r.upper_log),
      ),
    ).toBeLessThan(TOLERANCE);
  });
});

// Benjamini and Hochberg (1995), section 3.1: 4 rejected at 0.05; Holm's method rejects 3.
describe('many tests', () => {
  const check = checks<{ p: number[]; bh: number[]; by: number[]; holm: number[] }>('multiplicity');

  it('adjusted p-values of the fifteen tests', () => {
    expect(worstRelative(o.adjustedP(check.p), check.bh)).toBeLessThan(TOLERANCE);
    expect(worstRelative(o.adjustedP(check.p, 'benjamini-yekutieli'), check.by)).toBeLessThan(TOLERANCE);
    expect(worstRelative(o.adjustedP(check.p, 'holm'), check.holm)).toBeLessThan(TOLERANCE);
    expect(o.adjustedP(check.p).filter((q) => q <= 0.05)).toHaveLength(4);
    expect(o.adjustedP(check.p, 'holm').filter((q) => q <= 0.05)).toHaveLength(3);
  });
});
