import { type ImportMapping, instantText } from '#libs/contracts/index.js';

/** What a cell means, or why it cannot be understood. */
export type Understood<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly detail: string; readonly remedy: string };

const SPACES = /[\s\u00a0\u202f']/g;

/**
 * A number as people and spreadsheets write it: `1234.5`, `1 234,5`, `1.234,5`, `1,234.5`. Where one mark could be either (`1,234`), the mapping
 * has to say which is meant: a guess would be wrong by a thousand.
 */
export function readNumber(cell: string, decimal: ImportMapping['decimal']): Understood<number> {
  const text = cell.trim().replace(SPACES, '');
  const bad = (remedy: string): Understood<number> => ({ ok: false, detail: `"${cell.slice(0, 40)}" is not a number.`, remedy });
  if (!/^[+-]?[\d.,]+(e[+-]?\d+)?$/i.test(text) || !/\d/.test(text))
    return bad('Digits only; the unit belongs into the mapping or a unit column.');
  const points = text.split('.').length - 1;
  const commas = text.split(',').length - 1;
  let plain: string;
  if (points > 0 && commas > 0)
    plain = text.lastIndexOf(',') > text.lastIndexOf('.') ? text.replaceAll('.', '').replace(',', '.') : text.replaceAll(',', '');
  else if (commas > 1 || (commas === 1 && decimal === 'point')) plain = text.replaceAll(',', '');
  else if (points > 1 || (points === 1 && decimal === 'comma')) plain = text.replaceAll('.', '');
  else if (commas === 1 && decimal === undefined && /^[+-]?[1-9]\d{0,2},\d{3}$/.test(text))
    return bad('It could be a thousand or a decimal: say "decimal": "point" or "comma" in the mapping.');
  else plain = text.replace(',', '.');
  const value = Number(plain);
  return Number.isFinite(value) ? { ok: true, value } : bad('Write it like 1234.5.');
}

const NUMERIC_DATE = /^(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})(?:[ T]+(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:\.\d+)?)?)?$/;
const WITH_OFFSET = /(Z|[+-]\d{2}:?\d{2})$/;

interface Calendar {
  readonly year: number;
  readonly month: number;
  readonly day: number;
  readonly hour: number | null;
  readonly minute: number;
  readonly second: number;
}

/** A date without a clock counts as noon of that day in the shop's time zone. */
export function readInstant(cell: string, dates: ImportMapping['dates'], timeZone: string): Understood<string> {
  const text = cell.trim();
  if (WITH_OFFSET.test(text) && text.includes('T')) {
    const at = new Date(text);
    return Number.isNaN(at.getTime()) ? notADate(cell) : { ok: true, value: instantText(at) };
  }
  const parts = readCalendar(cell, dates);
  if (!parts.ok) return parts;
  const { year, month, day, hour, minute, second } = parts.value;
  return { ok: true, value: instantInZone(Date.UTC(year, month - 1, day, hour ?? 12, minute, second), timeZone) };
}

export function readDay(cell: string, dates: ImportMapping['dates']): Understood<string> {
  const parts = readCalendar(cell, dates);
  if (!parts.ok) return parts;
  const { year, month, day } = parts.value;
  return { ok: true, value: `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}` };
}

function readCalendar(cell: string, dates: ImportMapping['dates']): Understood<Calendar> {
  const match = NUMERIC_DATE.exec(cell.trim());
  if (!match) return notADate(cell);
  const [a, b, c] = [match[1]!, match[2]!, match[3]!];
  let order = dates;
  if (a.length === 4) order = 'year-month-day';
  else if (order === 'year-month-day') return notADate(cell);
  else if (order === undefined) {
    if (Number(a) > 12) order = 'day-month-year';
    else if (Number(b) > 12) order = 'month-day-year';
    else
      return {
        ok: false,
        detail: `"${cell}" could be two different days.`,
        remedy: 'Say "dates": "day-month-year" or "month-day-year" in the mapping.',
      };
  }
  const [year, month, day] = (order === 'year-month-day' ? [a, b, c] : order === 'day-month-year' ? [c, b, a] : [c, a, b]).map(Number) as [
    number,
    number,
    number,
  ];
  const fullYear = year < 100 ? 2000 + year : year;
  const at = new Date(Date.UTC(fullYear, month - 1, day));
  const hour = match[4] === undefined ? null : Number(match[4]);
  const minute = Number(match[5] ?? 0);
  const second = Number(match[6] ?? 0);
  const exists = at.getUTCFullYear() === fullYear && at.getUTCMonth() === month - 1 && at.getUTCDate() === day;
  if (!exists || fullYear < 1980 || (hour ?? 0) > 23 || minute > 59 || second > 59) return notADate(cell);
  return { ok: true, value: { year: fullYear, month, day, hour, minute, second } };
}

function notADate<T>(cell: string): Understood<T> {
  return {
    ok: false,
    detail: `"${cell.slice(0, 40)}" is not a date.`,
    remedy: 'Write it like 2026-07-01 09:30, or 2026-07-01T09:30:00+02:00.',
  };
}

/** The instant at which clocks in the zone show this wall time. In the hour a change skips, the time the clock would have shown. */
function instantInZone(wallMs: number, timeZone: string): string {
  const offset = (at: number) => {
    const parts = new Intl.DateTimeFormat('en-US', {
      timeZone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    }).formatToParts(at);
    const of = (type: string) => Number(parts.find((part) => part.type === type)!.value);
    return Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second')) - at;
  };
  const first = wallMs - offset(wallMs);
  return instantText(new Date(wallMs - offset(first)));
}
