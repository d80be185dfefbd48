import type { Place } from './codes.js';

/**
 * Dimensions of a running circuit, in one vector. Pressures stand as their saturation temperature, K, so that superheat, subcooling and
 * pressure drops are differences of two elements and effects are nearly linear in weather; shares are ratios.
 */
export const DIM_NAMES = [
  'suction-saturation',
  'evaporator-saturation',
  'discharge-saturation',
  'condenser-inlet-saturation',
  'liquid-saturation',
  'late-liquid-saturation',
  'suction-temperature',
  'liquid-temperature',
  'late-liquid-temperature',
  'discharge-temperature',
  'vent-temperature',
  'core-temperature',
  'command',
  'duty',
  'speed-ratio',
] as const;
export const DIMS = DIM_NAMES.length;

export const L = 0; // saturation at the compressor inlet
export const E = 1; // saturation at the evaporator outlet or accumulator
export const D0 = 2; // saturation at the compressor outlet
export const D1 = 3; // saturation at the condenser inlet
export const Q1 = 4; // saturation at the condenser outlet, liquid line before the drier
export const Q2 = 5; // saturation after the drier
export const TS = 6;
export const TQ1 = 7;
export const TQ2 = 8;
export const TD = 9;
export const TV = 10;
export const TC = 11;
export const CMD = 12;
export const DUTY = 13;
export const SPD = 14;

export const PRESSURE_DIMS: readonly number[] = [L, E, D0, D1, Q1, Q2];
/** High-side pressure dimensions in flow order. */
export const HIGH_DIMS: readonly number[] = [D0, D1, Q1, Q2];

/** Dimension of a pressure at a fixed place, or -1. */
export function pressureDim(place: Place): number {
  switch (place) {
    case 'compressor-suction':
      return L;
    case 'evaporator-outlet':
    case 'evaporator-core':
    case 'accumulator':
    case 'valve-outlet':
      return E;
    case 'compressor-discharge':
      return D0;
    case 'condenser-inlet':
      return D1;
    case 'condenser-outlet':
    case 'liquid-line-before-drier':
      return Q1;
    case 'liquid-line-after-drier':
    case 'valve-inlet':
      return Q2;
    default:
      return -1;
  }
}

/** Dimension of a temperature at a fixed place, or -1. */
export function temperatureDim(place: Place): number {
  switch (place) {
    case 'compressor-suction':
    case 'evaporator-outlet':
    case 'accumulator':
      return TS;
    case 'condenser-outlet':
    case 'liquid-line-before-drier':
      return TQ1;
    case 'liquid-line-after-drier':
    case 'valve-inlet':
      return TQ2;
    case 'compressor-discharge':
    case 'condenser-inlet':
      return TD;
    case 'vent':
      return TV;
    case 'evaporator-core':
      return TC;
    default:
      return -1;
  }
}

/** Place a pressure dimension stands for, for words. */
export const DIM_PLACE: Readonly<Record<number, Place>> = {
  [L]: 'compressor-suction',
  [E]: 'evaporator-outlet',
  [D0]: 'compressor-discharge',
  [D1]: 'condenser-inlet',
  [Q1]: 'condenser-outlet',
  [Q2]: 'liquid-line-after-drier',
};
