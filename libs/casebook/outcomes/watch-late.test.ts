import { describe, expect, it } from '@jest/globals';
import { arrivedShares } from './watch-arrived.js';
import type { Stream } from './watch-exposure.js';
import { buildRangeOf } from './watch-ranges.js';
import type { Onset } from './watches.queries.js';

const GRID = { first: 0, weeks: 110, baseline: 58 };

describe('the share of a week that is recorded by now', () => {
  it('is that of the delays: half on the day, half after two weeks', () => {
    const delays = Array.from({ length: 100 }, (_, i) => ({ delay: i % 2 === 0 ? 0 : 14, longest: 182 }));
    const shares = arrivedShares(delays, GRID)!;
    // Days of the last week are one to seven days old, of the one before eight to fourteen: of these one day is whole.
    expect(shares.at(-1)).toBeCloseTo(0.5, 12);
    expect(shares.at(-2)).toBeCloseTo((6 * 0.5 + 1) / 7, 12);
    expect(shares.at(-3)).toBeCloseTo(1, 12);
    expect(shares[0]).toBe(1);
  });

  it('is not told by a few records', () => {
    expect(arrivedShares([{ delay: 0, longest: 9 }], GRID)).toBeNull();
  });
});

describe('the builds in which a rise lies', () => {
  const stream = { platformId: 'p', fault: 'undercharge' } as Stream;
  const onset = (fault: Onset['fault'], sequenceBucket: number, plant = 'A'): Onset => ({
    platformId: 'p',
    fault,
    day: 100,
    shopId: 's',
    modelYear: 2022,
    plant,
    sequenceBucket,
  });
  const others = Array.from({ length: 200 }, (_, i) => onset('air-door', i % 20, i % 2 === 0 ? 'A' : 'B'));

  it('are named with their plant', () => {
    const batch = Array.from({ length: 15 }, (_, i) => onset('undercharge', 8 + 2 * (i % 2)));
    const found = buildRangeOf(stream, [...others, ...batch], 90)!;
    expect(found).toMatchObject({ plant: 'A', firstYear: 2022, firstSequence: 8, lastYear: 2022, lastSequence: 10, events: 15 });
    expect(found.pValue).toBeLessThanOrEqual(0.05);
  });

  it('are not named where the events lie as the others do, are old, or too few', () => {
    const even = Array.from({ length: 20 }, (_, i) => onset('undercharge', i));
    expect(buildRangeOf(stream, [...others, ...even], 90)).toBeNull();
    expect(buildRangeOf(stream, [...others, ...Array.from({ length: 15 }, () => onset('undercharge', 8))], 101)).toBeNull();
    expect(buildRangeOf(stream, [...others, ...Array.from({ length: 4 }, () => onset('undercharge', 8))], 90)).toBeNull();
  });
});
