import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { nearestDimensions, signatureDistance } from './likeness.js';

const value = fc.option(fc.double({ min: -6, max: 6, noNaN: true }), { nil: null });
const signature = fc.array(value, { minLength: 12, maxLength: 12 });

describe('distance of two signatures', () => {
  it('by hand: differences 1 and 2 over two shared of three asked, and a 3 the other lacks, give sqrt((1 + 4 + 9)/4) · sqrt(3/2)', () => {
    expect(signatureDistance([1, 2, 3], [0, 4, null], 2)!.distance).toBeCloseTo(Math.sqrt(14 / 4) * Math.sqrt(3 / 2), 12);
    expect(signatureDistance([1, 2, 0], [0, 4, null], 2)!.distance).toBeCloseTo(Math.sqrt(5 / 4) * Math.sqrt(3 / 2), 12);
  });

  it('puts a case with the same fault before one in which nobody looked where this one stands out', () => {
    const blocked = [1, 2, -1, 12, 0.5, null];
    const alike = signatureDistance(blocked, [0, 3.5, -2.5, 9.5, 1, 1], 3)!;
    const unlooked = signatureDistance(blocked, [1, 2, -1, null, 0.5, null], 3)!;
    expect(alike.distance).toBeLessThan(unlooked.distance);
    expect(unlooked.shared).toBe(4);
  });

  it('is zero to itself, never negative, and says nothing where too little is shared', () => {
    fc.assert(
      fc.property(signature, signature, (a, b) => {
        const same = signatureDistance(a, a, 1);
        if (a.some((x) => x !== null)) expect(same!.distance).toBe(0);
        else expect(same).toBeNull();
        const shared = a.filter((x, i) => x !== null && b[i] !== null).length;
        const near = signatureDistance(a, b, 3);
        if (shared < 3) expect(near).toBeNull();
        else expect(near!.distance).toBeGreaterThanOrEqual(0);
      }),
    );
  });

  it('is about 1 between two readings of one state', () => {
    let sum = 0;
    let seed = 1;
    const normal = () => {
      // Sum of twelve uniforms: mean 6, variance 1.
      let total = 0;
      for (let i = 0; i < 12; i++) {
        seed = (Math.imul(seed, 1_103_515_245) + 12_345) & 0x7fffffff;
        total += seed / 0x7fffffff;
      }
      return total - 6;
    };
    for (let i = 0; i < 400; i++)
      sum += signatureDistance(Array.from({ length: 20 }, normal), Array.from({ length: 20 }, normal), 5)!.distance;
    expect(sum / 400).toBeGreaterThan(0.93);
    expect(sum / 400).toBeLessThan(1.05);
  });

  it('names the dimensions in which both stand away from healthy alike', () => {
    expect(nearestDimensions([5, 0.1, -4, null], [5.2, 0.1, 4, 3], 3)).toEqual([0]);
  });
});
