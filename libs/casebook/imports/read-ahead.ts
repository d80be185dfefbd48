import { setImmediate as turn } from 'node:timers/promises';
import type { Tx } from '#libs/database/index.js';
import { findChunk, type RunRow } from './imports.queries.js';
import { judgeEntry } from './judge.js';
import { unsealEntries } from './sealed-rows.js';
import { readLine } from './store-line.js';
import type { RunJudging } from './store-row.js';
import type { JudgedRow } from './store-rows.js';

/** Rows judged between two looks at what the database has answered. */
const SLICE_ROWS = 5;

/** Judges the rows of the next chunk while the database stores those of the one at hand: half of an import is reading and judging. */
export class ReadAhead {
  private next: { readonly chunk: number; readonly rows: Promise<JudgedRow[]> } | null = null;

  /** The rows of the chunk whose turn it is. The next one is read now and judged until it is asked for. */
  async take(tx: Tx, orgId: string, run: RunRow, judging: RunJudging): Promise<JudgedRow[]> {
    const ready = this.next?.chunk === run.nextChunk ? this.next.rows : judged(await sealedChunk(tx, orgId, run, run.nextChunk), judging);
    this.next = null;
    const rows = await ready;
    const chunk = run.nextChunk + 1;
    if (chunk < run.chunks) {
      const coming = judged(await sealedChunk(tx, orgId, run, chunk), judging);
      // Whoever takes it hears of a failure; nobody may.
      coming.catch(() => {});
      this.next = { chunk, rows: coming };
    }
    return rows;
  }
}

async function sealedChunk(tx: Tx, orgId: string, run: RunRow, chunk: number): Promise<Buffer> {
  const sealed = await findChunk(tx, orgId, run.id, chunk);
  if (!sealed) throw new Error(`import ${run.id} has no chunk ${chunk}`);
  return sealed;
}

async function judged(sealed: Buffer, judging: RunJudging): Promise<JudgedRow[]> {
  const rows: JudgedRow[] = [];
  for (const entry of unsealEntries(sealed, judging.rowKey)) {
    if (rows.length % SLICE_ROWS === SLICE_ROWS - 1) await turn();
    const one = judgeEntry(entry, judging);
    rows.push({ entry, judged: one, read: one.ok ? readLine(one.line) : null });
  }
  return rows;
}
