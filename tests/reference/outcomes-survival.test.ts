import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

interface KmRow {
  readonly time: number;
  readonly n_risk: number;
  readonly n_event: number;
  readonly surv: number;
  readonly se_greenwood: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
}

// Values computed with R 4.2.2, survival 3.5-3 unless said otherwise; 13 digits are stored.
const TOLERANCE = 1e-6;

interface Followed {
  readonly time: number;
  readonly end: number;
}

const sample = (followed: readonly Followed[]): o.Columns => ({
  time: Float64Array.from(followed, (f) => f.time),
  end: Uint8Array.from(followed, (f) => f.end),
});

function expectCurve(followed: readonly Followed[], table: KmRow[], scale: o.LimitScale) {
  const curve = o.kaplanMeier(sample(followed), 0.95, scale);
  const column = (name: keyof KmRow) => table.map((r) => r[name] ?? Number.NaN);
  expect(curve.times).toEqual(column('time'));
  expect(curve.atRisk).toEqual(column('n_risk'));
  expect(curve.events).toEqual(column('n_event'));
  expect(worstRelative(curve.survival, column('surv'))).toBeLessThan(TOLERANCE);
  const last = table.findIndex((r) => r.lower === null);
  const upTo = last < 0 ? table.length : last;
  expect(worstRelative(curve.standardError.slice(0, upTo), column('se_greenwood').slice(0, upTo))).toBeLessThan(TOLERANCE);
  expect(worstRelative(curve.lower.slice(0, upTo), column('lower').slice(0, upTo))).toBeLessThan(TOLERANCE);
  expect(worstRelative(curve.upper.slice(0, upTo), column('upper').slice(0, upTo))).toBeLessThan(TOLERANCE);
  // R gives no limits at S = 0; here the lower is 0 and the upper the last one before.
  for (let i = upTo; i < table.length; i++) expect([curve.lower[i], curve.upper[i]]).toEqual([0, curve.upper[upTo - 1]]);
}

interface Test {
  readonly obs: number[];
  readonly exp: number[];
  readonly var: number[][];
  readonly chisq: number;
  readonly p?: number;
}

function expectTest(result: o.LogRank, want: Test) {
  expect(worstRelative(result.observed, want.obs)).toBeLessThan(TOLERANCE);
  expect(worstRelative(result.expected, want.exp)).toBeLessThan(TOLERANCE);
  expect(worstRelative(result.variance.flat(), want.var.flat())).toBeLessThan(TOLERANCE);
  expect(result.degreesOfFreedom).toBe(1);
  expect(worstRelative([result.chiSquare!], [want.chisq])).toBeLessThan(TOLERANCE);
  if (want.p !== undefined) expect(worstRelative([result.pValue!], [want.p])).toBeLessThan(TOLERANCE);
}

// Freireich et al. (1963), Blood 21:699; Klein and Moeschberger (2003) table 4.1.
describe('remission on 6-MP', () => {
  const check = checks<Record<string, never>>('six-mp') as unknown as {
    km_6mp: Record<string, KmRow[]>;
    km_placebo: Record<string, KmRow[]>;
    na_6mp: { cumhaz: number; se: number }[];
    logrank: Test;
    logrank_stratified_by_pair: Test;
    peto_rho1: Test;
    rmst30: { rmean30: number[]; se: number[] };
  };
  const spells = rows('drug6mp-long').map((r) => ({ time: Number(r.time), end: Number(r.status), group: r.arm!, stratum: r.pair! }));
  const drug = spells.filter((s) => s.group !== 'placebo');
  const placebo = spells.filter((s) => s.group === 'placebo');
  const arms = [sample(drug), sample(placebo)];
  const pairs = [drug.map((s) => s.stratum), placebo.map((s) => s.stratum)];

  for (const [name, scale] of [
    ['loglog', 'log-log'],
    ['log', 'log'],
    ['plain', 'plain'],
  ] as const) {
    it(`Kaplan-Meier with ${scale} limits, both arms`, () => {
      expectCurve(drug, check.km_6mp[name]!, scale);
      expectCurve(placebo, check.km_placebo[name]!, scale);
    });
  }

  it('Nelson-Aalen, median 23 weeks and restricted means to 30 weeks', () => {
    const curve = o.kaplanMeier(arms[0]!);
    expect(
      worstRelative(
        curve.cumulativeHazard,
        check.na_6mp.map((r) => r.cumhaz),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        curve.cumulativeHazardError,
        check.na_6mp.map((r) => r.se),
      ),
    ).toBeLessThan(TOLERANCE);
    expect(o.lifeQuantile(curve).estimate).toBe(23);
    const means = [curve, o.kaplanMeier(arms[1]!)].map((c) => o.restrictedMean(c, 30));
    expect(
      worstRelative(
        means.map((m) => m.mean),
        check.rmst30.rmean30,
      ),
    ).toBeLessThan(TOLERANCE);
    expect(
      worstRelative(
        means.map((m) => m.standardError),
        check.rmst30.se,
      ),
    ).toBeLessThan(TOLERANCE);
  });

  it('log-rank 16.79, 10.71 by pair, Peto-Peto 14.46', () => {
    expectTest(o.logRank(arms), check.logrank);
    expectTest(o.logRank(arms, pairs), check.logrank_stratified_by_pair);
    expectTest(o.logRank(arms, undefined, 'peto-peto'), check.peto_rho1);
  });
});

