import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { aalenJohansen } from './aalen-johansen.js';
import { linkageWeighted } from './linkage.js';
import { stepAt } from './risk-sets.js';

describe('unlinked returns', () => {
  it('by hand: of ten, one returned here at 1 and one elsewhere at 2, half of those linked', () => {
    const spells = [{ time: 1, end: 1 }, { time: 2, end: 1 }, ...Array.from({ length: 8 }, () => ({ time: 9, end: 0 }))];
    const elsewhere = [0, 1, 0, 0, 0, 0, 0, 0, 0, 0];
    const got = linkageWeighted(spells, elsewhere, 0.5, 1, 5);
    // 1/10 + (9/10)(2/9): two returns at 2, one of them unseen.
    expect(got.observed).toBeCloseTo(0.2, 14);
    expect(got.corrected).toBeCloseTo(0.3, 14);
    // Later the unseen one is no longer at risk: at 3 a return is one of 7, not of 8.
    const more = linkageWeighted([...spells.slice(0, 9), { time: 3, end: 1 }], elsewhere, 0.5, 1, 5);
    expect(more.corrected).toBeCloseTo(0.3 + 0.7 / 7, 14);
  });

  it('with every return linked is Aalen-Johansen, and never less than it', () => {
    const spell = fc.record({
      time: fc.integer({ min: 1, max: 12 }),
      end: fc.integer({ min: 0, max: 2 }),
      away: fc.integer({ min: 0, max: 1 }),
    });
    fc.assert(
      fc.property(fc.array(spell, { minLength: 1, maxLength: 40 }), fc.integer({ min: 1, max: 12 }), (spells, horizon) => {
        const away = spells.map((s) => s.away);
        const all = linkageWeighted(spells, away, 1, 1, horizon);
        const curve = aalenJohansen(spells, 1);
        const step = stepAt(curve.times, horizon);
        expect(all.corrected).toBeCloseTo(step < 0 ? 0 : curve.incidence[step]!, 12);
        const half = linkageWeighted(spells, away, 0.5, 1, horizon);
        if (half.reliable) expect(half.corrected).toBeGreaterThanOrEqual(half.observed - 1e-12);
      }),
    );
  });
});
