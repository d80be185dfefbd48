import { Piscina } from 'piscina';
import type { GroupElsewhere } from '#libs/casebook/index.js';
import { ServiceUnavailable } from '../http/transport.errors.js';
import type { TableReport, TableTask } from './table-thread.js';

/** The packs that were read stay so long after the last question. */
const IDLE_MS = 300_000;
/** A million repairs in 26,000 cells take some ten seconds on a busy machine. */
const LONGEST_MS = 60_000;
/** More would have to wait longer than anybody does. */
const MOST_WAITING = 8;

export interface TableThread {
  readonly group: GroupElsewhere;
  close(): Promise<void>;
}

/** One thread that tells the returns of large regions apart, one question after the other; started by the first. */
export function tableThread(url: string): TableThread {
  let pool: Piscina | null = null;
  return {
    group: async (actor, question, asOf) => {
      pool ??= new Piscina({
        filename: new URL('./table-thread.js', import.meta.url).href,
        minThreads: 0,
        maxThreads: 1,
        maxQueue: MOST_WAITING,
        idleTimeout: IDLE_MS,
      });
      const task: TableTask = { url, actor, question, asOf };
      let report: TableReport;
      try {
        report = await pool.run(task, { name: 'table', signal: AbortSignal.timeout(LONGEST_MS) });
      } catch (error) {
        const { name, message } = error as Error;
        if (name === 'AbortError' || message === 'Task queue is at limit') throw new ServiceUnavailable('overloaded', { cause: error });
        throw error;
      }
      if ('answer' in report) return report.answer;
      throw Object.assign(new Error(report.failed.message), report.failed);
    },
    close: async () => {
      await pool?.destroy();
    },
  };
}
