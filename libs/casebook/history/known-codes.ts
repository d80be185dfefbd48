import { HypothesisCode } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { codedLots } from './history.queries.js';

/** Cases of a layout that are looked through of each leading fault; the newest of more. */
const LOOKED_THROUGH = 100_000;
/** Fewer are read anew in every question. */
const WORTH_KEEPING = 20_000;
/** Kept codes are those of so long ago at most; what was opened since is read anew in every question. */
const KEPT_MS = 300_000;
const MOST_BYTES = 128 * 1024 * 1024;

interface Kept {
  readonly lots: readonly Buffer[];
  readonly bytes: number;
  readonly newest: string;
  readonly readAtMs: number;
}

/**
 * The codes of all cases of a layout and signature version. Of a large region they are kept in memory for some minutes: a third of a million are nine
 * megabytes, which are looked through in less time than they take to read. A case that was amended or filed late meanwhile is looked through by its old
 * code or not yet; whatever is picked is compared by its values as they are stored.
 */
export class KnownCodes {
  private readonly kept = new Map<string, Kept>();

  async of(tx: Tx, orgId: string, asked: { readonly version: string; readonly layout: string }, now: Date): Promise<readonly Buffer[]> {
    const question = { ...asked, faults: HypothesisCode.options };
    const key = JSON.stringify([orgId, asked.version, asked.layout]);
    const known = this.kept.get(key);
    if (known && Math.abs(now.getTime() - known.readAtMs) < KEPT_MS) {
      // The one that was used last is forgotten last.
      this.kept.delete(key);
      this.kept.set(key, known);
      return [...known.lots, ...lotsOf(await codedLots(tx, orgId, question, known.newest, LOOKED_THROUGH))];
    }
    const read = await codedLots(tx, orgId, question, null, LOOKED_THROUGH);
    const lots = lotsOf(read);
    const bytes = lots.reduce((sum, { length }) => sum + length, 0);
    this.kept.delete(key);
    if (bytes >= WORTH_KEEPING * LEAST_BYTES) {
      const newest = read.reduce((latest, lot) => (lot.newest > latest ? lot.newest : latest), '');
      this.kept.set(key, { lots, bytes, newest, readAtMs: now.getTime() });
      this.forgetOldest();
    }
    return lots;
  }

  private forgetOldest(): void {
    let held = [...this.kept.values()].reduce((sum, { bytes }) => sum + bytes, 0);
    for (const [key, { bytes }] of this.kept) {
      if (held <= MOST_BYTES) return;
      this.kept.delete(key);
      held -= bytes;
    }
  }
}

/** An identifier and some bytes of a code. */
const LEAST_BYTES = 24;

const lotsOf = (read: Awaited<ReturnType<typeof codedLots>>) => read.map(({ packed }) => Buffer.from(packed, 'base64'));
