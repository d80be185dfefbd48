import { describe, expect, it } from '@jest/globals';
import { analyse } from '#libs/engine/analysis.js';
import { DIMS } from '#libs/engine/dims.js';
import {
  diagnose,
  type EngineInput,
  type EngineReading,
  explainBySimulation,
  type KnownGood,
  type KnownPlatform,
  type OwnSound,
  platformCalibration,
  signatureDimensions,
} from '#libs/engine/index.js';
import { fromSI, toSI, UNIT_CODES, type UnitKind } from '#libs/units/index.js';
import { type Case, drawCase } from '../validate/engine-cases.js';
import { addedReading, foreignReadings, foreignTruth, repairCosts, rivals, swappedPlaces } from '../validate/engine-checks.js';
import { random } from '../validate/engine-draws.js';
import { casesFrom } from '../validate/engine-study.js';

/** A part of the checks of docs/validation.md, on seeds of their own; bounds leave the sampling error of the smaller size. */
describe('the engine is no sham', () => {
  it('beats prior, sign table and a logistic regression on the same residuals in one run', () => {
    const r = rivals(150, 400, 50_000_001, 'full');
    for (const rival of [r.prior, r.signs, r.logistic]) expect(r.engine.mean).toBeLessThan(rival.mean);
    expect(r.engine.top1).toBeGreaterThan(Math.max(r.prior.top1, r.signs.top1, r.logistic.top1));
  });

  it('costs at least three tenths less in wrong repairs than windows and weighing', () => {
    const c = repairCosts(250, 50_000_001, 'gauges+vent');
    expect(c.saved + c.half).toBeGreaterThan(0.3);
    expect(c.engine).toBeLessThan(c.plain);
  });

  it('knows nothing of a truth whose readings are another case’s', () => {
    const { engine, prior } = foreignTruth(200, 50_000_001);
    expect(engine.top1).toBeLessThan(prior.top1 + 3 * Math.sqrt(0.25 / 200));
    expect(engine.mean).toBeGreaterThan(prior.mean - 2 * prior.half);
  });

  it('falls back towards the prior where every reading is another case’s', () => {
    const { engine, prior } = foreignReadings(200, 50_000_001, 'full');
    expect(engine.mean).toBeLessThan(prior.mean + 0.1 + prior.half);
  });

  it('leaves a restriction where port and transducer are taken for each other', () => {
    const { found, kept } = swappedPlaces(12, 50_000_001);
    expect(found).toBeGreaterThan(4);
    expect(kept).toBeLessThanOrEqual(found / 4);
  });

  it('does not on average lose the true fault by one true reading more', () => {
    const { logMean, logHalf } = addedReading(400, 50_000_001);
    expect(logMean + logHalf).toBeGreaterThan(0);
  });
});

describe('how a case is typed', () => {
  const KINDS: Readonly<Record<string, UnitKind>> = { pressure: 'pressure', temperature: 'temperature' };

  it('does not change the answer: unit, order, and the same reading entered twice', () => {
    const u = random(70_200_001);
    for (const drawn of casesFrom(50_100_001, 12, 'full')) {
      const { input } = drawn;
      const retyped = input.readings.map((r) => {
        const units = UNIT_CODES.filter((one) => one.kind === KINDS[r.quantity]);
        const one = units[Math.floor(u() * units.length)];
        return one ? { ...r, value: toSI(fromSI(r.value, one), one) } : r;
      });
      const twice = { ...retyped[0]!, id: 'again' };
      const typed = diagnose({ ...input, readings: [...retyped.reverse(), twice], findings: [...input.findings].reverse() });
      const plain = diagnose(input);
      expect(typed.status).toBe(plain.status);
      expect(typed.tied).toEqual(plain.tied);
      for (const [i, f] of plain.faults.entries()) {
        expect(typed.faults[i]!.code).toBe(f.code);
        expect(typed.faults[i]!.probability).toBeCloseTo(f.probability, 9);
      }
    }
  });
});

