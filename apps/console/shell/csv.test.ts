import { describe, expect, it } from '@jest/globals';
import { csvOf } from './csv.ts';

describe('a table as CSV', () => {
  it('quotes as RFC 4180 section 2 says', () => {
    expect(csvOf(['aaa', 'b"bb', 'c,c'], [['z\r\nz', 1, null]])).toBe('aaa,"b""bb","c,c"\r\n"z\r\nz",1,\r\n');
  });

  // The characters a spreadsheet takes for the start of a formula: OWASP, "CSV Injection".
  it.each(['=1+1', '+1', '-1', '@SUM(A1)', '\t=1', '\r=1'])('disarms %j', (cell) => {
    expect(
      csvOf(['x'], [[cell]])
        .split('\r\n')
        .slice(1)
        .join('\r\n')
        .replace(/^"/, '')
        .startsWith("'"),
    ).toBe(true);
  });

  it('leaves numbers as they are, negative ones too', () => {
    expect(csvOf(['x'], [[-2.5]])).toBe('x\r\n-2.5\r\n');
  });
});
