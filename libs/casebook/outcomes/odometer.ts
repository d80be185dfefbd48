/** How far a vehicle had run when: its odometer readings in the order of days, without those that contradict the others. */
export interface OdometerReading {
  /** YYYY-MM-DD */
  readonly day: string;
  readonly km: number;
}

/**
 * The longest run of readings that never goes back: a mistyped or swapped number is left out where the others agree against it. The larger of two
 * readings of one day stands.
 */
export function odometerReadings(
  seen: readonly { readonly day: string; readonly odometerKm: number | null }[],
): readonly OdometerReading[] {
  const byDay = new Map<string, number>();
  for (const { day, odometerKm } of seen) {
    if (odometerKm !== null) byDay.set(day, Math.max(odometerKm, byDay.get(day) ?? 0));
  }
  const all = [...byDay].map(([day, km]) => ({ day, km })).sort((a, b) => (a.day < b.day ? -1 : 1));
  // Longest non-decreasing subsequence; vehicles are seen a few dozen times at most.
  const length: number[] = [];
  const before: number[] = [];
  for (const [i, { km }] of all.entries()) {
    length[i] = 1;
    before[i] = -1;
    for (let j = 0; j < i; j++) {
      if (all[j]!.km <= km && length[j]! + 1 > length[i]!) {
        length[i] = length[j]! + 1;
        before[i] = j;
      }
    }
  }
  const run: OdometerReading[] = [];
  for (let i = length.indexOf(Math.max(...length, 0)); i >= 0; i = before[i]!) run.unshift(all[i]!);
  return run;
}

/** Kilometres on a day, straight between the readings around it; null before the first and after the last, where nothing is known. */
export function kilometresAt(readings: readonly OdometerReading[], day: string): number | null {
  const next = readings.findIndex((one) => one.day >= day);
  if (next < 0) return null;
  const after = readings[next]!;
  if (after.day === day) return after.km;
  const before = readings[next - 1];
  if (!before) return null;
  const span = Date.parse(after.day) - Date.parse(before.day);
  return before.km + ((after.km - before.km) * (Date.parse(day) - Date.parse(before.day))) / span;
}

/**
 * Distance of an episode, km: from the day of the repair to the day it ended, interpolated at both. A running one is followed to the last reading, however
 * much longer the vehicle was seen without one. Null where the odometer tells nothing.
 */
export function distanceOf(readings: readonly OdometerReading[], started: string, ended: string, isRunning: boolean): number | null {
  const from = kilometresAt(readings, started);
  if (from === null) return null;
  const last = readings.at(-1)!;
  const to = isRunning && last.day < ended ? last.km : kilometresAt(readings, ended);
  return to === null ? null : to - from;
}
