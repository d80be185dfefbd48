import { describe, expect, it } from '@jest/globals';
import { doublingsIn, PLANTED, type Shown, shownIn } from './outcomes-regions.js';
import { FULL, studySize, tell } from './outcomes-size.js';

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

  it('watches see doublings within the weeks they state, and rarely cry wolf', () => {
    // A region of this size takes the better part of a minute.
    const regions = FULL ? 40 : 2;
    const found = Array.from({ length: regions }, (_, i) => doublingsIn(8_300 + i, 24_000));
    const sum = (of: (one: (typeof found)[number]) => number) => found.reduce((total, one) => total + of(one), 0);
    const streams = sum((one) => one.streams);
    const [weeks, stated, within, before] = [
      sum((o) => o.weeks) / streams,
      sum((o) => o.stated) / streams,
      sum((o) => o.within),
      sum((o) => o.before),
    ];
    tell('watches', { regions, streams, weeks, stated, within, falseAlarms: before });
    // A smaller region has few streams whose doubling could be seen within the year at all. The stated delay is a mean: within it about three in five are found (an exponential delay: 0.63); three standard errors allowed.
    expect(within / streams).toBeGreaterThan(0.5 - 3 * Math.sqrt(0.25 / streams));
    expect(weeks).toBeLessThan(stated * (1 + 3 / Math.sqrt(streams)));
    expect(before).toBeLessThanOrEqual(1.5 * regions + 3 * Math.sqrt(1.5 * regions));
  }, 3_600_000);
});
