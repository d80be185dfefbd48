import { describe, expect, it } from '@jest/globals';
import { sfc32 } from '#libs/numeric/index.js';
import { signatureDistance } from './likeness.js';
import { signatureCode, UNREAD, valuesOfCode } from './signature-code.js';
import { SignatureShelf } from './signature-shelf.js';

type Values = readonly (number | null)[];

const DIMENSIONS = 22;
const idOf = (number: number) => Buffer.from(number.toString(16).padStart(32, '0'), 'hex');
const uuid = (number: number) =>
  idOf(number)
    .toString('hex')
    .replace(/(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');

/** Rows as the database gives them: the newest identifiers first, some at a time. */
function shelved(rows: readonly Values[], page: number): SignatureShelf {
  const shelf = new SignatureShelf(rows[0]!.length);
  const packed = rows.map((row, i) => Buffer.concat([idOf(i), signatureCode(row)])).reverse();
  for (let i = 0; i < packed.length; i += page) shelf.append(Buffer.concat(packed.slice(i, i + page)));
  return shelf;
}

/** Signatures of cases along the directions of ten faults, with noise, a third not read. */
function randomRows(count: number, seed: number): Values[] {
  const random = sfc32(seed);
  return Array.from({ length: count }, () => {
    const [fault, severity] = [Math.floor(10 * random.uniform()), 1 + 5 * random.uniform()];
    return Array.from({ length: DIMENSIONS }, (_, d) =>
      random.uniform() < 0.33 ? null : Math.round((severity * Math.sin(1.7 * fault + 0.9 * d * d) + random.normal()) * 1000) / 1000,
    );
  });
}

/** The nearest by a comparison with every row: their distance is that of `likeness.ts`. */
function exhaustive(rows: readonly Values[], asked: Values, needed: number, most: number): string[] {
  const distances = rows.flatMap((row, i) => {
    const near = signatureDistance(asked, row, needed);
    return near ? [{ i, distance: near.distance }] : [];
  });
  distances.sort((a, b) => a.distance - b.distance || a.i - b.i);
  const limit = distances[most - 1]?.distance ?? Number.POSITIVE_INFINITY;
  return distances.filter(({ distance }) => distance <= limit).map(({ i }) => uuid(i));
}

const half = (asked: Values) => Math.max(2, Math.ceil(asked.filter((value) => value !== null).length / 2));

describe('the code of a signature', () => {
  it('by hand: thousandths in two bytes, the lower one first; what was not read is no number of them', () => {
    expect([...signatureCode([1, null, -12, 0.001])]).toEqual([0xe8, 0x03, 0x00, 0x80, 0x20, 0xd1, 0x01, 0x00]);
    expect(UNREAD).toBe(-0x8000);
    expect(valuesOfCode(signatureCode([1, null, -12, 0.001]))).toEqual([1, null, -12, 0.001]);
  });
});

describe('a shelf of signatures', () => {
  it('by hand: of three cases the one at the same place is first, the one that shares too little is left out', () => {
    const rows: Values[] = [
      [4, -2.4, 1, 0],
      [-4, 2.4, 1, 0],
      [4, null, 1, null],
    ];
    expect(shelved(rows, 2).nearest([4, -2.4, null, 0], 2, 1)).toEqual({ count: 3, ids: [uuid(0)] });
    expect([...shelved(rows, 3).nearest([4, -2.4, null, 0], 2, 3).ids].sort()).toEqual([uuid(0), uuid(1)]);
  });

  it('finds exactly what a comparison with every case finds, a third of the readings missing', () => {
    const rows = randomRows(12_000, 5);
    const shelf = shelved(rows, 7_000);
    for (let q = 0; q < 8; q++) {
      const asked = rows[q * 997]!;
      const found = shelf.nearest(asked, half(asked), 20);
      expect(found.count).toBe(rows.length);
      expect(found.ids).toEqual(exhaustive(rows, asked, half(asked), 20));
    }
  });

  it('finds all that are as near as the last, and what stands far out by its eight standard deviations', () => {
    const rows: Values[] = [...Array.from({ length: 30 }, () => [1, 1, 1]), [12, 12, 12], [-12, -12, -12], [1, 1, null]];
    const shelf = shelved(rows, 100);
    expect(shelf.nearest([1, 1, 1], 2, 5).ids).toHaveLength(30);
    // What was not read counts as sound: as near as nothing where nothing stands out, a whole reading away where it does.
    expect(shelf.nearest([1, 1, 0], 2, 1).ids).toEqual(exhaustive(rows, [1, 1, 0], 2, 1));
    expect(shelf.nearest([1, 1, 0], 2, 1).ids).toHaveLength(1);
    expect(shelf.nearest([1, 1, 1], 2, 33).ids).toEqual(exhaustive(rows, [1, 1, 1], 2, 33));
  });

  it('takes rows that come later, and those that are judged again, old ones as well as new ones', () => {
    const rows = randomRows(3_000, 6);
    const shelf = shelved(rows.slice(0, 2_900), 1_000);
    const now = [...rows];
    for (let i = 2_900; i < 3_000; i++) shelf.put(uuid(i), rows[i]!);
    const random = sfc32(7);
    for (let k = 0; k < 300; k++) {
      const i = Math.floor(random.uniform() * rows.length);
      now[i] = rows[Math.floor(random.uniform() * rows.length)]!;
      shelf.put(uuid(i), now[i]!);
    }
    for (const asked of [now[0]!, now[1_500]!, now[2_999]!]) {
      const found = shelf.nearest(asked, half(asked), 25);
      expect(found.count).toBe(3_000);
      expect([...found.ids].sort()).toEqual(exhaustive(now, asked, half(asked), 25).sort());
    }
  });
});
