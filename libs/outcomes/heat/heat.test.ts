import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample, OutOfRange } from '#libs/numeric/index.js';
import { coolingDegreeDays, degreeDayTable, degreeDayTableFromMonths, observedDegreeDays } from './degree-days.js';
import { fitHeatClock, heatTime } from './heat-clock.js';
import { endOfHotSeason } from './season.js';

const day = (text: string) => Date.parse(`${text}T00:00:00Z`) / 86_400_000;

// A warm temperate year, invented: daily means in degC with a standard deviation of 3 to 5 K.
const YEAR = [3, 5, 9, 14, 19, 24, 27, 26, 22, 15, 9, 4].map((meanC, i) => ({ meanC, sdC: i > 4 && i < 9 ? 3 : 5 }));

describe('cooling degree-days of a day', () => {
  it('at a mean on the base is s/sqrt(2 pi), half of the days counting', () => {
    expect(coolingDegreeDays({ meanC: 18, sdC: 4 })).toBeCloseTo(4 / Math.sqrt(2 * Math.PI), 14);
  });

  it('without spread is the plain excess', () => {
    expect(coolingDegreeDays({ meanC: 25.5, sdC: 0 })).toBe(7.5);
    expect(coolingDegreeDays({ meanC: 12, sdC: 0 })).toBe(0);
  });

  it('equals the integral of max(0, T - b) over the normal law', () => {
    for (const [meanC, sdC] of [
      [10, 5],
      [16, 4],
      [20, 3],
      [30, 2],
    ] as const) {
      let sum = 0;
      const step = sdC / 2000;
      for (let t = Math.max(18, meanC - 10 * sdC) + step / 2; t < meanC + 10 * sdC; t += step) {
        sum += ((t - 18) * Math.exp(-(((t - meanC) / sdC) ** 2) / 2) * step) / (sdC * Math.sqrt(2 * Math.PI));
      }
      expect(Math.abs(coolingDegreeDays({ meanC, sdC }) / sum - 1)).toBeLessThan(1e-5);
    }
  });

  it('cooling less heating degree-days is mean less base, and more spread never means less', () => {
    const degrees = fc.double({ min: -30, max: 45, noNaN: true });
    const spread = fc.double({ min: 0, max: 10, noNaN: true });
    fc.assert(
      fc.property(degrees, spread, spread, (meanC, a, b) => {
        const cooling = coolingDegreeDays({ meanC, sdC: a });
        // Heating degree-days are cooling ones of the mirrored temperature about the base.
        const heating = coolingDegreeDays({ meanC: 36 - meanC, sdC: a });
        expect(cooling - heating).toBeCloseTo(meanC - 18, 9);
        const [low, high] = [Math.min(a, b), Math.max(a, b)];
        expect(coolingDegreeDays({ meanC, sdC: high })).toBeGreaterThanOrEqual(coolingDegreeDays({ meanC, sdC: low }) - 1e-9);
      }),
    );
  });
});

describe('degree-day table', () => {
  it('a year is the sum of its months, and any span is one subtraction', () => {
    const first = day('2023-01-01');
    const table = degreeDayTable(YEAR, first, day('2024-01-01'));
    const days = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    const want = YEAR.reduce((sum, month, i) => sum + days[i]! * coolingDegreeDays(month), 0);
    expect(table[365]).toBeCloseTo(want, 9);
    const june = table[day('2023-07-01') - first]! - table[day('2023-06-01') - first]!;
    expect(june).toBeCloseTo(30 * coolingDegreeDays(YEAR[5]!), 9);
    expect(heatTime(table, first, 0.1, day('2023-06-01'), day('2023-07-01'))).toBeCloseTo(june + 3, 9);
  });

  it('monthly degree-days are spread over their days', () => {
    const first = day('2023-01-01');
    const table = degreeDayTableFromMonths([0, 0, 0, 30, 62, 150, 310, 280, 120, 31, 0, 0], first, day('2023-12-31'));
    expect(table[day('2023-07-02') - first]! - table[day('2023-07-01') - first]!).toBeCloseTo(10, 12);
    expect(table.at(-1)).toBeCloseTo(983, 9);
  });

  it('observed days stand in place of expected ones; unknown ones stay expected', () => {
    const first = day('2023-01-01');
    const table = degreeDayTable(YEAR, first, day('2024-01-01'));
    const seen = observedDegreeDays(table, first, [
      { first: day('2023-07-01'), meansC: [30, 12, null, Number.NaN] },
      { first: first - 9, meansC: [40] },
    ]);
    const july = coolingDegreeDays(YEAR[6]!);
    expect(seen[day('2023-07-05') - first]! - seen[day('2023-07-01') - first]!).toBeCloseTo(12 + 0 + 2 * july, 9);
    expect(table.at(-1)! - seen.at(-1)!).toBeCloseTo(2 * july - 12, 9);
  });

  it('never goes back, and refuses what is no year or no span', () => {
    const table = degreeDayTable(YEAR, day('2020-02-27'), day('2021-03-02'));
    table.slice(1).forEach((v, i) => {
      expect(v).toBeGreaterThanOrEqual(table[i]!);
    });
    expect(() => degreeDayTable(YEAR.slice(1), 0, 10)).toThrow(BadSample);
    expect(() => degreeDayTable(YEAR, 10, 0)).toThrow(OutOfRange);
    expect(() => coolingDegreeDays({ meanC: 20, sdC: -1 })).toThrow(OutOfRange);
    expect(() => heatTime(table, day('2020-02-27'), 0.1, 0, 5)).toThrow(BadSample);
  });
});

