import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { tracePicture } from './traces.js';

/** A low side at rest at 5 bar, drawn down to 2 bar in a straight minute, then swinging between 2 and 3 bar: 30 s up (off), 20 s down (on). */
function cyclingTrace(noise: (i: number) => number = () => 0) {
  const samples = [];
  for (let s = 0; s <= 360; s++) {
    const inCycle = (s - 60) % 50;
    const bar = s < 60 ? 5 - (3 * s) / 60 : inCycle < 30 ? 2 + inCycle / 30 : 3 - (inCycle - 30) / 20;
    samples.push({ second: s, pressurePa: bar * 1e5 + noise(s) });
  }
  return samples;
}

describe('a pressure in time', () => {
  it('pull-down, period, duty and mean, worked by hand', () => {
    const picture = tracePicture({ place: 'compressor-suction', samples: cyclingTrace() }, 0)!;
    expect(picture.seconds).toBe(360);
    expect(picture.cycling!.cycles).toBe(5);
    expect(picture.cycling!.periodSeconds).toBeCloseTo(50, 9);
    expect(picture.cycling!.duty).toBeCloseTo(0.4, 9);
    expect(picture.cycling!.lowPa).toBeCloseTo(2e5, 6);
    expect(picture.cycling!.highPa).toBeCloseTo(3e5, 6);
    expect(picture.settledPa).toBeCloseTo(2.5e5, 6);
    // From the middle of the first three values (4.95 bar) to 2 bar, at 3 bar a minute.
    expect(picture.pullDown!.fallPa).toBeCloseTo(2.95e5, 6);
    expect(picture.pullDown!.paPerMinute).toBeCloseTo(3e5, 6);
    expect(picture.message).toContain('cycles every 50 s between 2.0 bar (29 psi) and 3.0 bar (44 psi), compressor on 40 % of the time');
  });

  it('on the high side the compressor is on while the pressure rises', () => {
    const samples = cyclingTrace().map(({ second, pressurePa }) => ({ second, pressurePa: pressurePa * 3 }));
    const picture = tracePicture({ place: 'compressor-discharge', samples }, 2)!;
    expect(picture.trace).toBe(2);
    expect(picture.cycling!.duty).toBeCloseTo(0.6, 9);
    expect(picture.pullDown).toBeNull();
  });

  it('noise under the swing changes nothing but the last digits', () => {
    const noisy = cyclingTrace((s) => 8_000 * Math.sin(12.9898 * s));
    const picture = tracePicture({ place: 'compressor-suction', samples: noisy }, 0)!;
    expect(picture.cycling!.cycles).toBe(5);
    expect(Math.abs(picture.cycling!.periodSeconds - 50)).toBeLessThan(1);
    expect(Math.abs(picture.cycling!.duty - 0.4)).toBeLessThan(0.05);
  });

  it('a steady value settles, a drifting one is not called settled', () => {
    const line = (slope: number) => Array.from({ length: 121 }, (_, s) => ({ second: s, pressurePa: 2e5 + slope * s }));
    expect(tracePicture({ place: 'compressor-suction', samples: line(0) }, 0)).toMatchObject({
      settledPa: 2e5,
      pullDown: null,
      cycling: null,
    });
    const drifting = tracePicture({ place: 'compressor-suction', samples: line(1_000) }, 0)!;
    expect(drifting.settledPa).toBeNull();
    expect(drifting.message).toContain('had not settled');
  });

  it('one bump is not a rhythm, and half a minute is nothing', () => {
    const bump = Array.from({ length: 200 }, (_, s) => ({ second: s, pressurePa: 2e5 + (s > 80 && s < 100 ? 1e5 : 0) }));
    expect(tracePicture({ place: 'compressor-suction', samples: bump }, 0)!.cycling).toBeNull();
    expect(tracePicture({ place: 'compressor-suction', samples: bump.slice(0, 30) }, 0)).toBeNull();
  });

  it('any order and any samples: finite figures, shares within 0 and 1', () => {
    const sample = fc.record({
      second: fc.double({ min: 0, max: 600, noNaN: true }),
      pressurePa: fc.double({ min: -1e5, max: 4e6, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(sample, { minLength: 2, maxLength: 120 }), fc.boolean(), (samples, low) => {
        const place = low ? 'compressor-suction' : 'compressor-discharge';
        const picture = tracePicture({ place, samples }, 0);
        expect(tracePicture({ place, samples: [...samples].reverse() }, 0)).toEqual(picture);
        if (picture === null) return;
        const { cycling, pullDown, settledPa } = picture;
        for (const x of [settledPa ?? 0, ...Object.values(cycling ?? {}), ...Object.values(pullDown ?? {})])
          expect(Number.isFinite(x)).toBe(true);
        if (cycling) {
          expect(cycling.duty).toBeGreaterThanOrEqual(0);
          expect(cycling.duty).toBeLessThanOrEqual(1);
        }
      }),
      { numRuns: 300 },
    );
  });
});
