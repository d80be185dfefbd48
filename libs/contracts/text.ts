import { z } from 'zod';

/**
 * Text a person or a program typed: well-formed Unicode without NUL, 1 to `max` UTF-16 units, not blank.
 * PostgreSQL cannot store NUL and would see lone surrogates replaced; both are refused here so that nothing is changed silently.
 */
export function text(max: number) {
  return z
    .string()
    .min(1, 'must not be empty')
    .max(max, `must be at most ${max} characters`)
    .refine((value) => value.isWellFormed() && !value.includes('\u0000'), {
      message: 'must be well-formed text without NUL or lone surrogates',
    })
    .refine((value) => value.trim().length > 0, { message: 'must not be blank' });
}

/** A short word code chosen by the organisation: lower-case letters, digits and single hyphens, e.g. `harbour-road`. */
export const Code = z
  .string()
  .max(60)
  .regex(/^[a-z0-9]+(-[a-z0-9]+)*$/, 'must be lower-case letters, digits and single hyphens, e.g. "harbour-road"');

/** An identifier of this service: UUID version 7 in lower case. Opaque to callers. */
export const Id = z.uuid('must be an identifier of this service (a UUID)');

/**
 * One spelling for one instant, that of the database's answers: UTC, without trailing zeros of the fraction. A record answers in it when it is made as
 * when it is read again.
 */
export function instantText(at: Date): string {
  const text = at.toISOString();
  const point = text.length - '.000Z'.length;
  return `${text.slice(0, point)}${shortFraction(text.slice(point + 1, -1))}Z`;
}

/** Decimals without the zeros at their end, and no point where none is left. A regular expression for it takes the square of the time a long row of zeros deserves. */
function shortFraction(digits: string): string {
  let end = digits.length;
  while (end > 0 && digits.charAt(end - 1) === '0') end--;
  return end === 0 ? '' : `.${digits.slice(0, end)}`;
}

const FRACTION = /\.(\d+)/;

/** Microseconds since 1970 of an RFC 3339 instant, further digits rounded as the database rounds them. */
export function microseconds(instant: string): number {
  const fraction = FRACTION.exec(instant)?.[1];
  if (fraction === undefined) return Date.parse(instant) * 1000;
  return Date.parse(instant.replace(FRACTION, '')) * 1000 + Math.round(Number(`0.${fraction}`) * 1e6);
}

/** As `instantText`, for what came in: any offset, any number of digits. */
function sameInstant(text: string): string {
  const all = microseconds(text);
  if (Number.isNaN(all)) return text;
  const micro = ((all % 1e6) + 1e6) % 1e6;
  return instantText(new Date((all - micro) / 1000)).replace('Z', `${shortFraction(String(micro).padStart(6, '0'))}Z`);
}

/** RFC 3339 instant with an offset on input; answers always end in `Z`. */
export const Instant = z.iso
  .datetime({ offset: true, message: 'must be an RFC 3339 instant with an offset, e.g. 2026-07-01T09:30:00Z' })
  .overwrite(sameInstant);

/** Calendar day, `YYYY-MM-DD`. */
export const Day = z.iso.date('must be a calendar day, YYYY-MM-DD');

/** Finite double; JSON numbers outside the double range are refused before they arrive here. */
export const finite = (min: number, max: number) => z.number().min(min).max(max);

/** Whole number within bounds. */
export const whole = (min: number, max: number) => z.int().min(min).max(max);
