import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import * as o from '#libs/outcomes/index.js';
import { checks, rows, worstRelative } from './outcomes-data.js';

// Twenty forecasts, computed with R 4.2.2; sources of each method in data/outcomes/calibration.json.
describe('twenty forecasts', () => {
  const want = checks<{
    p: number[];
    y: number[];
    brier: number;
    logloss: number;
    n_bin: number[];
    mean_p: number[];
    mean_y: number[];
    reliability: number;
    resolution: number;
    uncertainty: number;
    within_bin_var: number;
    within_bin_cov: number;
    ece: number;
    mce: number;
    cox_intercept: number;
    cox_slope: number;
    spiegelhalter_z: number;
    corp: { MCB: number; DSC: number; UNC: number; pav: number[] };
    ipw: { weights: number[]; brier: number };
    finley: { hit: number; false_alarm: number; miss: number; correct_neg: number; pss: number; heidke: number; csi: number; acc: number };
  }>('calibration');
  const forecasts = { probability: want.p, outcome: want.y };

  it('Brier and log score, and Brier weighted by inverse proof probability', () => {
    const got = [o.brierScore(forecasts), o.logScore(forecasts), o.brierScore({ ...forecasts, weight: want.ipw.weights })];
    expect(worstRelative(got, [want.brier, want.logloss, want.ipw.brier])).toBeLessThan(1e-6);
  });

  it('five-term split in five bins, expected and largest error', () => {
    const got = o.binnedReliability(forecasts, 5);
    expect(got.bins.map((b) => b.n)).toEqual(want.n_bin);
    expect(
      worstRelative(
        got.bins.map((b) => b.meanForecast),
        want.mean_p,
      ),
    ).toBeLessThan(1e-6);
    expect(
      worstRelative(
        got.bins.map((b) => b.meanOutcome),
        want.mean_y,
      ),
    ).toBeLessThan(1e-6);
    const terms = [got.reliability, got.resolution, got.uncertainty, got.withinBinVariance, got.withinBinCovariance];
    expect(
      worstRelative(terms, [want.reliability, want.resolution, want.uncertainty, want.within_bin_var, want.within_bin_cov]),
    ).toBeLessThan(1e-6);
    expect(worstRelative([got.expectedError, got.largestError], [want.ece, want.mce])).toBeLessThan(1e-6);
  });

  it('CORP split 0.03375 - 0.1475 + 0.2475', () => {
    const got = o.corp(forecasts);
    expect(
      worstRelative([got.miscalibration, got.discrimination, got.uncertainty], [want.corp.MCB, want.corp.DSC, want.corp.UNC]),
    ).toBeLessThan(1e-6);
    const inOrder = want.p.map((_, i) => i).sort((a, b) => want.p[a]! - want.p[b]!);
    expect(inOrder.map((i) => got.recalibrated[i])).toEqual(want.corp.pav);
  });

  it("Cox's line and Spiegelhalter's z", () => {
    const got = o.calibrationLine(forecasts);
    expect(worstRelative([got.intercept!, got.slope!, got.z!], [want.cox_intercept, want.cox_slope, want.spiegelhalter_z])).toBeLessThan(
      1e-6,
    );
    expect(got.slopeLower! < 1 && 1 < got.slopeUpper!).toBe(true);
  });

  // Finley's tornado warnings of 1884 as in Murphy (1996), Weather Forecast. 11:3.
  it('skill of a yes/no warning', () => {
    const f = want.finley;
    const got = o.warningSkill(f.hit, f.false_alarm, f.miss, f.correct_neg);
    expect(worstRelative([got.accuracy!, got.peirce!, got.heidke!, got.criticalSuccess!], [f.acc, f.pss, f.heidke, f.csi])).toBeLessThan(
      1e-6,
    );
  });
});

describe('scores by hand and by property', () => {
  const columns = fc
    .array(fc.record({ p: fc.integer({ min: 0, max: 20 }), y: fc.integer({ min: 0, max: 1 }), w: fc.integer({ min: 1, max: 4 }) }), {
      minLength: 1,
      maxLength: 60,
    })
    .map((list) => ({ probability: list.map((r) => r.p / 20), outcome: list.map((r) => r.y), weight: list.map((r) => r.w) }));

  it('one half of each always scores 1/4 and ln 2', () => {
    const even = { probability: [0.5, 0.5], outcome: [0, 1] };
    expect(o.brierScore(even)).toBe(0.25);
    expect(o.logScore(even)).toBeCloseTo(Math.LN2, 15);
    expect(o.logScore({ probability: [0], outcome: [1] })).toBe(Number.POSITIVE_INFINITY);
  });

  it('both splits give the Brier score back; CORP terms are not negative and recalibration is monotone', () => {
    fc.assert(
      fc.property(columns, (f) => {
        const c = o.corp(f);
        expect(c.miscalibration - c.discrimination + c.uncertainty).toBeCloseTo(o.brierScore(f), 12);
        expect(Math.min(c.miscalibration, c.discrimination, c.uncertainty)).toBeGreaterThan(-1e-12);
        const order = f.probability.map((_, i) => i).sort((a, b) => f.probability[a]! - f.probability[b]!);
        order.slice(1).forEach((i, k) => {
          expect(c.recalibrated[i]! - c.recalibrated[order[k]!]!).toBeGreaterThan(-1e-12);
        });
        const plain = { probability: f.probability, outcome: f.outcome };
        const b = o.binnedReliability(plain);
        expect(b.reliability - b.resolution + b.uncertainty + b.withinBinVariance - b.withinBinCovariance).toBeCloseTo(
          o.brierScore(plain),
          12,
        );
      }),
    );
  });

  it('a whole weight is the same as that many copies', () => {
    fc.assert(
      fc.property(columns, (f) => {
        const copies = f.weight.flatMap((w, i) => Array.from({ length: w }, () => i));
        const wide = { probability: copies.map((i) => f.probability[i]!), outcome: copies.map((i) => f.outcome[i]!) };
        expect(o.brierScore(f)).toBeCloseTo(o.brierScore(wide), 12);
        expect(o.corp(f).miscalibration).toBeCloseTo(o.corp(wide).miscalibration, 12);
      }),
    );
  });

  it('no line where outcomes are alike or separated', () => {
    expect(o.calibrationLine({ probability: [0.2, 0.4, 0.9], outcome: [1, 1, 1] }).slope).toBeNull();
    expect(o.calibrationLine({ probability: [0.1, 0.2, 0.8, 0.9], outcome: [0, 0, 1, 1] }).slope).toBeNull();
    expect(o.calibrationLine({ probability: [0.3, 0.3, 0.3], outcome: [0, 1, 0] }).slope).toBeNull();
  });

  it('several classes: log and Brier of two forecasts by hand', () => {
    const got = o.classScores(
      [
        [0.5, 0.25, 0.25],
        [0.2, 0.8, 0],
      ],
      [0, 1],
    );
    expect(got.log).toBeCloseTo(-(Math.log(0.5) + Math.log(0.8)) / 2, 14);
    expect(got.brier).toBeCloseTo((0.25 + 2 * 0.0625 + 2 * 0.04) / 2, 14);
  });
});

