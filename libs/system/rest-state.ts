import { OutOfRange } from '#libs/numeric/index.js';
import type { FaultEffects } from './fault-effects.js';
import { NO_EFFECTS } from './fault-effects.js';
import type { PlatformHardware } from './hardware.js';
import { R_AIR } from './model.js';
import { propertiesOf } from './properties.js';

/** A circuit at rest, everything at one temperature. */
export interface RestState {
  /** The same everywhere once the sides have equalised, Pa absolute. */
  readonly pressure: number;
  /** What the refrigerant and the air contribute, Pa. */
  readonly refrigerantPressure: number;
  readonly airPressure: number;
  /** Saturation pressure of the SPECIFIED refrigerant at this temperature, Pa. */
  readonly nominalSaturation: number;
  /** Share of the refrigerant that is liquid, by mass. */
  readonly liquidShare: number;
  /** Gas space, m3. */
  readonly gasVolume: number;
  readonly phase: 'two-phase' | 'vapour' | 'liquid-full' | 'empty';
}

/** Inside volume of the whole circuit, m3. */
export function circuitVolume(hw: PlatformHardware): number {
  return (
    hw.compressor.volume +
    hw.condenser.volume +
    hw.vessel.volume +
    hw.evaporator.volume +
    (hw.secondEvaporator?.volume ?? 0) +
    hw.dischargeLine.volume +
    hw.liquidLine.volume +
    hw.suctionLine.volume
  );
}

/**
 * Static pressure after a soak: saturation at T as long as liquid remains, the pressure of the vapour alone when none does; air adds m R T/V of its
 * own in the gas space.
 *
 *   rho = M/V;  rhoV < rho < rhoL  two-phase: liquid volume share (rho - rhoV)/(rhoL - rhoV)
 *
 * T    K, one temperature for every part (a vehicle that has stood for hours out of the sun); OutOfRange outside 233 to 348 K
 * M    charge present, kg: 0 gives air alone
 * Oil dissolves some refrigerant and lowers the pressure a little; not modelled.
 */
export function restState(hw: PlatformHardware, T: number, effects: FaultEffects = NO_EFFECTS): RestState {
  if (!(T >= 233.15 && T <= 348.15)) throw new OutOfRange('soak temperature', T, 233.15, 348.15, 'K');
  const { tables, rho: density } = propertiesOf(effects.stranger ?? hw.refrigerant);
  const nominalSaturation = propertiesOf(hw.refrigerant).tables.pSat(T);
  const volume = circuitVolume(hw) - effects.oilShare * (hw.condenser.volume + hw.evaporator.volume);
  const charge = hw.charge * effects.chargeShare;
  const air = (gas: number): number => (effects.airMass * R_AIR * T) / gas;
  const done = (refrigerantPressure: number, liquidShare: number, gasVolume: number, phase: RestState['phase']): RestState => {
    const airPressure = air(Math.max(gasVolume, 1e-6));
    return {
      pressure: refrigerantPressure + airPressure,
      refrigerantPressure,
      airPressure,
      nominalSaturation,
      liquidShare,
      gasVolume,
      phase,
    };
  };
  if (!(charge > 0)) return done(0, 0, volume, 'empty');
  const pSat = tables.pSat(T);
  const rho = charge / volume;
  const rhoL = tables.rhoLiquid(pSat);
  const rhoV = tables.rhoVapour(pSat);
  if (rho >= rhoL) return done(pSat, 1, 1e-6, 'liquid-full');
  if (rho > rhoV) {
    const liquidVolume = (volume * (rho - rhoV)) / (rhoL - rhoV);
    return done(pSat, (liquidVolume * rhoL) / charge, volume - liquidVolume, 'two-phase');
  }
  // Superheated vapour: density rises with pressure, so bisection between nearly nothing and saturation. Below the tables, an ideal gas.
  const low = tables.pMin;
  const at = (p: number): number => density(p, p < pSat * (1 - 1e-9) ? tables.hPT(p, T) : tables.hVapour(p));
  const rhoLow = at(low);
  if (rho <= rhoLow) return done((low * rho) / rhoLow, 0, volume, 'vapour');
  let a = low;
  let b = pSat;
  for (let i = 0; i < 60 && b - a > 1e-3; i++) {
    const p = 0.5 * (a + b);
    if (at(p) < rho) a = p;
    else b = p;
  }
  return done(0.5 * (a + b), 0, volume, 'vapour');
}