describe('known-good readings of a platform', () => {
  const model = drawCase(60_000_001, 'temperatures') as Case;
  const { platform } = model.input;
  const sound = (count: number, shops: number, from = 0): KnownGood[] => {
    const known: KnownGood[] = [];
    for (let seed = 60_000_002 + 1_000 * from; known.length < count; seed++) {
      const drawn = drawCase(seed, 'temperatures', {
        hardware: model.hardware,
        fault: { code: 'healthy', size: 0 },
        stage: 'after',
        places: platform,
      });
      if (drawn) known.push({ shop: `shop ${known.length % shops}`, input: drawn.input });
    }
    return known;
  };

  it('say nothing before three shops have read', () => {
    expect(platformCalibration(platform, sound(12, 2))).toBeNull();
    expect(platformCalibration(platform, sound(12, 3))).toMatchObject({ cases: 12, shops: 3 });
  });

  it('move the sound expectation little when few, more when many, and leave less unknown', () => {
    const few = platformCalibration(platform, sound(3, 3))!;
    const many = platformCalibration(platform, sound(30, 6))!;
    const left = (c: typeof few) => Array.from({ length: DIMS }, (_, i) => c.remaining[(i * (i + 1)) / 2 + i]!).reduce((a, b) => a + b, 0);
    expect(left(many)).toBeLessThan(left(few));
    const length = (c: typeof few) => Math.hypot(...c.offset);
    expect(length(few)).toBeLessThan(length(many) + 3);
  });

  it('survive JSON, are said in the answer, and are dropped when they belong to another calibration', () => {
    const known = JSON.parse(JSON.stringify(platformCalibration(platform, sound(12, 4)))) as NonNullable<
      ReturnType<typeof platformCalibration>
    >;
    const plain = diagnose(model.input);
    const told = diagnose({ ...model.input, platformCalibration: known });
    expect(told.trust.map((t) => t.code)).toContain('platform-known');
    expect(told.faults).not.toEqual(plain.faults);
    expect(told.faults.reduce((sum, f) => sum + f.probability, 0)).toBeGreaterThan(0.98);
    expect(diagnose({ ...model.input, platformCalibration: { ...known, calibration: 'another' } })).toEqual(plain);
  });

  it('cannot make a platform’s weakness sound: an offset ends at two and a half widths of the hardware', () => {
    const weak = sound(30, 6).map(({ shop, input }) => ({
      shop,
      input: { ...input, readings: input.readings.map((r) => (r.place === 'vent' ? { ...r, value: r.value + 25 } : r)) },
    }));
    const vent = 10;
    expect(platformCalibration(platform, weak)!.offset[vent]).toBeLessThan(6);
  });

  describe('of related platforms', () => {
    const vent = 10;
    /** Platforms of one kind with twelve readings each, and the same with every vent warmer. */
    const others = (count: number, shops: number, warmerK = 0): KnownPlatform[] =>
      Array.from({ length: count }, (_, i) => ({
        platform,
        known: sound(12, shops, 1 + i).map(({ shop, input }) => ({
          shop,
          input: { ...input, readings: input.readings.map((r) => (r.place === 'vent' ? { ...r, value: r.value + warmerK } : r)) },
        })),
      }));
    const offset = (known: readonly KnownGood[], related: readonly KnownPlatform[]) =>
      platformCalibration(platform, known, related)!.offset[vent]!;
    const unknown = ({ remaining }: NonNullable<ReturnType<typeof platformCalibration>>) => remaining[(vent * (vent + 1)) / 2 + vent]!;

    it('say something of a platform nobody has read, when there are three of them and of their shops', () => {
      expect(platformCalibration(platform, [], others(2, 4))).toBeNull();
      expect(platformCalibration(platform, [], others(4, 2))).toBeNull();
      const known = platformCalibration(platform, [], others(4, 4))!;
      expect(known).toMatchObject({ cases: 0, shops: 0, related: { platforms: 4, cases: 48, shops: 4 } });
      expect(diagnose({ ...model.input, platformCalibration: known }).trust.find(({ code }) => code === 'platform-known')!.message).toMatch(
        /48 known-good readings of 4 other platforms of its kind from 4 shops/,
      );
    });

    it('move it by a part of what they have in common, less than its own readings would, and leave more unknown', () => {
      const moved = offset([], others(6, 4, 2)) - offset([], others(6, 4));
      expect(moved).toBeGreaterThan(0.3);
      expect(moved).toBeLessThan(2);
      const own = others(1, 4, 2)[0]!.known;
      expect(offset(own, []) - offset(others(1, 4)[0]!.known, [])).toBeGreaterThan(moved);
      const [kin, alone, both] = [
        platformCalibration(platform, [], others(6, 4))!,
        platformCalibration(platform, own)!,
        platformCalibration(platform, own, others(6, 4))!,
      ];
      expect(unknown(alone)).toBeLessThan(unknown(kin));
      expect(unknown(both)).toBeLessThan(unknown(alone));
    });

    it('cannot make a weakness sound that all of them share, and do not hang on their order', () => {
      expect(offset([], others(6, 4, 25))).toBeLessThan(6);
      const several = others(4, 4, 1);
      expect(offset([], [...several].reverse())).toBeCloseTo(offset([], several), 9);
    });
  });
});

