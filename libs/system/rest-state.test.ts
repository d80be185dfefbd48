import { describe, expect, it } from '@jest/globals';
import { fluid, saturationAtT, stateAtTP } from '#libs/refrigerant/index.js';
import { effectsOf } from './faults.js';
import { typicalHardware } from './platforms.js';
import { circuitVolume, restState } from './rest-state.js';

const hw = typicalHardware('valve-integral-receiver', 'fixed-clutch', 'R-134a');
const share = (chargeShare: number) => ({ ...effectsOf([], hw), chargeShare });

describe('rest state', () => {
  it('is saturation while liquid remains, whatever the charge', () => {
    const exact = saturationAtT(fluid('R-134a'), 298.15).p;
    for (const charge of [0.2, 0.5, 1, 1.4]) {
      const rest = restState(hw, 298.15, share(charge));
      expect(rest.phase).toBe('two-phase');
      // Tables: 0.02 %.
      expect(rest.pressure / exact).toBeCloseTo(1, 3);
    }
  });

  it('mass adds up to the charge', () => {
    const rest = restState(hw, 298.15, share(1));
    const sat = saturationAtT(fluid('R-134a'), 298.15);
    const liquid = (circuitVolume(hw) - rest.gasVolume) * sat.liquid.rho;
    expect((liquid + rest.gasVolume * sat.vapour.rho) / hw.charge).toBeCloseTo(1, 3);
    expect(rest.liquidShare).toBeCloseTo(liquid / hw.charge, 3);
  });

  it('falls below saturation only when the liquid is gone, to the pressure of the vapour alone', () => {
    const rest = restState(hw, 298.15, share(0.05));
    expect(rest.phase).toBe('vapour');
    expect(rest.pressure).toBeLessThan(rest.nominalSaturation);
    expect(stateAtTP(fluid('R-134a'), 298.15, rest.pressure).rho).toBeCloseTo((0.05 * hw.charge) / circuitVolume(hw), 2);
    expect(restState(hw, 298.15, share(0)).pressure).toBe(0);
  });

  it('is continuous where the last liquid goes', () => {
    let before = 0;
    for (let charge = 0.01; charge < 0.4; charge += 0.002) {
      const { pressure } = restState(hw, 298.15, share(charge));
      expect(pressure).toBeGreaterThanOrEqual(before);
      // The steepest stretch, vapour alone, is proportional to the charge.
      if (before > 0) expect(pressure - before).toBeLessThan(0.25e5);
      before = pressure;
    }
  });

  it('air adds m R T/V', () => {
    const effects = effectsOf([{ code: 'air-in-system', severity: 1 }], hw);
    const rest = restState(hw, 298.15, effects);
    const sound = restState(hw, 298.15);
    expect(rest.pressure - sound.pressure).toBeCloseTo((effects.airMass * 287.05 * 298.15) / rest.gasVolume, 6);
    expect(rest.pressure - sound.pressure).toBeGreaterThan(0.3e5);
  });

  it('a stranger shows its own saturation; R-1234yf and R-134a agree within 0.25 bar from 10 to 43 C', () => {
    for (let T = 283.15; T <= 316.15; T += 3) {
      const rest = restState(hw, T, effectsOf([{ code: 'wrong-refrigerant', severity: 1 }], hw));
      expect(Math.abs(rest.pressure - rest.nominalSaturation)).toBeLessThan(0.25e5);
    }
    const hydrocarbonLike = restState(hw, 298.15, effectsOf([{ code: 'wrong-refrigerant', severity: 1, fluid: 'R-152a' }], hw));
    expect(hydrocarbonLike.pressure).toBeLessThan(hydrocarbonLike.nominalSaturation);
  });

  it('an overfilled circuit is called liquid-full', () => {
    expect(restState(hw, 340, share(8)).phase).toBe('liquid-full');
  });

  it('refuses temperatures outside its range', () => {
    expect(() => restState(hw, 400)).toThrow('soak temperature');
    expect(() => restState(hw, Number.NaN)).toThrow('soak temperature');
  });
});
