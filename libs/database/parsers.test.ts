import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { parseInstant, parseInt8, rowTypes } from './parsers.js';

describe('an instant', () => {
  it.each([
    ['2026-11-25 12:00:00+00', '2026-11-25T12:00:00Z'],
    ['2026-11-25 12:00:00.123456+00', '2026-11-25T12:00:00.123456Z'],
    ['2026-11-25 12:00:00.1+00', '2026-11-25T12:00:00.1Z'],
    ['2026-11-25 00:30:00.000001+05:45', '2026-11-24T18:45:00.000001Z'],
    ['2026-12-31 22:00:00-03:30', '2027-01-01T01:30:00Z'],
    // Local mean time of Amsterdam until 1937, an offset with seconds: IANA time zone database.
    ['1900-01-01 00:00:00+00:19:32', '1899-12-31T23:40:28Z'],
    ['0099-03-01 00:00:00+00', '0099-03-01T00:00:00Z'],
    ['infinity', 'infinity'],
    ['0044-03-15 12:00:00+00 BC', '0044-03-15 12:00:00+00 BC'],
  ])('%s is %s', (text, expected) => {
    expect(parseInstant(text)).toBe(expected);
  });

  it('keeps every microsecond at every offset', () => {
    const offsets = fc.integer({ min: -14 * 60, max: 14 * 60 });
    const millis = fc.integer({ min: Date.UTC(1900, 0, 1), max: Date.UTC(2200, 0, 1) });
    fc.assert(
      fc.property(millis, fc.integer({ min: 0, max: 999 }), offsets, (ms, micro, offsetMinutes) => {
        const digits = `${String(((ms % 1000) + 1000) % 1000).padStart(3, '0')}${String(micro).padStart(3, '0')}`;
        const local = new Date(ms + offsetMinutes * 60_000).toISOString().slice(0, 19).replace('T', ' ');
        const size = Math.abs(offsetMinutes);
        const pad = (n: number) => String(n).padStart(2, '0');
        const offset = `${offsetMinutes < 0 ? '-' : '+'}${pad(Math.trunc(size / 60))}${size % 60 === 0 ? '' : `:${pad(size % 60)}`}`;
        const parsed = parseInstant(`${local}.${digits}${offset}`);
        expect(parsed.replace('Z', '').padEnd(20, '.').padEnd(26, '0')).toBe(`${new Date(ms).toISOString().slice(0, 19)}.${digits}`);
      }),
    );
  });
});

it('gives a bigint as number only where the number is exact', () => {
  expect(parseInt8('9007199254740991')).toBe(9007199254740991);
  expect(parseInt8('9007199254740992')).toBe('9007199254740992');
  expect(parseInt8('-9223372036854775808')).toBe('-9223372036854775808');
  expect(parseInt8('0')).toBe(0);
});

it('parses arrays element by element and leaves other types to the driver', () => {
  const parse = (oid: number, text: string): unknown => (rowTypes.getTypeParser(oid, 'text') as (text: string) => unknown)(text);
  expect(parse(1016, '{1,NULL,9007199254740993}')).toEqual([1, null, '9007199254740993']);
  expect(parse(1185, '{"2026-01-01 00:00:00.000001+00"}')).toEqual(['2026-01-01T00:00:00.000001Z']);
  expect(parse(1082, '2026-02-28')).toBe('2026-02-28');
  expect(parse(16, 't')).toBe(true);
  expect(parse(3802, '{"a":[1]}')).toEqual({ a: [1] });
});
