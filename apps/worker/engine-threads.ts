import { availableParallelism } from 'node:os';
import { Piscina } from 'piscina';
import type { HistoryAnswer, HistoryBatch, JudgeHistory } from '#libs/casebook/index.js';

const IDLE_MS = 30_000;

export interface EngineThreads {
  readonly judge: JudgeHistory;
  close(): Promise<void>;
}

/** Threads that judge history, started when there is something to judge and gone when there is not. As many as the machine has processors, or `COOLBACK_ENGINE_THREADS`. */
export function engineThreads(count = Number(process.env['COOLBACK_ENGINE_THREADS'] ?? '') || availableParallelism()): EngineThreads {
  let pool: Piscina<HistoryBatch, (HistoryAnswer | null)[]> | null = null;
  return {
    judge: (batch) => {
      pool ??= new Piscina<HistoryBatch, (HistoryAnswer | null)[]>({
        filename: new URL('./engine-thread.js', import.meta.url).href,
        name: 'judge',
        minThreads: 0,
        maxThreads: count,
        idleTimeout: IDLE_MS,
      });
      return pool.run(batch);
    },
    close: async () => {
      await pool?.destroy();
    },
  };
}