describe('sound readings of the vehicle itself', () => {
  const model = drawCase(60_000_001, 'surface') as Case;
  const { platform } = model.input;
  const own = (seed: number, change: (r: EngineReading) => EngineReading = (r) => r, more: Partial<OwnSound> = {}): OwnSound => {
    const sound = drawCase(seed, 'surface', { hardware: model.hardware, fault: { code: 'healthy', size: 0 }, places: platform }) as Case;
    const { elevationM, conditions, readings } = sound.input;
    return { elevationM: elevationM!, conditions, readings: readings.map(change), ageDays: 200, sameShop: true, ...more };
  };
  const vent = 10;
  const warm = (by: number) => (r: EngineReading) => (r.place === 'vent' ? { ...r, value: r.value + by } : r);
  const known = (ownSound: readonly OwnSound[]) => analyse({ ...model.input, ownSound }, true);
  const plain = analyse(model.input, true);

  it('move what is sound here by a part of what they say, less the older they are, and leave less unknown', () => {
    const shift = (readings: readonly OwnSound[]) => known(readings).healthy.mean[vent]! - plain.healthy.mean[vent]!;
    const [few, more] = [own(60_000_002), own(60_000_002, warm(3))];
    const moved = shift([more]) - shift([few]);
    expect(moved).toBeGreaterThan(0.5);
    expect(moved).toBeLessThan(3);
    const old = { ageDays: 3000 };
    expect(shift([own(60_000_002, warm(3), old)]) - shift([own(60_000_002, undefined, old)])).toBeLessThan(moved);
    const width = (readings: readonly OwnSound[]) => known(readings).healthy.covariance[vent * DIMS + vent]!;
    const three = [own(60_000_002), own(60_000_003), own(60_000_005)];
    expect(width(three)).toBeLessThan(width(three.slice(0, 1)));
    expect(width(three.slice(0, 1))).toBeLessThan(plain.healthy.covariance[vent * DIMS + vent]!);
  });

  it('are said in the answer, three at most, in any order', () => {
    const four = [own(60_000_002), own(60_000_003), own(60_000_005), own(60_000_006, undefined, { ageDays: 900 })];
    const told = diagnose({ ...model.input, ownSound: four });
    expect(told.ownReadings).toBe(3);
    expect(told.trust.map((t) => t.code)).toContain('vehicle-known');
    const turned = diagnose({ ...model.input, ownSound: [...four].reverse() });
    expect(turned).toEqual(told);
    expect(diagnose({ ...model.input, ownSound: [] })).toEqual(diagnose(model.input));
  });

  it('cannot make a weakness sound, and are doubted where they look like no sound vehicle', () => {
    const wrong = own(60_000_002, (r) => (r.quantity === 'temperature' ? { ...r, value: r.value + 22 } : r));
    const { healthy, vehicle } = known([wrong]);
    expect(vehicle!.doubted).toBe(1);
    expect(healthy.mean[vent]! - plain.healthy.mean[vent]!).toBeLessThan(5);
    expect(diagnose({ ...model.input, ownSound: [wrong] }).trust.map((t) => t.code)).toContain('own-reading-unlike-sound');
    const stubborn = [60_000_002, 60_000_003, 60_000_005].map((seed) => own(seed, warm(25)));
    expect(known(stubborn).healthy.mean[vent]! - plain.healthy.mean[vent]!).toBeLessThan(6);
  });

  it('leave the signature in the widths of the kind, so that it compares with those of vehicles nobody knows', () => {
    const at = signatureDimensions.indexOf('vent-temperature');
    const width = (input: EngineInput) => {
      const { predictions, signature } = diagnose(input);
      const { seen, healthy } = predictions.find((p) => p.observation === 'vent-temperature')!;
      return (seen! - healthy!) / signature.values[at]!;
    };
    const input = { ...model.input, readings: model.input.readings.map(warm(9)) };
    expect(width({ ...input, ownSound: [own(60_000_002)] })).toBeCloseTo(width(input), 2);
  });
});

describe('explanation by brute simulation', () => {
  it('agrees with the fitted path on a plain case and says what each fault would read', () => {
    const drawn = drawCase(60_000_101, 'temperatures', { fault: { code: 'condenser-dirt', size: 0.9 } }) as Case;
    const forced = explainBySimulation(drawn.input, 24);
    expect(forced.codes.reduce((sum, c) => sum + c.probability, 0)).toBeCloseTo(1, 9);
    const fitted = diagnose(drawn.input).faults;
    const three = forced.codes.slice(0, 3).map((c) => c.code);
    expect(three).toContain(fitted[0]!.code);
    expect(forced.solves).toBeGreaterThan(500);
    expect(forced.predictions.length).toBeGreaterThan(20);
    for (const p of forced.predictions) expect(Number.isFinite(p.mean) && p.sigma >= 0).toBe(true);
    expect(explainBySimulation(drawn.input, 24)).toEqual(forced);
  });
});
