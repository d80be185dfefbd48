import { describe, expect, it } from '@jest/globals';
import { blocks, readGrid } from './grid.ts';
import { readTrace, secondsIn } from './trace.ts';

const grid = (text: string) => {
  const read = readGrid(text);
  return read.ok ? read.value : read.why;
};
const trace = (text: string) => {
  const read = readTrace(text);
  return read.ok ? read.value.map(({ second, value }) => [second, value]) : read.why;
};

describe('a temperature grid as instruments write it', () => {
  const four = [
    [41, 40.5],
    [39, 38],
    [30, 29.5],
    [29, 28],
  ];
  it.each([
    ['comma and point', '41,40.5\n39,38\n30,29.5\n29,28'],
    ['semicolon and decimal comma, with a mark of byte order', '\uFEFF41;40,5\r\n39;38\r\n30;29,5\r\n29;28\r\n'],
    ['tabs, and a separator at the end of each line', '41\t40.5\t\n39\t38\t\n30\t29.5\t\n29\t28\t'],
    ['blanks', '41 40.5\n39 38\n30 29.5\n29 28'],
    ['lines on top', 'Emissivity,0.95\nFile: a.csv\n41,40.5\n39,38\n30,29.5\n29,28'],
    ['JSON', JSON.stringify(four)],
    ['JSON under rows', JSON.stringify({ rows: four })],
  ])('%s', (_name, text) => expect(grid(text)).toEqual(four));

  it('says where it is wrong', () => {
    expect(grid('')).toMatch('empty');
    expect(grid('41,40\n39,x\n30,29\n29,28')).toMatch('Row 2, column 2: “x” is not a number');
    expect(grid('41,40\n39\n30,29\n29,28')).toMatch('Row 2 has 1 values, the first has 2');
    expect(grid('41,40\n39,38')).toMatch('at least four heights');
    expect(grid('4100,4000\n3900,38\n30,29\n29,28')).toMatch('no temperature of a condenser');
    expect(grid('{"rows": 3}')).toMatch('rows of numbers');
    expect(grid('[1,')).toMatch('not');
  });

  it('a large picture is averaged over blocks', () => {
    const large = Array.from({ length: 480 }, (_, i) => Array.from({ length: 640 }, () => (i < 240 ? 40 : 20)));
    const read = readGrid(large.map((row) => row.join(',')).join('\n'));
    expect(read.ok && [read.value.length, read.value[0]!.length, read.value[0]![0], read.value.at(-1)![0]]).toEqual([240, 214, 40, 20]);
    expect(
      blocks(
        [
          [1, 2],
          [3, 4],
        ],
        2,
        2,
      ),
    ).toEqual([[2.5]]);
  });
});

describe('a pressure trace as instruments write it', () => {
  const three = [
    [0, 70],
    [1.5, 65.5],
    [3, 60],
  ];
  it.each([
    ['seconds and psi with a heading', 'Time (s),Low side (psi)\n0,70\n1.5,65.5\n3,60'],
    ['decimal comma', '0;70\n1,5;65,5\n3;60'],
    ['clock times', '00:10:00;70\n00:10:01,5;65,5\n00:10:03;60'],
    ['instants, further columns', '2026-06-01T10:00:00Z,70,a\n2026-06-01T10:00:01.500Z,65.5,b\n2026-06-01T10:00:03Z,60,c'],
    ['JSON pairs', '[[0,70],[1.5,65.5],[3,60]]'],
    ['JSON objects out of order', '[{"second":3,"value":60},{"second":0,"value":70},{"second":1.5,"value":65.5}]'],
  ])('%s', (_name, text) => expect(trace(text)).toEqual(three));

  it('says where it is wrong', () => {
    expect(trace('0,70\n1,abc')).toMatch('Line 2: “1 abc” is not a time and a pressure');
    expect(trace('70\n65')).toMatch('Two columns');
    expect(trace('[[0,70],["a",1]]')).toMatch('Sample 2');
    expect(trace('0,70')).toMatch('at least two');
    expect(trace('0,70\n900000,60')).toMatch('longer than a day');
  });

  it('reads times', () => {
    expect(['90', '1:30', '00:01:30,5', 'x', '2026-13-01T00:00Z'].map(secondsIn)).toEqual([90, 90, 90.5, null, null]);
  });

  it('a long one is thinned evenly', () => {
    const read = readTrace(Array.from({ length: 50_000 }, (_, i) => `${i / 10},${i}`).join('\n'));
    expect(read.ok && [read.value.length, read.value[1]]).toEqual([16_667, { second: 0.3, value: 3 }]);
  });
});