describe('five outcomes of a diagnosis', () => {
  it('each kind once among five cases', () => {
    const got = o.fiveOutcomes([
      { answer: 'undercharge', proved: 'undercharge' },
      { answer: null, proved: 'overcharge' },
      { answer: 'undercharge', proved: 'healthy' },
      { answer: 'healthy', proved: 'clutch-slip' },
      { answer: 'overcharge', proved: 'air-in-system' },
    ]);
    expect(got.shares.map((s) => s.n)).toEqual([1, 1, 1, 1, 1]);
    expect(got).toMatchObject({ n: 5, falseAlarmRate: 1, missRate: 0.25, misdiagnosisRate: 0.25 });
  });

  it('shares sum to 1, intervals hold them, and no healthy case means no false-alarm rate', () => {
    const name = fc.constantFrom('healthy', 'undercharge', 'overcharge');
    fc.assert(
      fc.property(fc.array(fc.record({ answer: fc.option(name), proved: name }), { minLength: 1, maxLength: 50 }), (verdicts) => {
        const got = o.fiveOutcomes(verdicts);
        expect(got.shares.reduce((a, s) => a + s.share, 0)).toBeCloseTo(1, 12);
        expect(got.shares.every((s) => s.lower <= s.share && s.share <= s.upper)).toBe(true);
        expect(got.falseAlarmRate === null).toBe(verdicts.every((v) => v.proved !== 'healthy'));
      }),
    );
  });
});

// Drum and Christacopoulos (1972) in Begg and Greenes (1983), Biometrics 39:207; printed naive 0.895/0.628, corrected 0.836/0.738.
describe('proof of part of the cases', () => {
  const [positive, negative] = rows('begg-greenes-scintigraphy').map((r) => ({
    provedPresent: Number(r.verified_D_pos),
    provedAbsent: Number(r.verified_D_neg),
    unproved: Number(r.unverified),
  })) as [o.Called, o.Called];
  const want = checks<{ naive: Record<string, number>; corrected: Record<string, number> }>('verification');

  it('liver scintigraphy', () => {
    const got = o.beggGreenes(positive, negative);
    const { sensitivity: se, specificity: sp } = got;
    expect(worstRelative([se.naive!, sp.naive!], [want.naive.se!, want.naive.sp!])).toBeLessThan(1e-6);
    const c = want.corrected;
    expect(
      worstRelative([se.corrected!, sp.corrected!, se.standardError!, sp.standardError!], [c.se!, c.sp!, c.se_se!, c.se_sp!]),
    ).toBeLessThan(1e-6);
    expect(worstRelative([got.positivePredictive!, got.negativePredictive!, got.prevalence!], [c.ppv!, c.npv!, c.prev!])).toBeLessThan(
      1e-6,
    );
  });

  it('with every case proved the correction changes nothing, and the bounds always hold the truth', () => {
    const count = fc.integer({ min: 1, max: 60 });
    fc.assert(
      fc.property(
        count,
        count,
        count,
        count,
        fc.integer({ min: 0, max: 50 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (a, b, c, d, hidden, share) => {
          const full = o.beggGreenes(
            { provedPresent: a, provedAbsent: b, unproved: 0 },
            { provedPresent: c, provedAbsent: d, unproved: 0 },
          );
          expect(full.sensitivity.corrected).toBeCloseTo(a / (a + c), 12);
          expect(full.specificity.bounds).toEqual([full.specificity.naive, full.specificity.naive]);
          const present = Math.round(hidden * share);
          const part = o.beggGreenes(
            { provedPresent: a, provedAbsent: b, unproved: hidden },
            { provedPresent: c, provedAbsent: d, unproved: hidden },
          );
          const truth = (a + present) / (a + present + c + (hidden - present));
          expect(part.sensitivity.bounds![0]).toBeLessThanOrEqual(truth + 1e-12);
          expect(part.sensitivity.bounds![1]).toBeGreaterThanOrEqual(truth - 1e-12);
        },
      ),
    );
  });

  it('cannot tell when nothing called healthy was proved', () => {
    const got = o.beggGreenes({ provedPresent: 5, provedAbsent: 1, unproved: 0 }, { provedPresent: 0, provedAbsent: 0, unproved: 9 });
    expect(got.sensitivity).toMatchObject({ corrected: null, naive: 1, bounds: [5 / 14, 1] });
  });
});
