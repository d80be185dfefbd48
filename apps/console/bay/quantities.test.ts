import { describe, expect, it } from '@jest/globals';
import type { LedgerLine } from '../client/generated/api.ts';
import { numberOf } from './draft.ts';
import { expectedAsTyped, pressureDifference, seenAndExpected } from './quantities.ts';

const line = (parts: Partial<LedgerLine>): LedgerLine => ({
  observation: 'discharge-pressure',
  readings: ['r1'],
  label: '',
  seen: 1_900_000,
  expectedHealthy: 1_400_000,
  tolerance: null,
  unit: 'Pa',
  weights: [],
  ...parts,
});
const units = { pressure: '[psi]', temperature: 'Cel' } as const;

describe('values in the words of the person who typed them', () => {
  it('expected keeps the zero of the gauge that was read', () => {
    // 5 bar are 72.519 psi (1 psi = 6,894.757 Pa, NIST SP 811 appendix B).
    expect(expectedAsTyped({ value: 260, unit: '[psi]' }, line({}))).toBeCloseTo(260 - 72.519, 3);
    expect(expectedAsTyped({ value: 17.9, unit: 'bar' }, line({}))).toBeCloseTo(12.9, 9);
  });

  it('a fall of 10 K is one of 18 °F', () => {
    const vent = line({ observation: 'vent-temperature', unit: 'K', seen: 293.15, expectedHealthy: 283.15 });
    expect(expectedAsTyped({ value: 68, unit: '[degF]' }, vent)).toBeCloseTo(50, 9);
    expect(seenAndExpected(vent, new Map([['r1', { value: 68, unit: '[degF]' }]]), units)).toEqual({ seen: '68 °F', expected: '50 °F' });
  });

  it('differences are converted without a zero', () => {
    const drop = line({ observation: 'high-side-drop', readings: ['r1', 'r2'], seen: 689_475.7, expectedHealthy: 68_947.57 });
    expect(seenAndExpected(drop, new Map(), units)).toEqual({ seen: '100 psi', expected: '10 psi' });
    expect(pressureDifference(250_000, 'bar')).toBe('2.5 bar');
  });

  it('an observation in a unit that the reading does not have is not expected in it', () => {
    expect(expectedAsTyped({ value: 5, unit: '/min' }, line({}))).toBeNull();
  });

  it('takes comma and point, and nothing that is no number', () => {
    expect(['12', ' 12,5 ', '-3.25', '.5', '', 'twelve', '1e3', '3o', '1.2.3'].map(numberOf)).toEqual([
      12,
      12.5,
      -3.25,
      0.5,
      null,
      null,
      null,
      null,
      null,
    ]);
  });
});
