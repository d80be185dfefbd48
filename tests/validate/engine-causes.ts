import type { Fault, Hardware } from './engine-vehicle.js';

/** What a fault does to the judging model. */
export interface Cause {
  condenserAir: number;
  blockedTubes: number;
  inside: number;
  cartridge: number;
  late: number;
  hose: number;
  suction: number;
  warmAir: number;
  inert: number;
  cabinAir: number;
  film: number;
  leak: number;
  friction: number;
  speed: number;
  stroke: number;
  opening: number;
  stuckOpen: number;
  missing: number;
  surplus: number;
}

export const bar = 1e5;

/** Fault laws of the judging model: sizes are its own, not the calibration's. */
export function causeOf(hw: Hardware, fault: Fault, speed: number): Cause {
  const z = fault.size;
  const c: Cause = {
    condenserAir: 1,
    blockedTubes: 0,
    inside: 0,
    cartridge: 0,
    late: 0,
    hose: 0,
    suction: 1,
    warmAir: 0,
    inert: 0,
    cabinAir: 1,
    film: 1,
    leak: 0,
    friction: 0,
    speed,
    stroke: 1,
    opening: 1,
    stuckOpen: 0,
    missing: 0,
    surplus: 0,
  };
  switch (fault.code) {
    case 'undercharge':
      c.missing = Math.max(z - hw.reserve, 0);
      break;
    case 'overcharge':
      c.surplus = Math.max(z * 0.6 - 0.1, 0);
      break;
    case 'air-in-system':
      c.inert = (0.5 + 2.8 * z) * bar;
      break;
    case 'condenser-dirt':
      c.condenserAir = 1 - 0.7 * z;
      break;
    case 'condenser-fan':
      c.condenserAir = 1 - 0.6 * z;
      c.warmAir = 9 * z;
      break;
    case 'condenser-passages':
      c.inside = (0.6 + 8.5 * z ** 1.3) * bar;
      c.blockedTubes = 0.5 * z;
      break;
    case 'filter-cartridge':
      c.cartridge = (0.6 + 6 * z ** 1.2) * bar;
      break;
    case 'liquid-line-restriction':
      c.late = (0.8 + 6 * z) * bar;
      break;
    case 'discharge-line-restriction':
      c.hose = (0.6 + 6 * z) * bar;
      break;
    case 'valve-restricted':
      c.opening = 0.75 - 0.55 * z;
      break;
    case 'valve-stuck-open':
      c.stuckOpen = 0.6 + 0.7 * z;
      break;
    case 'orifice-clogged':
      c.opening = 0.8 - 0.5 * z;
      break;
    case 'orifice-oversize':
      c.opening = 1.15 + 0.6 * z;
      break;
    case 'suction-restriction':
      c.suction = 3 + 24 * z;
      break;
    case 'compressor-leakage':
      c.leak = 0.1 + 0.55 * z;
      break;
    case 'compressor-wear':
      c.friction = 0.1 + 0.25 * z;
      break;
    case 'displacement-stuck-low':
      c.stroke = 0.5 - 0.35 * z;
      break;
    case 'clutch-slip':
      c.speed = speed * (0.85 - 0.55 * z);
      break;
    case 'electric-compressor-limited':
      c.speed = speed * (0.8 - 0.6 * z);
      break;
    case 'evaporator-airflow':
      c.cabinAir = 0.8 - 0.5 * z;
      break;
    case 'evaporator-fouling':
      c.film = 0.85 - 0.4 * z;
      break;
    default:
      break;
  }
  return c;
}
