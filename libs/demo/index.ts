export { loadRegion } from './load.js';
export { DEMO_SEED, firstDayOf, PLANNED_CASES, planRegion } from './plan.js';
export { DEBRIS_PLATFORMS, DEMO_ORGANISATION, DEMO_PLATFORMS, DEMO_SHOPS, EMERGING, WEAK_SHOP } from './region.js';

/** The region is open to visitors once this many cases are in; the worker loads the rest. */
export const FIRST_CASES = 1_000;
