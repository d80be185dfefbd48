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

/** Kilometres a day of a vehicle nothing else is known of: 12,000 a year (common practice). */
const COMMON_KM_A_DAY = 12_000 / 365;
/** Readings closer together say more about one journey than about a vehicle. */
const LEAST_DAYS = 30;
/** More than a vehicle on the road all day runs: a mistyped last reading is not carried on. */
const MOST_KM_A_DAY = 600;

/**
 * Kilometres a day: between the first and the last reading where these are 30 days and more apart; else what it has run since the middle of its model year, where that is a
 * year and more ago; else 12,000 a year.
 */
export function kilometresADay(readings: readonly OdometerReading[], modelYear: number | null): number {
  const [first, last] = [readings[0], readings.at(-1)];
  if (!first || !last) return COMMON_KM_A_DAY;
  const days = daysBetween(first.day, last.day);
  if (days >= LEAST_DAYS) return Math.min(MOST_KM_A_DAY, (last.km - first.km) / days);
  const age = modelYear === null ? 0 : daysBetween(`${modelYear}-07-01`, last.day);
  return age >= 365 ? Math.min(MOST_KM_A_DAY, last.km / age) : COMMON_KM_A_DAY;
}

/** Kilometres on a day: straight between the readings around it, at so many a day after the last; null before the first. */
export function kilometresAt(readings: readonly OdometerReading[], day: string, aDay: number): number | null {
  const next = readings.findIndex((one) => one.day >= day);
  const after = readings[next];
  const before = after ? readings[next - 1] : readings.at(-1);
  if (after?.day === day) return after.km;
  if (!before) return null;
  if (!after) return before.km + aDay * daysBetween(before.day, day);
  return before.km + ((after.km - before.km) * daysBetween(before.day, day)) / daysBetween(before.day, after.day);
}

/**
 * Distance of an episode, km: from the day of the repair to the day up to which it is followed at most. Up to the day it ended or was last seen by the readings; from there
 * on as fast as since the repair, where that is 30 days and more, else as the vehicle in general. Null where the odometer was not read by the day of the repair: vehicles that
 * come back have more visits at which it may be read, and to wait for one would leave out more of those that do not.
 */
export function distanceOf(
  readings: readonly OdometerReading[],
  modelYear: number | null,
  { started, ended, followed }: { readonly started: string; readonly ended: string; readonly followed: string },
): number | null {
  const aDay = kilometresADay(readings, modelYear);
  const [from, to] = [kilometresAt(readings, started, aDay), kilometresAt(readings, ended, aDay)];
  if (from === null || to === null) return null;
  const days = daysBetween(started, ended);
  return to - from + daysBetween(ended, followed) * (days >= LEAST_DAYS ? (to - from) / days : aDay);
}

const daysBetween = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / 86_400_000;
