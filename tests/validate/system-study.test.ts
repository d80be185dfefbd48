import { describe, expect, it } from '@jest/globals';
import { runSystemStudy } from './system-study.js';

/** A tenth of the full study (20,000 cases, `node dist/tests/validate/system-study.js`). */
describe('random platforms, weathers and faults', () => {
  const study = runSystemStudy(2_000, 40_000);

  it('at least 99.5 % converge or are declared without a steady state, at most 2 % the latter', () => {
    const declared = study.verdicts['no-steady-state'] ?? 0;
    const settled = (study.verdicts['converged'] ?? 0) + (study.verdicts['at-bound'] ?? 0) + declared;
    expect(settled / study.cases).toBeGreaterThanOrEqual(0.995);
    expect(declared / study.cases).toBeLessThanOrEqual(0.02);
  });

  it('every case without a steady state, or at a bound, has its reason', () => {
    const reasons = Object.values(study.reasons).reduce((a, b) => a + b, 0);
    expect(reasons).toBe((study.verdicts['no-steady-state'] ?? 0) + (study.verdicts['at-bound'] ?? 0));
  });

  it('no number is ever not finite, and balances close to 1e-6', () => {
    expect(study.notFinite).toBe(0);
    expect(study.worstEnergy).toBeLessThan(1e-6);
    expect(study.worstMass).toBeLessThan(1e-6);
    expect(study.worstFlow).toBeLessThan(1e-6);
  });

  it('all regimes are met', () => {
    for (const regime of [
      'clutchCycling',
      'highPressureCycling',
      'flashGas',
      'floodback',
      'vessel empty',
      'vessel full',
      'condenserBelowAir',
      'evaporatorFreezing',
    ])
      expect(study.regimes[regime] ?? 0).toBeGreaterThan(0);
  });
});
