const SECOND = 1_000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;

/** Pauses before each try: the schedule Standard Webhooks 1.0.0 suggests, three days in all. */
export const SCHEDULE_MS: readonly number[] = [
  0,
  5 * SECOND,
  5 * MINUTE,
  30 * MINUTE,
  2 * HOUR,
  5 * HOUR,
  10 * HOUR,
  14 * HOUR,
  20 * HOUR,
  24 * HOUR,
];
const JITTER = 0.1;

/**
 * When to try again after `attempts` failed tries; null when the schedule is used up. Up to a tenth is added, so that receivers that were down do
 * not get everything in one moment; a receiver that names a later time is heard, up to a day.
 */
export function nextTry(attempts: number, at: Date, retryAfterMs: number | null, random: () => number = Math.random): Date | null {
  const pause = SCHEDULE_MS[attempts];
  if (pause === undefined) return null;
  const asked = retryAfterMs === null ? 0 : Math.min(retryAfterMs, 24 * HOUR);
  return new Date(at.getTime() + Math.max(pause * (1 + JITTER * random()), asked));
}

/** Retry-After as milliseconds: seconds, or an HTTP date (RFC 9110, 10.2.3). */
export function retryAfterMs(header: string | undefined, now: Date): number | null {
  if (header === undefined) return null;
  if (/^\d{1,9}$/.test(header.trim())) return Number(header) * SECOND;
  const at = Date.parse(header);
  return Number.isNaN(at) ? null : Math.max(0, at - now.getTime());
}