// Miller (1981), Survival Analysis.
describe('acute myelogenous leukaemia', () => {
  const check = checks<{ km_maintained: Record<string, KmRow[]>; km_non: Record<string, KmRow[]>; logrank: Test; peto: Test }>('aml');
  const spells = rows('aml').map((r) => ({ time: Number(r.time), end: Number(r.status), group: r.x! }));
  const maintained = spells.filter((s) => s.group === 'Maintained');
  const other = spells.filter((s) => s.group !== 'Maintained');

  it('Kaplan-Meier of both arms on three scales', () => {
    for (const [name, scale] of [
      ['loglog', 'log-log'],
      ['log', 'log'],
      ['plain', 'plain'],
    ] as const) {
      expectCurve(maintained, check.km_maintained[name]!, scale);
      expectCurve(other, check.km_non[name]!, scale);
    }
  });

  it('log-rank 3.396 and Peto-Peto 2.779', () => {
    expectTest(o.logRank([sample(maintained), sample(other)]), check.logrank);
    expectTest(o.logRank([sample(maintained), sample(other)], undefined, 'peto-peto'), check.peto);
  });
});

describe('competing ends', () => {
  interface Mgus {
    times: number[];
    n_risk: number[];
    p_pcm: number[];
    p_death: number[];
    se_pcm: number[];
    se_death: number[];
    cmprsk_var: number[][];
    km_complement_pcm_WRONG: number[];
  }
  const check = checks<{
    mgus2: Mgus;
    mgus2_by_sex: { p_pcm: number[]; p_death: number[] };
    tiny: { data: { t: number; e: number }[]; time: number[]; pstate_a: number[]; pstate_b: number[]; se_a: number[]; se_b: number[] };
  }>('competing-risks');
  // Kyle et al. (2002), N Engl J Med 346:564: 1 progression to plasma cell malignancy, 2 death without it.
  const patients = rows('mgus2').map((r) => {
    const progressed = r.pstat === '1';
    return { time: Number(progressed ? r.ptime : r.futime), end: progressed ? 1 : r.death === '1' ? 2 : 0, group: r.sex! };
  });

  const read = (curve: o.IncidenceCurve, times: number[], what: 'incidence' | 'standardError') =>
    times.map((t) => curve[what][o.stepAt(curve.times, t)]!);

  it('1,384 patients: both incidences and their variances', () => {
    const want = check.mgus2;
    const all = sample(patients);
    const [progression, death] = [o.aalenJohansen(all, 1), o.aalenJohansen(all, 2)];
    expect(o.numbersAtRisk(all, want.times)).toEqual(want.n_risk);
    expect(worstRelative(read(progression, want.times, 'incidence'), want.p_pcm)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(death, want.times, 'incidence'), want.p_death)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(progression, want.times, 'standardError'), want.se_pcm)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(death, want.times, 'standardError'), want.se_death)).toBeLessThan(TOLERANCE);
    // cmprsk prints the delta-method variance, another estimator: they agree while many are at risk (424 at month 120, 57 at 240, 3 at 360).
    [progression, death].forEach((curve, k) => {
      const squares = read(curve, want.times, 'standardError').map((se) => se * se);
      expect(worstRelative(squares.slice(0, 3), want.cmprsk_var[k]!.slice(0, 3))).toBeLessThan(2e-3);
    });
  });

  it('either end counted as one is 1 - S', () => {
    const either = o.aalenJohansen(sample(patients), [1, 2]);
    const holding = o.kaplanMeier(sample(patients));
    expect(
      worstRelative(
        either.incidence,
        holding.survival.map((s) => 1 - s),
      ),
    ).toBeLessThan(1e-12);
    expect(worstRelative(either.standardError, holding.standardError)).toBeLessThan(1e-12);
  });

  it('by sex', () => {
    const times = [60, 120, 240];
    const sexes = ['F', 'M'].map((sex) => sample(patients.filter((p) => p.group === sex)));
    const both = (k: number) => sexes.flatMap((s) => read(o.aalenJohansen(s, k), times, 'incidence'));
    expect(worstRelative(both(1), check.mgus2_by_sex.p_pcm)).toBeLessThan(TOLERANCE);
    expect(worstRelative(both(2), check.mgus2_by_sex.p_death)).toBeLessThan(TOLERANCE);
  });

  it('censoring deaths would say 0.425 where 0.134 is true', () => {
    const all = sample(patients);
    const wrong = o.kaplanMeier(o.causeOnly(all, 1));
    const at = check.mgus2.times.map((t) => 1 - wrong.survival[o.stepAt(wrong.times, t)]!);
    expect(worstRelative(at, check.mgus2.km_complement_pcm_WRONG)).toBeLessThan(TOLERANCE);
    expect(o.returnProbability(all, 1, 360).probability).toBeCloseTo(0.1340416443261, 12);
  });

  it('eight rows worked by hand', () => {
    const { data, time, pstate_a, pstate_b, se_a, se_b } = check.tiny;
    const eight = sample(data.map(({ t, e }) => ({ time: t, end: e })));
    const [a, b] = [o.aalenJohansen(eight, 1), o.aalenJohansen(eight, 2)];
    // Censoring-only times repeat the step before.
    expect(worstRelative(read(a, time, 'incidence'), pstate_a)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(b, time, 'incidence'), pstate_b)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(a, time, 'standardError'), se_a)).toBeLessThan(TOLERANCE);
    expect(worstRelative(read(b, time, 'standardError'), se_b)).toBeLessThan(TOLERANCE);
    // S(2-)=7/8, S(3-)=3/4: F_a = 1/8 + (3/4)(1/5) + (9/20)(1/2) = 1/2, F_b = (7/8)(1/7) + (3/5)(1/4) = 11/40.
    expect(a.incidence.at(-1)).toBeCloseTo(1 / 2, 14);
    expect(b.incidence.at(-1)).toBeCloseTo(11 / 40, 14);
  });
});

