import { describe, expect, it } from '@jest/globals';
import { restrictionsBetween, seatings } from './places.js';

const platform = { layout: 'valve-integral-receiver', compressor: 'variable', refrigerant: 'R-134a' } as const;

describe('places', () => {
  it('leaves one seating when the platform is known and several when it is not, weights summing to one', () => {
    expect(seatings({ ...platform, highSidePort: 'condenser-outlet', highSideTransducer: 'compressor-discharge' })).toHaveLength(1);
    const open = seatings(platform);
    expect(open).toHaveLength(4);
    expect(open.reduce((sum, s) => sum + s.weight, 0)).toBeCloseTo(1, 12);
  });

  it('names what lies between two places of the high side, by layout', () => {
    expect(restrictionsBetween('condenser-inlet', 'condenser-outlet', 'valve-integral-receiver')).toEqual([
      'condenser-passages',
      'filter-cartridge',
    ]);
    expect(restrictionsBetween('condenser-inlet', 'condenser-outlet', 'orifice-accumulator')).toEqual(['condenser-passages']);
    expect(restrictionsBetween('compressor-discharge', 'condenser-inlet', 'valve-receiver')).toEqual(['discharge-line-restriction']);
    expect(restrictionsBetween('liquid-line-before-drier', 'valve-inlet', 'valve-receiver')).toEqual(['liquid-line-restriction']);
    expect(restrictionsBetween('evaporator-outlet', 'compressor-suction', 'valve-receiver')).toEqual(['suction-restriction']);
  });

  it('finds nothing against the flow', () => {
    expect(restrictionsBetween('condenser-outlet', 'condenser-inlet', 'valve-receiver')).toEqual([]);
  });
});
