import { describe, expect, it } from '@jest/globals';
import { alikeFaults, alikeKey } from '#libs/engine/alike.js';
import { ALIKE } from '#libs/engine/calibration/alike-table.js';
import { currentCalibration } from '#libs/engine/calibration/current.js';
import { D1, E, L, Q1, SPD, TQ1, TS, TV } from '#libs/engine/dims.js';
import { linkage } from '../validate/engine-alike.js';

describe('faults that readings cannot tell apart', () => {
  const platform = { layout: 'valve-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' } as const;
  const gauges = [L, Q1, TV];

  it('have a row for every kind of system and what was read of it', () => {
    for (const key of currentCalibration().keys()) {
      const rows = Object.keys(ALIKE).filter((row) => row.startsWith(`${key} `));
      expect(rows).toHaveLength(key.endsWith('fixed-clutch') ? 3 : 6);
    }
    expect(alikeKey(platform, gauges)).toBe('valve-receiver/fixed-clutch gauges');
    expect(alikeKey(platform, [L, D1, Q1, TV])).toBe('valve-receiver/fixed-clutch transducer');
    expect(alikeKey(platform, [L, Q1, TS, TQ1, TV])).toBe('valve-receiver/fixed-clutch temperatures');
    expect(alikeKey({ ...platform, layout: 'valve-integral-receiver', compressor: 'electric' }, [E, Q1, SPD])).toBe(
      'valve-integral-receiver/electric gauges driven',
    );
  });

  it('are classes of two to four, no fault in two of them, none of them sound', () => {
    for (const classes of Object.values(ALIKE)) {
      const codes = classes.flat();
      expect(new Set(codes).size).toBe(codes.length);
      expect(codes).not.toContain('healthy');
      for (const c of classes) expect([2, 3, 4]).toContain(c.length);
    }
  });

  it('lose a fault that another observation speaks of', () => {
    const dirt = (seen: readonly string[]) => alikeFaults(platform, gauges, new Set(seen)).find((c) => c.includes('condenser-fan')) ?? null;
    // Two gauges and a vent thermometer: dirt, fan and air raise the high side alike (common practice).
    expect(dirt([])).toEqual(['air-in-system', 'condenser-dirt', 'condenser-fan']);
    expect(dirt(['condenser-fins-dirty'])).toEqual(['air-in-system', 'condenser-fan']);
    expect(dirt(['condenser-fins-dirty', 'static-excess'])).toBeNull();
  });
});

describe('classes by complete linkage', () => {
  const far: Record<string, number> = { ab: 0.6, bc: 0.6, ac: 0.9, cd: 0.7, ad: 0.9, bd: 0.9 };
  const apart = (a: string, b: string) => far[[a, b].sort().join('')]!;

  it('hold only pairs that are all alike, those most often mistaken first', () => {
    const mistaken = (a: string, b: string) => ([a, b].sort().join('') === 'bc' ? 2 : 1);
    expect(linkage(['a', 'b', 'c', 'd'], apart, mistaken, 0.8, 4)).toEqual([['b', 'c']]);
    expect(linkage(['a', 'b', 'c', 'd'], apart, () => 1, 0.8, 4)).toEqual([
      ['a', 'b'],
      ['c', 'd'],
    ]);
  });

  it('never grow beyond the most', () => {
    expect(
      linkage(
        ['a', 'b', 'c'],
        () => 0.5,
        () => 1,
        0.8,
        2,
      ),
    ).toEqual([['a', 'b']]);
  });
});
