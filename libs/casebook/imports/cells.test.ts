import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { readDay, readInstant, readNumber } from './cells.js';
import { detectDialect } from './dialect.js';

describe('a number in a cell', () => {
  it.each([
    ['24', 24],
    ['-3.5', -3.5],
    ['+1.25', 1.25],
    ['2,4', 2.4],
    ['1.234,5', 1234.5],
    ['1,234.5', 1234.5],
    ['1 234,5', 1234.5],
    ['88\u00a0100', 88100],
    ["12'000", 12000],
    ['1,234,567', 1234567],
    ['1.234.567', 1234567],
    ['0,125', 0.125],
    ['1e3', 1000],
  ])('%s is %d', (cell, value) => {
    expect(readNumber(cell, undefined)).toEqual({ ok: true, value });
  });

  it('is never guessed at by a factor of a thousand', () => {
    expect(readNumber('1,234', undefined).ok).toBe(false);
    expect(readNumber('1,234', 'point')).toEqual({ ok: true, value: 1234 });
    expect(readNumber('1,234', 'comma')).toEqual({ ok: true, value: 1.234 });
    expect(readNumber('1.234', 'comma')).toEqual({ ok: true, value: 1234 });
  });

  it.each(['', 'abc', '1,2,3.4.5x', '--1', '1e999', '0x10', '.', 'NaN', 'Infinity'])('is not "%s"', (cell) => {
    expect(readNumber(cell, undefined).ok).toBe(false);
  });

  it('comes back as it was written, in both notations', () => {
    fc.assert(
      fc.property(fc.double({ min: -1e6, max: 1e6, noNaN: true }), (value) => {
        const text = value.toFixed(2);
        expect(readNumber(text, 'point')).toEqual({ ok: true, value: Number(text) });
        expect(readNumber(text.replace('.', ','), 'comma')).toEqual({ ok: true, value: Number(text) });
      }),
    );
  });
});

describe('a date in a cell', () => {
  it.each([
    ['2026-07-01 09:30', undefined, 'Europe/Madrid', '2026-07-01T07:30:00Z'],
    ['2026-01-15', undefined, 'Europe/Madrid', '2026-01-15T11:00:00Z'],
    ['01.07.2026 09:30', 'day-month-year', 'Europe/Madrid', '2026-07-01T07:30:00Z'],
    ['7/1/26 9:30', 'month-day-year', 'America/New_York', '2026-07-01T13:30:00Z'],
    ['31/12/2025', undefined, 'UTC', '2025-12-31T12:00:00Z'],
    ['2026-07-01T09:30:00+02:00', undefined, 'Asia/Kolkata', '2026-07-01T07:30:00Z'],
    // Clocks of Madrid went from 02:00 to 03:00 on 29 March 2026, and from 03:00 to 02:00 on 25 October.
    ['2026-03-29 01:59', undefined, 'Europe/Madrid', '2026-03-29T00:59:00Z'],
    ['2026-03-29 03:00', undefined, 'Europe/Madrid', '2026-03-29T01:00:00Z'],
    ['2026-10-25 03:00', undefined, 'Europe/Madrid', '2026-10-25T02:00:00Z'],
  ] as const)('%s is that instant of the shop', (cell, dates, zone, instant) => {
    expect(readInstant(cell, dates, zone)).toEqual({ ok: true, value: instant });
  });

  it.each(['04/05/2026', '2026-02-30', '2026-13-01', '32.12.2025', '1850-01-01', 'yesterday', '2026-07-01 25:00', ''])(
    'is not guessed from "%s"',
    (cell) => {
      expect(readInstant(cell, undefined, 'UTC').ok).toBe(false);
      expect(readDay(cell, undefined).ok).toBe(false);
    },
  );
});

describe('the dialect of a file', () => {
  it.each([
    ['a;b;c\n1,5;2;3', ';'],
    ['a,b,c\n', ','],
    ['a\tb\n', '\t'],
    ['a|b|c', '|'],
    ['"x;y;z",b,c\n', ','],
    ['"a\n;;;;",b\n', ','],
    ['only', ','],
  ])('of %j', (text, delimiter) => {
    expect(detectDialect(Buffer.from(text)).delimiter).toBe(delimiter);
  });

  it('tells UTF-8, also cut in a character, from Windows-1252', () => {
    expect(detectDialect(Buffer.from('é')).encoding).toBe('utf-8');
    expect(detectDialect(Buffer.from('é').subarray(0, 1)).encoding).toBe('utf-8');
    expect(detectDialect(Buffer.from([0x61, 0xe9, 0x62])).encoding).toBe('windows-1252');
  });
});
