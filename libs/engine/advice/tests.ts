import { HIGH_SIDE_TESTS } from './high-side-tests.js';
import { OTHER_TESTS } from './other-tests.js';
import type { TestKind } from './test-kind.js';

/** Every test known to the engine. */
export const TESTS: readonly TestKind[] = [...HIGH_SIDE_TESTS, ...OTHER_TESTS];
