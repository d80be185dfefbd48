import { describe, expect, it } from '@jest/globals';
import { monthBounds, monthOf } from './month-bounds.ts';

describe('the month of the summary', () => {
  it('is the last whole one when the address names none, or names it wrongly', () => {
    expect(monthOf(null, new Date('2026-03-31T23:59:59Z'))).toBe('2026-02');
    expect(monthOf('2026-13', new Date('2026-01-01T00:00:00Z'))).toBe('2025-12');
    expect(monthOf('2024-02', new Date('2026-01-01T00:00:00Z'))).toBe('2024-02');
  });

  it('ends before the first of the next, across the year and in leap years', () => {
    expect(monthBounds('2026-12')).toEqual({ since: '2026-12-01', until: '2027-01-01' });
    expect(monthBounds('2024-02')).toEqual({ since: '2024-02-01', until: '2024-03-01' });
  });
});
