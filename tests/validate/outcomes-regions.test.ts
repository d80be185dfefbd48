import { describe, expect, it } from '@jest/globals';
import { PLANTED, type Shown, shownIn } from './outcomes-regions.js';
import { FULL, studySize, tell } from './outcomes-size.js';
import { TROUBLES, type Trouble, watchedRegion } from './outcomes-watches.js';

const REGIONS = studySize(20);
/** A smaller region has too few proofs for the pattern to be sure of; one without plants needs no power. */
const CASES = FULL ? 24_000 : 10_000;
const PLAIN_CASES = FULL ? 24_000 : 6_000;

describe('planted truths', () => {
  it('stand on the first page of their question in every region, and in none in which nothing was planted', () => {
    const study = (plain: boolean): Shown[] =>
      Array.from({ length: REGIONS }, (_, i) => (plain ? shownIn(7_100 + i, PLAIN_CASES, true) : shownIn(7_000 + i, CASES, false)));
    const [planted, without] = [study(false), study(true)];
    const count = (of: readonly Shown[], name: (typeof PLANTED)[number]) => of.filter((one) => one[name]).length;
    const total = (of: readonly Shown[], name: 'otherPatterns' | 'otherShops' | 'otherAlarms') =>
      of.reduce((sum, one) => sum + one[name], 0);
    tell('regions', {
      regions: REGIONS,
      planted: Object.fromEntries(PLANTED.map((name) => [name, count(planted, name)])),
      without: Object.fromEntries(PLANTED.map((name) => [name, count(without, name)])),
      besides: (['otherPatterns', 'otherShops', 'otherAlarms'] as const).map((name) => [name, total(planted, name), total(without, name)]),
    });
    for (const name of PLANTED) {
      expect([name, count(planted, name)]).toEqual([name, REGIONS]);
      expect([name, count(without, name)]).toEqual([name, 0]);
    }
    // Falsely replicated: p <= 0.05 on the other half of what q <= 0.05 let through. At most one region in twenty-five (16 of 200 discover one, half of the size 0.05 confirm it).
    expect(total(without, 'otherPatterns')).toBeLessThanOrEqual(Math.ceil(REGIONS / 25));
    // Stated: one false alarm a year and region, at most 1.5 times; Poisson, three standard deviations.
    expect(total(without, 'otherAlarms')).toBeLessThanOrEqual(1.5 * REGIONS + 3 * Math.sqrt(1.5 * REGIONS));
  }, 3_600_000);
});

describe('watches of whole regions without any rise', () => {
  it('cry wolf at most one and a half times as often as they state, whatever troubles the region, and see doublings within the weeks they state', () => {
    // In the suite one region as it is planned, and one with all that troubles it but the weather, which needs a plan of twice the size.
    const cases: readonly (readonly Trouble[])[] = FULL
      ? [[], ...TROUBLES.map((trouble) => [trouble]), TROUBLES]
      : [[], TROUBLES.filter((trouble) => trouble !== 'weather')];
    for (const [i, troubled] of cases.entries()) {
      const seeds = Array.from({ length: FULL ? 40 : 1 }, (_, k) => 8_300 + k + (FULL ? 0 : i));
      const found = seeds.map((seed) => watchedRegion(seed, 24_000, troubled));
      const sum = (of: (one: (typeof found)[number]) => number) => found.reduce((total, one) => total + of(one), 0);
      const [alarms, doubled, within] = [sum((o) => o.alarms), sum((o) => o.doubled), sum((o) => o.within)];
      const [weeks, stated] = [sum((o) => o.weeks) / doubled, sum((o) => o.stated) / doubled];
      tell('watches', { troubled, regions: found.length, alarms, doubled, within, weeks, stated });
      expect([troubled, alarms <= mostAlarms(1.5 * found.length)]).toEqual([troubled, true]);
      expect(weeks).toBeLessThan(stated * (1 + 3 / Math.sqrt(doubled)));
      // The stated delay is a mean: within it about three in five are found (an exponential delay: 0.63); three standard errors allowed.
      expect(within / doubled).toBeGreaterThan(0.5 - 3 * Math.sqrt(0.25 / doubled));
    }
  }, 3_600_000);
});

/** Poisson, three standard deviations, where few regions are looked at; where all are, the mean itself. */
const mostAlarms = (mean: number) => (FULL ? mean : mean + 3 * Math.sqrt(mean));
