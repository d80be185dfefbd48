/** Names of the worker's jobs that derive again, or compare, whatever is derived. */
export const REBUILD_TASK = 'derived.rebuild';
export const CHECK_TASK = 'derived.check';
