import { NoConvergence } from '#libs/numeric/index.js';
import type { Conditions, PlatformHardware } from './hardware.js';
import { chargeOutsideVessel } from './solve-system.js';

/** How far the charge may move before running readings do, as shares of the specified charge. */
export interface Reserve {
  readonly below: number;
  readonly above: number;
}

/** source   plateaus of the reference computation: 75-120 % of charge with a receiver, 65-130 % with an accumulator. */
export const TYPICAL_RESERVE: Readonly<Record<'receiver' | 'accumulator', Reserve>> = {
  receiver: { below: 0.25, above: 0.2 },
  accumulator: { below: 0.35, above: 0.3 },
};

/** A hot day with recirculated air, 1,500 compressor rpm: where the charge is specified. */
export const DESIGN_CONDITIONS: Conditions = Object.freeze({
  condenserAirTemperature: 308.15,
  evaporatorAirTemperature: 300.15,
  evaporatorAirHumidity: 0.5,
  barometricPressure: 101_325,
  compressorSpeed: 25,
  condenserAir: 'fan',
  blower: 1,
});
const ELECTRIC_DESIGN_SPEED = 80;

/**
 * Fits charge and vessel to each other so that the vessel is just empty at (1 - below) of the charge and just full at (1 + above), at design
 * conditions:
 *
 *   M_elsewhere + V rhoV = (1 - below) charge,     V usable (rhoL - rhoV) = (below + above) charge
 *
 * charge   specified charge, kg: all volumes are scaled to it; without it, volumes stay and the charge follows
 * NoConvergence when the sound system has no steady state at design conditions.
 */
export function fitCharge(parts: PlatformHardware, reserve: Reserve, charge?: number): PlatformHardware {
  const conditions =
    parts.compressor.kind === 'electric' ? { ...DESIGN_CONDITIONS, compressorSpeed: ELECTRIC_DESIGN_SPEED } : DESIGN_CONDITIONS;
  const held = chargeOutsideVessel(parts, conditions);
  if (!held) throw new NoConvergence('design point', 0, Number.NaN);
  const { mass, rhoL, rhoV } = held;
  const usable = parts.vessel.usableShare;
  // Vessel volume of one kilogram of charge.
  const perCharge = (reserve.below + reserve.above) / (usable * (rhoL - rhoV));
  const own = mass / (1 - reserve.below - perCharge * rhoV);
  const scale = charge === undefined ? 1 : charge / own;
  const total = own * scale;
  return Object.freeze({
    ...parts,
    charge: total,
    vessel: { ...parts.vessel, volume: perCharge * total },
    condenser: { ...parts.condenser, volume: parts.condenser.volume * scale },
    evaporator: { ...parts.evaporator, volume: parts.evaporator.volume * scale },
    secondEvaporator: parts.secondEvaporator && { ...parts.secondEvaporator, volume: parts.secondEvaporator.volume * scale },
    compressor: { ...parts.compressor, volume: parts.compressor.volume * scale },
    dischargeLine: { ...parts.dischargeLine, volume: parts.dischargeLine.volume * scale },
    liquidLine: { ...parts.liquidLine, volume: parts.liquidLine.volume * scale },
    suctionLine: { ...parts.suctionLine, volume: parts.suctionLine.volume * scale },
  });
}
