import { constants, setPriority } from 'node:os';
import { type HistoryAnswer, type HistoryBatch, judgeBatch, watchedRecords, weighedPatterns } from '#libs/casebook/index.js';

// History can wait for whoever stands at a car: on Linux this lowers the thread alone.
if (process.platform === 'linux') setPriority(constants.priority.PRIORITY_BELOW_NORMAL);

/** What a thread of the pool does with a batch. */
export const judge = (batch: HistoryBatch): (HistoryAnswer | null)[] => judgeBatch(batch);

/** The two other long computations of the worker. */
export { watchedRecords, weighedPatterns };
