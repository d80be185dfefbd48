import { describe, expect, it } from '@jest/globals';
import type { ProblemIssue, ThermalMap } from '#libs/contracts/index.js';
import { storedMap } from './thermal-grid.js';

function read(map: ThermalMap): { stored: ThermalMap; issues: ProblemIssue[] } {
  const issues: ProblemIssue[] = [];
  return { stored: storedMap(map, '/thermalMaps/0', issues), issues };
}

describe('a grid that comes as CSV', () => {
  it.each([
    ['commas', '51.5,50\n44,43.2\n'],
    ['semicolons and decimal commas', '51,5;50\r\n44;43,2\r\n'],
    ['tabs, a byte order mark, quotes and a delimiter at the end', '\uFEFF51.5\t"50"\t\n44\t43.2\t\n\n'],
  ])('is stored as rows: %s', (_name, csv) => {
    const { stored, issues } = read({ unit: 'Cel', csv });
    expect(issues).toEqual([]);
    expect(stored).toEqual({
      unit: 'Cel',
      rows: [
        [51.5, 50],
        [44, 43.2],
      ],
    });
  });

  it.each([
    ['a heading', 'row,left,right\n1,50,51', /Line 1, column 1: "row" is no temperature/],
    ['a gap', '50,51\n50,,51', /Line 2, column 2: "" is no temperature/],
    ['rows of unequal length', '50,51\n50', /Line 2 has 1 values, line 1 has 2/],
    ['too wide', Array.from({ length: 241 }, () => '50').join(','), /1 × 241/],
    ['nothing', ' \n', /no temperature|empty/],
  ])('says where it cannot be read: %s', (_name, csv, detail) => {
    const { issues } = read({ unit: 'Cel', csv });
    expect(issues.map((one) => one.detail).join(' ')).toMatch(detail);
    expect(issues[0]!.pointer).toBe('/thermalMaps/0/csv');
  });

  it('is refused beside rows', () => {
    expect(read({ unit: 'Cel', csv: '50', rows: [[50]] }).issues).toHaveLength(1);
  });
});

it('half a map that no condenser can show is a slip of the unit', () => {
  expect(read({ unit: 'K', rows: [[50, 51]] }).issues[0]!.remedy).toMatch(/unit/);
  expect(read({ unit: 'Cel', spots: [{ x: 0.5, y: 0.5, temperature: 323 }] }).issues).toHaveLength(1);
  expect(read({ unit: '[degF]', rows: [[122, 118]] }).issues).toEqual([]);
});
