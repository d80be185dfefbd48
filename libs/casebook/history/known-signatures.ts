import type { Tx } from '#libs/database/index.js';
import { signatureDimensions } from '#libs/engine/index.js';
import {
  changedSignatures,
  type SignatureKind,
  type SignaturePage,
  type SignatureRow,
  signaturePage,
  uncodedSignatures,
} from './history.queries.js';
import { rowBytesOf, SignatureShelf } from './signature-shelf.js';

/** Cases of a layout that are looked through; the newest of more. */
const LOOKED_THROUGH = 2_000_000;
/** Fewer are read anew in every question. */
export const WORTH_KEEPING = 20_000;
/** Read together: some milliseconds, after which others have their turn. */
const PAGE = 20_000;
/** After so many were stored since the first reading all are read anew. */
const MOST_ADDED = 50_000;
/** Of all organisations together: the layout that was asked about longest ago is forgotten first. */
const MOST_BYTES = 256 * 1024 * 1024;

interface Kept {
  readonly shelf: SignatureShelf;
  /** How many there were at first. */
  readonly read: number;
  /** Whatever a transaction of this number or a later one wrote may not be here yet. */
  since: string;
}

/**
 * The signatures of all cases of a layout and version. Of a large region they are kept in memory, 64 bytes a case; in every question the database says what was
 * written since, by this process or another one. Whatever is picked is compared by its values as they are stored then, so that a case that was voided or
 * belongs elsewhere by now is not shown.
 */
export class KnownSignatures {
  private readonly kept = new Map<string, Kept>();
  private readonly reading = new Map<string, Promise<Kept>>();

  constructor(private readonly worthKeeping: number = WORTH_KEEPING) {}

  async of(tx: Tx, orgId: string, kind: SignatureKind): Promise<SignatureShelf> {
    const key = JSON.stringify([orgId, kind.version, kind.layout]);
    const known = this.kept.get(key) ?? (await this.reading.get(key)?.catch(() => undefined));
    if (known && known.shelf.count - known.read <= MOST_ADDED) {
      const { since, rows } = await changedSignatures(tx, orgId, kind, known.since);
      for (const { caseId, values } of rows) known.shelf.put(caseId, values);
      known.since = since;
      this.keep(key, known);
      return known.shelf;
    }
    const read = readAll(tx, orgId, kind);
    this.reading.set(key, read);
    try {
      const all = await read;
      if (all.shelf.count >= this.worthKeeping) this.keep(key, all);
      else this.kept.delete(key);
      return all.shelf;
    } finally {
      this.reading.delete(key);
    }
  }

  /** Reads what the first question would have to wait for; nothing of a layout whose few cases are read in every question. */
  async warm(tx: Tx, orgId: string, kind: SignatureKind): Promise<void> {
    const { count } = await signaturePage(tx, orgId, kind, null, this.worthKeeping);
    if (count >= this.worthKeeping) await this.of(tx, orgId, kind);
  }

  private keep(key: string, one: Kept): void {
    // The one that was used last is forgotten last.
    this.kept.delete(key);
    this.kept.set(key, one);
    let held = [...this.kept.values()].reduce((sum, { shelf }) => sum + shelf.bytes, 0);
    for (const [other, { shelf }] of this.kept) {
      if (held <= MOST_BYTES) return;
      this.kept.delete(other);
      held -= shelf.bytes;
    }
  }
}

async function readAll(tx: Tx, orgId: string, kind: SignatureKind): Promise<Kept> {
  const shelf = new SignatureShelf(signatureDimensions.length);
  const rowBytes = rowBytesOf(signatureDimensions.length);
  const uncoded: SignatureRow[] = [];
  let since: string | null = null;
  for (let after: string | null = null; ; ) {
    const page: SignaturePage = await signaturePage(tx, orgId, kind, after, PAGE);
    // What was written while the pages were read is asked for again from the first page's moment on.
    since ??= page.since;
    const coded = Buffer.from(page.packed ?? '', 'base64');
    shelf.append(coded);
    if (coded.length < page.count * rowBytes) uncoded.push(...(await uncodedSignatures(tx, orgId, kind, page)));
    after = page.last;
    if (page.count < PAGE || shelf.count + uncoded.length >= LOOKED_THROUGH) break;
  }
  for (const { caseId, values } of uncoded) shelf.put(caseId, values);
  return { shelf, read: shelf.count, since };
}
