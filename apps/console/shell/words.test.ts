import { describe, expect, it } from '@jest/globals';
import { monthWords, periodWords, said } from './words.ts';

describe('sentences of the service', () => {
  it('are shown with codes as words and days as dates; what only looks like a code stays', () => {
    expect(said('replace-filter-cartridge pays for a car that is kept beyond 2026-06-18.')).toBe(
      'replace filter cartridge pays for a car that is kept beyond 18 Jun 2026.',
    );
    expect(said('2026-07: condenser-passages after permanent-later; a follow-up of R-1234yf.')).toBe(
      'July 2026: condenser passages after full repair later; a follow-up of R-1234yf.',
    );
  });

  it('months and periods are written out', () => {
    expect(monthWords('2026-02')).toBe('February 2026');
    expect(periodWords('2026-01-01', null)).toBe('since 1 Jan 2026');
    expect(periodWords('2026-01-01', '2026-02-01')).toBe('since 1 Jan 2026 and before 1 Feb 2026');
  });

  it('have their thousands set apart where something is counted, and years left whole', () => {
    expect(said('1558 of 8296 repairs of this period have come back so far, 12808 proved cases, 999 repairs.')).toBe(
      '1,558 of 8,296 repairs of this period have come back so far, 12,808 proved cases, 999 repairs.',
    );
    expect(said('Built in 2019 for 2020 models; problem 12345.')).toBe('Built in 2019 for 2020 models; problem 12345.');
  });
});
