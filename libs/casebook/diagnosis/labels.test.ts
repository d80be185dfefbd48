import { describe, expect, it } from '@jest/globals';
import { labelSet, type ProofFacts } from './labels.js';

const proof = (parts: Partial<ProofFacts>): ProofFacts => ({
  faults: ['condenser-passages'],
  method: 'verified-after-readings',
  recharged: true,
  recoveredShare: null,
  airShare: null,
  ...parts,
});

describe('what a proof establishes', () => {
  it('an opened part or a laboratory: what was found, whatever was charged afterwards', () => {
    expect(labelSet(proof({ method: 'opened-part' }))).toEqual(['condenser-passages']);
    expect(labelSet(proof({ method: 'laboratory', faults: ['moisture'] }))).toEqual(['moisture']);
  });

  it('good after-readings behind a weighed charge leave charge and air in the set', () => {
    expect(labelSet(proof({}))).toEqual(['air-in-system', 'condenser-passages', 'overcharge', 'undercharge']);
  });

  it('weight acquits the charge, the identifier acquits the air; both together leave one cause', () => {
    expect(labelSet(proof({ recoveredShare: 0.97 }))).toEqual(['air-in-system', 'condenser-passages']);
    expect(labelSet(proof({ airShare: 0 }))).toEqual(['condenser-passages', 'overcharge', 'undercharge']);
    expect(labelSet(proof({ recoveredShare: 1.05, airShare: 0.005 }))).toEqual(['condenser-passages']);
  });

  it('a weight that is off, or air that was seen, stays a cause', () => {
    expect(labelSet(proof({ recoveredShare: 0.6, airShare: 0 }))).toEqual(['condenser-passages', 'undercharge']);
    expect(labelSet(proof({ recoveredShare: 1.3, airShare: 0.06 }))).toEqual(['air-in-system', 'condenser-passages', 'overcharge']);
  });

  it('after-readings of a repair that left the circuit closed prove it alone', () => {
    expect(labelSet(proof({ faults: ['condenser-fan'], recharged: false }))).toEqual(['condenser-fan']);
  });
});
