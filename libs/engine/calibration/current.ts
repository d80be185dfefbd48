import type { CalibratedGroup } from './model.js';

/** The calibration the engine answers with; empty until one is built, and then every expectation is tabulated. */
export const CALIBRATION: ReadonlyMap<string, CalibratedGroup> = new Map();
