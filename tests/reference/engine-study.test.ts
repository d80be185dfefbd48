import { describe, expect, it } from '@jest/globals';
import { OBSERVATION_SETS } from '../validate/engine-cases.js';
import { KNOWLEDGE, type Knowledge, knownGood } from '../validate/engine-known.js';
import { calibration, type Judged, summarise } from '../validate/engine-metrics.js';
import { judgeCases } from '../validate/engine-study.js';

/**
 * A tenth of the study of docs/validation.md. The judging model has other equations and constants than the model the engine is calibrated
 * with; this is accuracy on simulated systems, not on vehicles. Bounds: the full study's figure less three standard errors of the smaller sample.
 */
describe('diagnostic study on simulated cases', () => {
  const count = 60;
  const judged = OBSERVATION_SETS.map((set) => judgeCases(count, set, 1));
  const all = judged.flat();
  const error = (p: number, n: number) => 3 * Math.sqrt((p * (1 - p)) / n);

  it('answers first and among the first three as often as published', () => {
    const full = summarise(judged.at(-1)!);
    expect(full.cases).toBe(count);
    expect(full.top1).toBeGreaterThan(0.767 - error(0.767, count));
    expect(full.top3).toBeGreaterThan(0.93 - error(0.93, count));
    expect(summarise(all).top3).toBeGreaterThan(0.88 - error(0.88, all.length));
  });

  it('raises few false alarms on sound systems', () => {
    const sound = all.filter((j) => j.truth === 'healthy').length;
    expect(summarise(all).falseAlarm).toBeLessThan(0.06 + error(0.06, sound));
  });

  it('gets better with more readings', () => {
    expect(summarise(judged.at(-1)!).logLoss).toBeLessThan(summarise(judged[0]!).logLoss);
  });

  it('promises no more than it keeps', () => {
    // Said and kept, over all answers: mean probability of the first class against how often it was drawn.
    const said = all.reduce((sum, j) => sum + j.classes[0]!.p, 0) / all.length;
    const kept = all.filter((j) => j.classes[0]!.name === j.drawnClass).length / all.length;
    expect(said).toBeLessThan(kept + error(0.5, all.length));
  });
});

describe('what is known of sound vehicles before', () => {
  it('makes answers better: of related platforms, of the platform, of the vehicle alone, and of several', () => {
    const known = knownGood(30, 5_000_001, 'surface');
    const loss = (knowledge: Knowledge) => summarise(known[knowledge]).logLoss;
    expect(known.none.length).toBe(300);
    for (const knowledge of KNOWLEDGE.filter((one) => one !== 'none')) expect(loss(knowledge)).toBeLessThan(loss('none'));
  });
});

describe('the yardsticks themselves', () => {
  it('finds slope 1 and intercept 0 for probabilities that are kept exactly', () => {
    const points = [0.2, 0.5, 0.8].flatMap((p) => Array.from({ length: 100 }, (_, i) => ({ p, right: i < 100 * p })));
    const { slope, intercept } = calibration(points);
    expect(slope).toBeCloseTo(1, 6);
    expect(intercept).toBeCloseTo(0, 6);
  });

  it('counts the five outcomes', () => {
    const one = (truth: Judged['truth'], first: string, status: Judged['status']): Judged => ({
      truth,
      truthClass: truth,
      drawnClass: truth,
      group: 'x',
      classes: [{ name: first, p: 0.7 }],
      plain: [{ name: first, p: 0.7 }],
      named: [first],
      namedClasses: [first],
      impact: truth === 'healthy' ? 0 : 0.2,
      chargeCovered: null,
      lossCovered: null,
      status,
    });
    const s = summarise([
      one('healthy', 'healthy', 'answered'),
      one('healthy', 'undercharge', 'answered'),
      one('undercharge', 'undercharge', 'answered'),
      one('undercharge', 'healthy', 'answered'),
      one('undercharge', 'overcharge', 'cannot-tell'),
    ]);
    expect(s).toMatchObject({ cases: 5, top1: 0.4, falseAlarm: 0.5, noResponse: 0.2 });
    expect(s.missed).toBeCloseTo(1 / 3, 12);
    expect(s.misdiagnosed).toBeCloseTo(1 / 3, 12);
  });
});
