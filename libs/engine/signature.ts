import type { Signature } from './result.js';

/** Version of the signature: its dimensions, their order and their calibration. Vectors of different versions are never compared. */
export const signatureVersion = 's5';

/** Dimensions of the signature in order. */
export const signatureDimensions: readonly string[] = [
  'low-pressure',
  'discharge-pressure',
  'liquid-pressure',
  'high-side-drop',
  'low-side-drop',
  'subcooling',
  'superheat',
  'discharge-temperature',
  'vent-temperature',
  'core-temperature',
  'condenser-fall',
  'liquid-line-fall',
  'command',
  'duty',
  'speed-shortfall',
  'rest-difference',
  'static-excess',
  'charge-share',
  'cartridge-step',
  'pass-step',
  'cold-rows',
  'air-share',
];

/** Standardised residuals by name in the order of the version, held to ±12 so that one wild reading cannot own a distance. */
export function signatureOf(residuals: ReadonlyMap<string, number>): Signature {
  return {
    version: signatureVersion,
    values: signatureDimensions.map((name) => {
      const z = residuals.get(name);
      return z === undefined || !Number.isFinite(z) ? null : Math.round(Math.min(Math.max(z, -12), 12) * 1000) / 1000;
    }),
  };
}