describe('end of the next hot season', () => {
  const monthly = YEAR.map((month) => coolingDegreeDays(month));

  it('in spring it is this autumn, in a late autumn the next, and with little left the next too', () => {
    expect(endOfHotSeason(monthly, day('2024-05-10'))).toBe(day('2024-10-01'));
    expect(endOfHotSeason(monthly, day('2024-12-10'))).toBe(day('2025-10-01'));
    expect(endOfHotSeason(monthly, day('2024-09-20'))).toBe(day('2025-10-01'));
  });

  it('turns over the year in the south, and is null without a season', () => {
    const south = [...monthly.slice(6), ...monthly.slice(0, 6)];
    expect(endOfHotSeason(south, day('2024-12-10'))).toBe(day('2025-04-01'));
    expect(endOfHotSeason(new Array(12).fill(7), 0)).toBeNull();
    expect(endOfHotSeason(new Array(12).fill(0), 0)).toBeNull();
  });
});

describe('heat clock fit', () => {
  it('two episodes by hand: a return on a day of 9 beside one of 1 is best explained by heat alone', () => {
    // ln PL = ln((9 + c)/(5 + c)), falling in c: the least c.
    const tables = [Float64Array.of(0, 9, 18), Float64Array.of(0, 1, 2)];
    const fit = fitHeatClock({ start: [0, 0], days: [0, 1], returned: [1, 0], climate: [0, 1] }, tables, 0);
    expect(fit.c).toBeCloseTo(0.01, 6);
    expect(fit.againstCalendar.chiSquare).toBeCloseTo(2 * Math.log(9.01 / 5.01), 6);
    expect(fit).toMatchObject({ returns: 1, verdict: 'cannot-tell' });
    expect(fit.upper).toBeCloseTo(100, 9);
  });

  it('returns in the heat and in the cold by hand: calendar days', () => {
    // Age 0: own 9, mean of 9, 1, 9 is 19/3; age 1: own 1, mean of 1 and 9 is 5. d ln PL/dc = 1/(9+c) - 1/(19/3+c) + 1/(1+c) - 1/(5+c) > 0
    // at every c (at large c it is (19/3 - 9 + 5 - 1)/c^2): the largest c.
    const tables = [Float64Array.of(0, 9, 18, 27), Float64Array.of(0, 1, 2, 3)];
    const fit = fitHeatClock({ start: [0, 0, 0], days: [0, 1, 1], returned: [1, 1, 0], climate: [0, 1, 0] }, tables, 0);
    expect(fit.c).toBeCloseTo(100, 6);
    const peak = Math.log(109 / (19 / 3 + 100)) + Math.log(101 / 105);
    const least = Math.log(9.01 / (19 / 3 + 0.01)) + Math.log(1.01 / 5.01);
    expect(fit.againstHeatAlone.chiSquare).toBeCloseTo(2 * (peak - least), 6);
  });

  it('has nothing to go by when all episodes live in one heat', () => {
    const table = Float64Array.from({ length: 40 }, (_, i) => 5 * i);
    const n = 30;
    const fit = fitHeatClock(
      {
        start: new Array(n).fill(0),
        days: Array.from({ length: n }, (_, i) => i),
        returned: new Array(n).fill(1),
        climate: new Array(n).fill(0),
      },
      [table],
      0,
    );
    expect(fit).toMatchObject({ verdict: 'cannot-tell' });
    expect(fit.lower).toBeCloseTo(0.01, 9);
    expect(fit.upper).toBeCloseTo(100, 6);
  });
});
