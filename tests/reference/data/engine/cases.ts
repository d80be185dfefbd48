import { HIGH_SIDE_CASES } from './high-side-cases.js';
import { LOW_SIDE_CASES } from './low-side-cases.js';

export type { ReferenceCase } from './reference-case.js';

/** Cases written from public-domain manuals and the practice of the trade; the picture is theirs, the numbers are typical for it. */
export const REFERENCE_CASES = [...HIGH_SIDE_CASES, ...LOW_SIDE_CASES];
