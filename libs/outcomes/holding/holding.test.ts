import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { BadSample } from '#libs/numeric/index.js';
import { breakEven, holdingOdds, type RepairOption } from './holding-odds.js';

const RETURNED = 1;
const option = (
  name: string,
  times: readonly number[],
  runningAt: number,
  running: number,
  price: number,
  returnCost: number,
): RepairOption => ({
  name,
  episodes: [...times.map((time) => ({ time, end: RETURNED })), ...Array.from({ length: running }, () => ({ time: runningAt, end: 0 }))],
  returns: RETURNED,
  price,
  returnCost,
});

describe('holding odds', () => {
  // Of 20 refills 5 came back, at 100, 200, .. 500 degree-days; of 20 new seals one, at 400. Everything else ran past 1,000.
  const refill = option('refill', [100, 200, 300, 400, 500], 1000, 15, 80, 400);
  const seal = option('seal', [400], 1000, 19, 180, 400);

  it('shares and expected cost by hand', () => {
    const [a, b] = holdingOdds([refill, seal], 450);
    // 4 of 20 and 1 of 20 by 450: 80 + 0.2 x 400 = 160, 180 + 0.05 x 400 = 200.
    expect(a!.holding).toBeCloseTo(0.8, 12);
    expect(a!.expectedCost).toBeCloseTo(160, 10);
    expect(b!.holding).toBeCloseTo(0.95, 12);
    expect(b!.expectedCost).toBeCloseTo(200, 10);
    expect(a).toMatchObject({ n: 20, events: 4, atRisk: 16, verdict: 'estimated' });
  });

  it('the dear repair pays once the difference of price is made up by returns', () => {
    // 80 + F_a 400 >= 180 + F_b 400: F_a - F_b >= 0.25. At 500: 0.25 - 0.05 = 0.2: not yet within what is known.
    expect(breakEven(refill, seal).at).toBeNull();
    // With returns at 800: 80 + 0.25 x 800 = 280 against 180 + 0.05 x 800 = 220 at 500; at 300: 80 + 120 = 200 against 180.
    const dearer = (o: RepairOption) => ({ ...o, returnCost: 800 });
    const even = breakEven(dearer(refill), dearer(seal));
    // 100: 120 < 180; 200: 160 < 180; 300: 200 >= 180.
    expect(even.at).toBe(300);
    expect(even.earliest!).toBeLessThanOrEqual(300);
    expect(even.latest === null || even.latest >= 300).toBe(true);
    expect(even.knownTo).toBe(500);
    expect(breakEven(seal, refill).at).toBe(0);
  });

  it('does not guess from few, or beyond what was watched', () => {
    expect(holdingOdds([option('new', [10], 50, 3, 1, 1)], 20)[0]).toMatchObject({ verdict: 'not-enough', holding: null, n: 4 });
    expect(holdingOdds([refill], 1500)[0]).toMatchObject({ verdict: 'not-enough', expectedCost: null, atRisk: 0 });
    expect(() => holdingOdds([{ ...refill, price: -1 }], 20)).toThrow(BadSample);
  });

  it('holds no more the longer it is asked to, and costs no less', () => {
    const times = fc.array(fc.integer({ min: 1, max: 90 }), { maxLength: 30 });
    fc.assert(
      fc.property(times, fc.integer({ min: 1, max: 90 }), fc.integer({ min: 1, max: 90 }), (at, a, b) => {
        const one = option('x', at, 100, 12, 50, 70);
        const [near] = holdingOdds([one], Math.min(a, b));
        const [far] = holdingOdds([one], Math.max(a, b));
        expect(far!.holding!).toBeLessThanOrEqual(near!.holding!);
        expect(far!.expectedCost!).toBeGreaterThanOrEqual(near!.expectedCost!);
        expect(near!.lower!).toBeLessThanOrEqual(near!.holding!);
        expect(near!.upper!).toBeGreaterThanOrEqual(near!.holding!);
      }),
    );
  });
});
