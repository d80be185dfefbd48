import type { ImportMapping } from '#libs/contracts/index.js';

/** How a delimited file is written. */
export interface Dialect {
  readonly delimiter: ',' | ';' | '\t' | '|';
  readonly encoding: 'utf-8' | 'windows-1252';
}

const DELIMITERS = [';', '\t', '|', ','] as const;

/**
 * Delimiter and encoding from the beginning of a file. The delimiter is the one that cuts the heading, outside quotes, into most parts; a
 * semicolon wins a tie, since commas stand in numbers too. What is not UTF-8 is read as Windows-1252, as spreadsheets of western Europe write it.
 */
export function detectDialect(head: Buffer, given?: ImportMapping['delimiter']): Dialect {
  const encoding = isUtf8(head) ? 'utf-8' : 'windows-1252';
  if (given !== undefined) return { delimiter: given === 'tab' ? '\t' : given, encoding };
  const heading = firstRecord(new TextDecoder(encoding).decode(head));
  let best: Dialect['delimiter'] = ',';
  let most = 0;
  for (const delimiter of DELIMITERS) {
    const count = partsOf(heading, delimiter);
    if (count > most) {
      most = count;
      best = delimiter;
    }
  }
  return { delimiter: best, encoding };
}

/** Whether the bytes begin well-formed UTF-8; a character cut off at the end is allowed. */
function isUtf8(head: Buffer): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(head, { stream: true });
    return true;
  } catch {
    return false;
  }
}

function firstRecord(text: string): string {
  let quoted = false;
  for (let i = 0; i < text.length; i++) {
    if (text[i] === '"') quoted = !quoted;
    else if (!quoted && (text[i] === '\n' || text[i] === '\r')) return text.slice(0, i);
  }
  return text;
}

function partsOf(record: string, delimiter: string): number {
  let quoted = false;
  let parts = 0;
  for (const character of record) {
    if (character === '"') quoted = !quoted;
    else if (!quoted && character === delimiter) parts++;
  }
  return parts;
}
