import { describe, expect, it } from '@jest/globals';
import { dayIn, readDayMeans } from './day-means.js';

describe('daily means from text', () => {
  it('are read as weather services write them: heading or none, comma or point, further columns', () => {
    const days = [
      { day: '2026-07-01', meanC: 24.5 },
      { day: '2026-07-02', meanC: -3 },
    ];
    expect(readDayMeans('day,mean,rain\n2026-07-01,24.5,0\n2026-07-02,-3,1\n')).toEqual({ ok: true, value: days });
    expect(readDayMeans('20260701;24,5\r\n20260702;-3\r\n')).toEqual({ ok: true, value: days });
    expect(readDayMeans('1.7.2026\t24.5\n2.7.2026\t-3\n3.7.2026\t')).toEqual({ ok: true, value: days });
  });

  it('are refused with the line and the reason, never guessed', () => {
    for (const [text, why] of [
      ['', /empty/],
      ['day,mean\n', /no days/],
      ['2026-07-01,24\n07/02/2026,25\n', /Line 2: .*slashes/],
      ['day,mean\n2026-07-01,warm\n', /Line 2: “warm”/],
      ['2026-07-01,76\n', /Fahrenheit/],
      ['2026-07-01,20\n2026-07-01,21\n', /Line 2: 2026-07-01 stands there twice/],
      ['2026-07-01,\n', /No day/],
    ] as const) {
      const read = readDayMeans(text);
      expect([text, read.ok ? '' : read.why]).toEqual([text, expect.stringMatching(why)]);
    }
    expect(dayIn('2026-02-30')).toBeNull();
  });
});
