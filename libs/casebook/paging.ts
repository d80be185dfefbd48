import { createHash } from 'node:crypto';
import { DomainError, type Page, type PageInput } from '#libs/contracts/index.js';

/**
 * Cursors of keyset lists. They hold the exact sort values as the database wrote them (microseconds, as text) and a hash
 * of the filter, and carry a version, so that a cursor of another list or of an older format is refused, not misread.
 */
const VERSION = 1;

export class BadCursor extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'paging/bad_cursor';
  constructor(reason: string) {
    super(`The cursor cannot be used: ${reason}. Start again without it.`, [
      {
        pointer: 'after',
        code: 'paging/bad_cursor',
        detail: reason,
        remedy: 'Leave "after" out, and follow "next" of the answer with the same filter.',
      },
    ]);
  }
}

/** Hashes of filters asked about before: most lists are asked for with the same few. */
const hashes = new Map<string, string>();
const MAX_HASHES = 500;

export function filterHash(filter: object): string {
  const entries = Object.entries(filter)
    .filter(([, value]) => value !== undefined)
    .sort(([a], [b]) => (a < b ? -1 : 1));
  const text = JSON.stringify(entries);
  let hash = hashes.get(text);
  if (hash === undefined) {
    hash = createHash('sha256').update(text).digest('base64url').slice(0, 12);
    if (hashes.size >= MAX_HASHES) hashes.delete(hashes.keys().next().value!);
    hashes.set(text, hash);
  }
  return hash;
}

export function encodeCursor(keys: readonly string[], hash: string): string {
  return Buffer.from(JSON.stringify([VERSION, hash, ...keys])).toString('base64url');
}

/** @throws BadCursor when the cursor is damaged, of another version, or belongs to another filter. */
export function decodeCursor(cursor: string | undefined, hash: string, keyCount: number): readonly string[] | null {
  if (cursor === undefined) return null;
  let parts: unknown;
  try {
    parts = JSON.parse(Buffer.from(cursor, 'base64url').toString('utf8'));
  } catch {
    throw new BadCursor('it is damaged');
  }
  if (!Array.isArray(parts) || parts.length !== keyCount + 2 || !parts.slice(1).every((part) => typeof part === 'string')) {
    throw new BadCursor('it is damaged');
  }
  if (parts[0] !== VERSION) throw new BadCursor('it is of another version');
  if (parts[1] !== hash) throw new BadCursor('it belongs to another filter');
  return parts.slice(2) as string[];
}

/** How the cursor of each row of a page is made, for those who ask: most never do. */
const cursorMakers = new WeakMap<object, () => string[]>();

/** Cursors of the rows of a page that `toPage` made, in order. */
export function cursorsOf(page: Page<unknown>): string[] {
  const make = cursorMakers.get(page);
  if (!make) throw new Error('this page was changed after it was cut: its rows have no cursors');
  return make();
}

/** Cuts `first + 1` rows to a page and makes the cursor of what follows. */
export function toPage<T>(rows: T[], first: number, hash: string, keysOf: (row: T) => readonly string[]): Page<T> {
  const data = rows.slice(0, first);
  const last = data.at(-1);
  const page = { data, next: rows.length > first && last !== undefined ? encodeCursor(keysOf(last), hash) : null };
  cursorMakers.set(page, () => data.map((row) => encodeCursor(keysOf(row), hash)));
  return page;
}

/** Every row of a list, page by page: a slow reader holds up nobody, and each row is as it was when its page was read. */
export async function* everyRow<T>(list: (page: PageInput) => Promise<Page<T>>): AsyncGenerator<T> {
  let after: string | undefined;
  do {
    const page: Page<T> = await list({ first: 100, after });
    yield* page.data;
    after = page.next ?? undefined;
  } while (after !== undefined);
}

export const DEFAULT_PAGE = 20;
