import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { kindAt, splitAtEvent } from '../rates/person-time.js';
import type { StratumRule, VehicleHistory } from './history.js';
import { mergedPair, pairTables } from './pair-table.js';
import { recurringPatterns } from './score.js';

const ONE_STRATUM: StratumRule = { ageBandYears: [], seasonOfMonth: new Array<number>(12).fill(0) };
const RULE = { blanking: 1, window: 30, lookBack: 90 };

function vehicle(from: number, until: number, faults: readonly [string, number][], half: 0 | 1 = 0, shop = 's'): VehicleHistory {
  return { platform: 'p', built: 0, from, until, half, faults: faults.map(([fault, day]) => ({ fault, day, shop })) };
}

const counts = (histories: VehicleHistory[], a: string, b: string, rule = RULE) =>
  pairTables(histories, rule, ONE_STRATUM).find((t) => t.a === a && t.b === b)!;

describe('watched time split at an event', () => {
  it('worked by hand: A on day 10 of 0..100, one day blanked, 30 days exposed', () => {
    expect(splitAtEvent({ from: 0, until: 100, exposures: [10] }, { blanking: 1, window: 30 })).toEqual([
      { from: 0, until: 10, kind: 'reference' },
      { from: 10, until: 11, kind: 'neither' },
      { from: 11, until: 41, kind: 'exposed' },
      { from: 41, until: 100, kind: 'reference' },
    ]);
  });

  it('nothing is exposed before the event, and the parts are all of the time', () => {
    const days = fc.integer({ min: -50, max: 150 });
    fc.assert(
      fc.property(
        fc.array(days, { maxLength: 5 }),
        fc.integer({ min: 0, max: 5 }),
        fc.integer({ min: 1, max: 60 }),
        (exposures, blanking, window) => {
          const parts = splitAtEvent({ from: 0, until: 100, exposures }, { blanking, window });
          expect(parts.reduce((sum, p) => sum + p.until - p.from, 0)).toBeCloseTo(100, 9);
          const earliest = Math.min(...exposures, Number.POSITIVE_INFINITY);
          for (const part of parts) {
            if (part.kind === 'exposed') expect(part.from).toBeGreaterThanOrEqual(earliest + blanking);
            expect(kindAt((part.from + part.until) / 2, exposures, { blanking, window })).toBe(part.kind);
          }
        },
      ),
    );
  });
});

