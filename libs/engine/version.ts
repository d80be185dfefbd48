import { CALIBRATION_VERSION } from './calibration/current.js';

/** Version of the engine's answer, with the calibration it answers by; every stored diagnosis names it. */
export const ENGINE_VERSION = `engine-9+${CALIBRATION_VERSION}`;
