import { availableParallelism } from 'node:os';
import { Piscina } from 'piscina';
import type { JudgeHistory, LookAtWatches, WeighPatterns } from '#libs/casebook/index.js';

const IDLE_MS = 30_000;

export interface EngineThreads {
  readonly judge: JudgeHistory;
  readonly weighPatterns: WeighPatterns;
  readonly lookAtWatches: LookAtWatches;
  close(): Promise<void>;
}

/**
 * Threads for what takes long: judging history, weighing patterns, looking at watches. Started when there is something to do and gone when there is not. As many
 * as the machine has processors, or `COOLBACK_ENGINE_THREADS`.
 */
export function engineThreads(count = Number(process.env['COOLBACK_ENGINE_THREADS'] ?? '') || availableParallelism()): EngineThreads {
  let pool: Piscina | null = null;
  const run = (work: unknown, name: string) => {
    pool ??= new Piscina({
      filename: new URL('./engine-thread.js', import.meta.url).href,
      minThreads: 0,
      maxThreads: count,
      idleTimeout: IDLE_MS,
    });
    return pool.run(work, { name });
  };
  return {
    judge: (batch) => run(batch, 'judge'),
    weighPatterns: (facts) => run(facts, 'weighedPatterns'),
    lookAtWatches: (records) => run(records, 'watchedRecords'),
    close: async () => {
      await pool?.destroy();
    },
  };
}
