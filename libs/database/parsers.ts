import pg from 'pg';

/** Object identifiers of the built-in types (PostgreSQL's pg_type.dat) whose default JavaScript form loses something. */
const OID = {
  int8: 20,
  int8Array: 1016,
  date: 1082,
  timestamp: 1114,
  timestampArray: 1115,
  dateArray: 1182,
  timestamptz: 1184,
  timestamptzArray: 1185,
  numeric: 1700,
  numericArray: 1231,
  textArray: 1009,
} as const;

const INSTANT = /^(\d{4,6})-(\d\d)-(\d\d) (\d\d):(\d\d):(\d\d)(?:\.(\d{1,6}))?([+-])(\d\d)(?::(\d\d))?(?::(\d\d))?$/;

/**
 * The text form of a timestamptz as an exact ISO 8601 instant in UTC: microseconds are kept (a JavaScript Date holds milliseconds,
 * and a cursor built from one would skip or repeat rows), trailing zeros of the fraction and an empty fraction are dropped.
 * What ISO 8601 cannot say (infinity, years before 1) is passed on as PostgreSQL wrote it.
 */
export function parseInstant(text: string): string {
  // Sessions of ours think in UTC: nearly every value is already an instant but for its "T" and "Z".
  if (text.endsWith('+00') && text[4] === '-' && text[10] === ' ' && (text.length === 22 || text[text.length - 4] !== '0')) {
    return `${text.slice(0, 10)}T${text.slice(11, -3)}Z`;
  }
  const match = INSTANT.exec(text);
  if (match === null) return text;
  const [, year, month, day, hour, minute, second, fraction, sign, offsetHour, offsetMinute = '0', offsetSecond = '0'] = match;
  const offsetS = (sign === '-' ? -1 : 1) * (Number(offsetHour) * 3600 + Number(offsetMinute) * 60 + Number(offsetSecond));
  const wholeSecond = new Date(0);
  wholeSecond.setUTCFullYear(Number(year), Number(month) - 1, Number(day));
  wholeSecond.setUTCHours(Number(hour), Number(minute), Number(second) - offsetS);
  const micro = fraction?.replace(/(?<!0)0+$/, '') ?? '';
  return `${wholeSecond.toISOString().slice(0, -5)}${micro === '' ? '' : `.${micro}`}Z`;
}

/** A bigint as number where a double holds it exactly, else its digits: a rounded count or key is worse than a string. */
export function parseInt8(text: string): number | string {
  const value = Number(text);
  return Number.isSafeInteger(value) ? value : text;
}

const textArray = pg.types.getTypeParser(OID.textArray as number, 'text') as (text: string) => (string | null)[];
const arrayOf =
  <T>(parse: (text: string) => T) =>
  (text: string): (T | null)[] =>
    textArray(text).map((element) => (element === null ? null : parse(element)));
const asWritten = (text: string): string => text;
const wallClock = (text: string): string => text.replace(' ', 'T');

const PARSERS = new Map<number, (text: string) => unknown>([
  [OID.int8, parseInt8],
  [OID.int8Array, arrayOf(parseInt8)],
  [OID.numeric, Number],
  [OID.numericArray, arrayOf(Number)],
  [OID.date, asWritten],
  [OID.dateArray, arrayOf(asWritten)],
  [OID.timestamp, wallClock],
  [OID.timestampArray, arrayOf(wallClock)],
  [OID.timestamptz, parseInstant],
  [OID.timestamptzArray, arrayOf(parseInstant)],
]);

/** Type parsers of one pool: the driver's global table stays as it is, so nothing else in the process changes its meaning. */
export const rowTypes: pg.CustomTypesConfig = {
  getTypeParser: ((oid: number, format?: 'text' | 'binary') =>
    (format === 'binary' ? undefined : PARSERS.get(oid)) ??
    pg.types.getTypeParser(oid, format as 'text')) as pg.CustomTypesConfig['getTypeParser'],
};
