import { randomBytes } from 'node:crypto';
import { describe, expect, it } from '@jest/globals';
import { sfc32 } from '#libs/numeric/index.js';
import { signatureDistance } from './likeness.js';
import { nearestByCode, signatureCode } from './signature-code.js';

describe('the code of a signature', () => {
  it('by hand: −5.6 is level 1, 0 level 8, 5.6 level 15, beyond them the same, not read 0; the first dimension in the lower half', () => {
    expect([...signatureCode([-5.6, 0, 5.6, null, 12, -12, 0.4])]).toEqual([0x81, 0x0f, 0x1f, 0x09]);
  });

  it('by hand: of three cases the one at the same place is first, the one that shares too little is left out', () => {
    const asked = [4, -2.4, null, 0];
    const rows = [
      [4, -2.4, 1, 0],
      [-4, 2.4, 1, 0],
      [4, null, 1, null],
    ];
    const ids = rows.map(() => randomBytes(16));
    const packed = Buffer.concat(rows.flatMap((row, i) => [ids[i]!, signatureCode(row)]));
    const uuid = (id: Buffer) => id.toString('hex').replace(/(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
    expect(nearestByCode([packed], asked, 2, 1)).toEqual({ count: 3, nearest: [uuid(ids[0]!)] });
    expect(nearestByCode([packed.subarray(0, 18), packed.subarray(18)], asked, 2, 3).nearest).toEqual([uuid(ids[0]!), uuid(ids[1]!)]);
  });

  it('finds 99 % of the twenty nearest of 20,000 among the 500 it picks, of 22 dimensions with a third not read', () => {
    const random = sfc32(5);
    const rows = Array.from({ length: 20_000 }, () => {
      const severity = 1 + 5 * random.uniform();
      return Array.from({ length: 22 }, (_, d) =>
        random.uniform() < 0.33 ? null : Math.round((severity * Math.sin(1.7 + 0.9 * d * d) + random.normal()) * 1000) / 1000,
      );
    });
    const ids = rows.map((_, i) => Buffer.from(i.toString(16).padStart(32, '0'), 'hex'));
    const packed = Buffer.concat(rows.flatMap((row, i) => [ids[i]!, signatureCode(row)]));
    let found = 0;
    for (let q = 0; q < 10; q++) {
      const asked = rows[q * 997]!;
      const needed = Math.ceil(asked.filter((value) => value !== null).length / 2);
      const exact = rows
        .map((row, i) => ({ i, distance: signatureDistance(asked, row, needed)?.distance ?? Number.POSITIVE_INFINITY }))
        .sort((a, b) => a.distance - b.distance);
      const picked = new Set(nearestByCode([packed], asked, needed, 500).nearest.map((id) => Number.parseInt(id.replaceAll('-', ''), 16)));
      found += exact.slice(0, 20).filter(({ i }) => picked.has(i)).length;
    }
    expect(found / 200).toBeGreaterThanOrEqual(0.99);
  });
});