describe('life data of mechanical parts', () => {
  const check = checks<{
    genfan: { km: KmRow[] };
    shock: { km: KmRow[]; aj: { time: number; M1: number; M2: number; se1: number; se2: number }[] };
    heat_exchanger: { F: number[]; se_greenwood: number[] };
  }>('reliability');

  it('diesel generator fans (Nelson 1982)', () => {
    expectCurve(
      rows('genfan').map((r) => ({ time: Number(r.hours), end: Number(r.status) })),
      check.genfan.km,
      'log-log',
    );
  });

  it('shock absorbers, two failure modes (Meeker and Escobar 1998, table C.2)', () => {
    const ends: Record<string, number> = { C: 0, M1: 1, M2: 2 };
    const spells = rows('shock-absorber').map((r) => ({ time: Number(r.km), end: ends[r.mode!]! }));
    expectCurve(spells, check.shock.km, 'log-log');
    const { aj } = check.shock;
    (['M1', 'M2'] as const).forEach((mode, k) => {
      const curve = o.aalenJohansen(sample(spells), k + 1);
      const error = (['se1', 'se2'] as const)[k]!;
      expect(curve.times).toEqual(aj.map((r) => r.time));
      expect(
        worstRelative(
          curve.incidence,
          aj.map((r) => r[mode]),
        ),
      ).toBeLessThan(TOLERANCE);
      expect(
        worstRelative(
          curve.standardError,
          aj.map((r) => r[error]),
        ),
      ).toBeLessThan(TOLERANCE);
    });
  });

  it('heat exchanger tubes: 4 of 300, 5 of 197, 2 of 97 (Meeker and Escobar 1998, chapter 1)', () => {
    // Units leave the sample between inspections: 300 - 4 - 99, 197 - 5 - 95 at risk next.
    const spells = [
      [1, 1, 4],
      [1, 0, 99],
      [2, 1, 5],
      [2, 0, 95],
      [3, 1, 2],
      [3, 0, 95],
    ].flatMap(([time, end, count]) => Array.from({ length: count! }, () => ({ time: time!, end: end! })));
    const curve = o.kaplanMeier(sample(spells));
    expect(
      worstRelative(
        curve.survival.map((s) => 1 - s),
        check.heat_exchanger.F,
      ),
    ).toBeLessThan(TOLERANCE);
    expect(worstRelative(curve.standardError, check.heat_exchanger.se_greenwood)).toBeLessThan(TOLERANCE);
  });
});

describe('intervals', () => {
  interface Binomial {
    x: number;
    n: number;
    wilson: number[];
    clopper_pearson: number[];
    jeffreys: number[];
    midp: number[];
  }
  const check = checks<{ binom: Binomial[]; poisson: { x: number; garwood95: number[] }[] }>('intervals');

  // Newcombe (1998), Stat Med 17:857, table I, and R 4.2.2.
  for (const want of check.binom) {
    it(`${want.x} of ${want.n}: exact, Wilson, Jeffreys, mid-p`, () => {
      expect(worstRelative(o.exactBinomial(want.x, want.n), want.clopper_pearson)).toBeLessThan(TOLERANCE);
      expect(worstRelative(o.wilson(want.x, want.n), want.wilson)).toBeLessThan(TOLERANCE);
      expect(worstRelative(o.jeffreys(want.x, want.n), want.jeffreys)).toBeLessThan(TOLERANCE);
      expect(worstRelative(o.midPBinomial(want.x, want.n), want.midp)).toBeLessThan(TOLERANCE);
    });
  }

  // Garwood (1936), Biometrika 28:437.
  it('Poisson counts', () => {
    for (const { x, garwood95 } of check.poisson) expect(worstRelative(o.exactPoisson(x), garwood95)).toBeLessThan(TOLERANCE);
  });
});
