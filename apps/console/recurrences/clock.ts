import type { Clock } from '../client/generated/api.ts';
import { count } from '../shell/words.ts';

export const CLOCK_NAMES = [
  ['degree-days', 'heat run through'],
  ['calendar-days', 'calendar'],
  ['distance', 'distance driven'],
] as const satisfies readonly (readonly [Clock, string])[];

/** What a clock counts: in full, and where there is little room. */
export const CLOCK_UNITS: Readonly<Record<Clock, { readonly full: string; readonly short: string }>> = {
  'degree-days': { full: 'cooling degree-days', short: 'degree-days' },
  'calendar-days': { full: 'days', short: 'days' },
  distance: { full: 'km', short: 'km' },
};

export const horizonWords = (clock: Clock, horizon: number) => `${count(horizon)} ${CLOCK_UNITS[clock].full}`;

/** A clock as part of an address: the usual one is left out. */
export const clockPart = (clock: Clock) => (clock === 'degree-days' ? '' : clock);
