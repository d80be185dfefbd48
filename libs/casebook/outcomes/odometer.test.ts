import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { distanceOf, kilometresADay, kilometresAt, odometerReadings } from './odometer.js';

const day = (n: number) => new Date(Date.UTC(2026, 0, 1 + n)).toISOString().slice(0, 10);
const readings = odometerReadings([
  { day: day(0), odometerKm: 10_000 },
  { day: day(10), odometerKm: 10_400 },
  { day: day(20), odometerKm: null },
  { day: day(30), odometerKm: 11_200 },
]);

describe('odometer', () => {
  it('is read straight between sightings, and carried on beyond them', () => {
    expect(kilometresAt(readings, day(10), 50)).toBe(10_400);
    expect(kilometresAt(readings, day(15), 50)).toBe(10_600);
    expect(kilometresAt(readings, day(32), 50)).toBe(11_300);
    expect(kilometresAt(readings, day(-1), 50)).toBeNull();
    expect(kilometresAt([], day(1), 50)).toBeNull();
  });

  it('tells how fast a vehicle runs from its readings, else from its age, else as is common', () => {
    expect(kilometresADay(readings, 2010)).toBe(1_200 / 30);
    const close = odometerReadings([
      { day: day(0), odometerKm: 109_300 },
      { day: day(29), odometerKm: 110_000 },
    ]);
    // 1 July 2023 to 30 January 2026: 944 days.
    expect(kilometresADay(close, 2023)).toBeCloseTo(110_000 / 944, 9);
    expect(kilometresADay(close, 2026)).toBeCloseTo(12_000 / 365, 9);
    expect(kilometresADay(close, null)).toBeCloseTo(12_000 / 365, 9);
    // A last reading with a figure too many is not carried on.
    const typed = odometerReadings([
      { day: day(0), odometerKm: 10_000 },
      { day: day(100), odometerKm: 990_000 },
    ]);
    expect(kilometresADay(typed, null)).toBe(600);
  });

  it('gives the distance of a return by interpolation, and carries what still runs on as fast as since the repair', () => {
    const between = (started: number, ended: number, followed = ended) =>
      distanceOf(readings, null, { started: day(started), ended: day(ended), followed: day(followed) });
    expect(between(5, 20)).toBe(10_800 - 10_200);
    expect(between(5, 90)).toBe(1_000 + 60 * 40);
    // 1,200 km in the thirty days since the repair, and so on for sixty more.
    expect(between(0, 30, 90)).toBe(1_200 + 60 * 40);
    // Ten days tell little of it: as between all readings.
    expect(between(20, 30, 90)).toBe(400 + 60 * 40);
    expect(distanceOf([], 2020, { started: day(0), ended: day(9), followed: day(9) })).toBeNull();
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
        const from = kilometresAt(run, day(Math.min(a, b)), kilometresADay(run, 2020));
        const to = kilometresAt(run, day(Math.max(a, b)), kilometresADay(run, 2020));
        if (from !== null && to !== null) expect(to).toBeGreaterThanOrEqual(from);
      }),
    );
  });
});
