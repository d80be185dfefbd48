import { describe, expect, it } from '@jest/globals';
import { seasonalRunLength } from '#libs/outcomes/index.js';
import { cusumStudy, seasonOf } from './outcomes-cusum.js';
import { artefactStudy, clockStudy, noticedStudy } from './outcomes-heat.js';
import { studySize, tell } from './outcomes-size.js';

describe('weekly charts keep their false-alarm rate', () => {
  it('at most 1.5 times what is stated, known or estimated overdispersion; a Poisson chart does not', () => {
    const study = cusumStudy(studySize(600), 10, 20240101);
    tell('cusum', study);
    expect(study.known).toBeLessThan(1.5);
    expect(study.known).toBeGreaterThan(1 / 1.5);
    expect(study.estimated).toBeLessThan(1.5);
    expect(study.poissonChart).toBeGreaterThan(2);
    expect(study.weeksToDoubling).toBeLessThan(30);
  });

  it('sees a doubling long before it would cry wolf', () => {
    const chart = { means: seasonOf(4), size: 2, ratio: 2 };
    expect(seasonalRunLength(chart, 3, 2)).toBeLessThan(seasonalRunLength(chart, 3) / 3);
  });
});

describe('degree-days', () => {
  it('the same wear looks like 30 times the returns in May; on the heat clock the months agree', () => {
    const study = artefactStudy(studySize(400), 400, 7);
    tell('artefact', study);
    expect(study.mayShare).toBeGreaterThan(0.45);
    expect(study.septemberShare).toBeLessThan(0.25);
    expect(study.calendarRejects).toBeCloseTo(1, 9);
    // 0.05 expected; binomial standard error 0.034 over 40 studies, three of them allowed.
    expect(study.heatRejects).toBeLessThanOrEqual(0.05 + 3 * Math.sqrt((0.05 * 0.95) / studySize(400)));
    expect(study.gapOnHeat).toBeLessThan(0.1);
  });

  it('c is found within its interval 92 to 97 times in 100, and the right clock is named', () => {
    const n = studySize(200);
    const slack = 3 * Math.sqrt((0.05 * 0.95) / n);
    const mixed = clockStudy(n, 600, 1, 11);
    const calendar = clockStudy(Math.ceil(n / 2), 600, Number.POSITIVE_INFINITY, 12);
    const heat = clockStudy(Math.ceil(n / 2), 600, 0.01, 13);
    tell('heat clock', { mixed, calendar, heat });
    expect(Math.abs(Math.log(mixed.medianC))).toBeLessThan(0.5);
    expect(mixed.coverage).toBeGreaterThan(0.95 - slack);
    expect(calendar.verdicts['heat'] ?? 0).toBeLessThanOrEqual(0.05 + slack);
    // Either verdict refutes the calendar; with c at its least the other test errs 5 times in 100.
    expect((heat.verdicts['heat'] ?? 0) + (heat.verdicts['both'] ?? 0)).toBeGreaterThan(0.9);
    expect(calendar.medianC).toBeGreaterThan(20);
  });

  it('a leak that goes by the calendar and is noticed in spring is not taken for one of heat', () => {
    const n = studySize(100);
    const sample = { controls: 30, returns: 400 };
    const calendar = noticedStudy(n, 600, 'calendar', 14, sample);
    const heat = noticedStudy(n, 600, 'heat', 15, sample);
    tell('noticed in spring', { calendar, heat });
    const slack = 3 * Math.sqrt((0.05 * 0.95) / n);
    expect(calendar.spring).toBeGreaterThan(0.33);
    expect(calendar.verdicts['heat'] ?? 0).toBe(0);
    expect(calendar.verdicts['calendar'] ?? 0).toBeGreaterThan(0.95 - slack);
    expect(heat.verdicts['calendar'] ?? 0).toBe(0);
    expect(heat.verdicts['heat'] ?? 0).toBeGreaterThan(0.95 - slack - 0.02);
  });
});
