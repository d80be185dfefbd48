import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { distanceOf, kilometresAt, odometerReadings } from './odometer.js';

const day = (n: number) => new Date(Date.UTC(2026, 0, 1 + n)).toISOString().slice(0, 10);
const readings = odometerReadings([
  { day: day(0), odometerKm: 10_000 },
  { day: day(10), odometerKm: 10_400 },
  { day: day(20), odometerKm: null },
  { day: day(30), odometerKm: 11_200 },
]);

describe('odometer', () => {
  it('is read straight between sightings, and not beyond them', () => {
    expect(kilometresAt(readings, day(10))).toBe(10_400);
    expect(kilometresAt(readings, day(15))).toBe(10_600);
    expect(kilometresAt(readings, day(31))).toBeNull();
    expect(kilometresAt(readings, '2025-12-31')).toBeNull();
    expect(kilometresAt([], day(1))).toBeNull();
  });

  it('gives the distance of a return by interpolation, and follows what still runs to the last reading', () => {
    expect(distanceOf(readings, day(5), day(20), false)).toBe(10_800 - 10_200);
    expect(distanceOf(readings, day(5), day(90), true)).toBe(1_000);
    // A return after the last reading: nobody knows how far the car had run.
    expect(distanceOf(readings, day(5), day(90), false)).toBeNull();
  });

  it('leaves out the reading that contradicts the others', () => {
    const mistyped = odometerReadings([
      { day: day(0), odometerKm: 10_000 },
      { day: day(10), odometerKm: 104_000 },
      { day: day(20), odometerKm: 10_800 },
      { day: day(30), odometerKm: 11_200 },
    ]);
    expect(mistyped.map(({ km }) => km)).toEqual([10_000, 10_800, 11_200]);
  });

  it('never goes back, whatever was typed', () => {
    const seen = fc.array(
      fc.record({ day: fc.integer({ min: 0, max: 400 }).map(day), odometerKm: fc.option(fc.integer({ min: 0, max: 300_000 })) }),
    );
    fc.assert(
      fc.property(seen, fc.integer({ min: 0, max: 400 }), fc.integer({ min: 0, max: 400 }), (list, a, b) => {
        const run = odometerReadings(list);
        const from = kilometresAt(run, day(Math.min(a, b)));
        const to = kilometresAt(run, day(Math.max(a, b)));
        if (from !== null && to !== null) expect(to).toBeGreaterThanOrEqual(from);
      }),
    );
  });
});
