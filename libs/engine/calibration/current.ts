import { ARTEFACT } from './artefact.js';
import { decode } from './codec.js';
import type { CalibratedGroup } from './model.js';

let held: ReadonlyMap<string, CalibratedGroup> | undefined;

/** Version and hash of the calibration the engine answers with. */
export const CALIBRATION_VERSION = `${ARTEFACT.version}-${ARTEFACT.hash}`;

/** The calibration the engine answers with, decoded once. */
export function currentCalibration(): ReadonlyMap<string, CalibratedGroup> {
  held ??= decode(ARTEFACT);
  return held;
}