describe('pairs', () => {
  it('worked by hand: exposed 1 in 29, reference 1 in 10 + 100 + 50', () => {
    const table = counts(
      [
        vehicle(0, 100, [
          ['A', 10],
          ['B', 40],
        ]),
        vehicle(0, 100, [['C', 5]]),
        vehicle(0, 100, [['B', 50]]),
      ],
      'A',
      'B',
    );
    // First vehicle: 10 before A, one blanked, 29 exposed up to its B. Second: all 100. Third: 50 up to its B.
    const [stratum] = table.strata.values();
    expect(stratum!.exposedEvents).toBe(1);
    expect(stratum!.exposedTime).toBeCloseTo(29, 9);
    expect(stratum!.referenceEvents).toBe(1);
    expect(stratum!.referenceTime).toBeCloseTo(160, 9);
    expect(table.lags).toEqual([30]);
    expect(table.shops).toEqual(['s']);
  });

  it('B on the day of A is neither, but counted as found together', () => {
    const table = counts(
      [
        vehicle(0, 100, [
          ['A', 10],
          ['B', 10],
        ]),
        vehicle(0, 100, []),
      ],
      'A',
      'B',
    );
    expect(table.together).toBe(1);
    expect(table.exposedEvents).toBe(0);
    const [stratum] = table.strata.values();
    expect(stratum).toMatchObject({ exposedEvents: 0, exposedTime: 0, referenceEvents: 0 });
    expect(stratum!.referenceTime).toBeCloseTo(110, 9);
  });

  it('what was found at the first visit is no event, and B is watched again only after the look-back', () => {
    const table = counts(
      [
        vehicle(0, 200, [
          ['B', 0],
          ['B', 40],
          ['A', 150],
        ]),
      ],
      'A',
      'B',
    );
    // Day 0 clears until 90; day 40 falls inside and clears until 130; then 20 reference, 1 blanked, 29 exposed of 30, 19 reference.
    const [stratum] = table.strata.values();
    expect(stratum).toMatchObject({ exposedEvents: 0, referenceEvents: 0 });
    expect(stratum!.exposedTime).toBeCloseTo(30, 9);
    expect(stratum!.referenceTime).toBeCloseTo(39, 9);
  });

  it('seasons and ages part the time, without loss', () => {
    const history = [
      vehicle(19_000, 20_000, [
        ['A', 19_100],
        ['B', 19_900],
      ]),
    ];
    const rule: StratumRule = { ageBandYears: [52.5, 54], seasonOfMonth: [0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0] };
    const table = pairTables(history, { ...RULE, window: 400 }, rule).find((t) => t.a === 'A' && t.b === 'B')!;
    const sum = [...table.strata.values()].reduce((s, x) => s + x.exposedTime + x.referenceTime, 0);
    expect(sum).toBeCloseTo(899, 6);
    expect(table.strata.size).toBeGreaterThan(3);
  });

  it('two halves add up to the whole', () => {
    const random = fc.array(
      fc.record({
        half: fc.constantFrom(0 as const, 1 as const),
        a: fc.integer({ min: 1, max: 300 }),
        b: fc.integer({ min: 1, max: 300 }),
      }),
      { minLength: 2, maxLength: 20 },
    );
    fc.assert(
      fc.property(random, (records) => {
        const histories = [...records, { half: 0 as const, a: 1, b: 2 }, { half: 1 as const, a: 1, b: 2 }].map(({ half, a, b }) =>
          vehicle(
            0,
            301,
            [
              ['A', a],
              ['B', b],
            ],
            half,
          ),
        );
        const whole = counts(histories, 'A', 'B');
        const parts = ([0, 1] as const).map((half) =>
          counts(
            histories.filter((h) => h.half === half),
            'A',
            'B',
          ),
        );
        const sum = mergedPair(parts[0]!, parts[1]!);
        expect(sum.lags).toEqual(whole.lags);
        expect(sum.together).toBe(whole.together);
        const [got] = sum.strata.values();
        const [want] = whole.strata.values();
        for (const key of ['exposedEvents', 'exposedTime', 'referenceEvents', 'referenceTime'] as const)
          expect(got![key]).toBeCloseTo(want![key], 6);
      }),
      { numRuns: 30 },
    );
  });
});

describe('verdicts', () => {
  it('few events cannot tell', () => {
    const histories = [
      vehicle(0, 100, [
        ['A', 10],
        ['B', 20],
      ]),
      vehicle(0, 100, [['A', 5]], 1),
      vehicle(0, 100, [['B', 50]], 1),
    ];
    const pattern = recurringPatterns(histories).find((p) => p.a === 'A' && p.b === 'B')!;
    expect(pattern.verdict).toBe('too few');
    expect(pattern.exposedEvents).toBe(1);
  });

  it('a strong pattern in both halves is replicated, a confusable one is marked, and the reverse is not called', () => {
    const shops = ['s1', 's2', 's3', 's4'];
    const histories = Array.from({ length: 400 }, (_, i): VehicleHistory => {
      const half = (i % 2) as 0 | 1;
      const shop = shops[i % 4]!;
      if (i % 5 === 0)
        return vehicle(
          0,
          1000,
          [
            ['A', 100 + (i % 50)],
            ['B', 200 + (i % 90)],
          ],
          half,
          shop,
        );
      if (i % 5 === 1) return vehicle(0, 1000, [['B', 20 + ((i * 37) % 900)]], half, shop);
      return vehicle(0, 1000, [['C', 20 + ((i * 53) % 900)]], half, shop);
    });
    const patterns = recurringPatterns(histories, { confusable: (a, b) => a === 'A' && b === 'B', strata: ONE_STRATUM });
    const pattern = patterns.find((p) => p.a === 'A' && p.b === 'B')!;
    expect(pattern).toMatchObject({ verdict: 'replicated', doubtful: true, shops: 4 });
    expect(pattern.replication.ratio.ratio).toBeGreaterThan(4);
    expect(pattern.platforms.map((p) => p.platform)).toEqual(['p']);
    expect(patterns.find((p) => p.a === 'B' && p.b === 'A')!.verdict).not.toBe('replicated');
  });
});
