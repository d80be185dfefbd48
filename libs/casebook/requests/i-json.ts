import { DomainError } from '#libs/contracts/index.js';

export class MalformedJson extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'request/malformed_json';
  constructor(detail: string, pointer = '') {
    super(`The body is not JSON this service can take: ${detail}`, [
      { pointer, code: 'request/malformed_json', detail, remedy: 'Send one JSON value (RFC 8259, I-JSON profile RFC 7493) in UTF-8.' },
    ]);
  }
}

const MAX_DEPTH = 64;

/**
 * Parses JSON under the I-JSON profile (RFC 7493): valid UTF-8, no duplicate names, no lone surrogates, no numbers outside
 * the range of a double, nesting at most 64. `JSON.parse` alone lets all of these through and changes what was sent without a word.
 * @throws MalformedJson naming the place as a JSON pointer.
 */
export function parseIJson(text: string): unknown {
  scan(text);
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new MalformedJson(`${(error as Error).message}.`);
  }
}

interface Level {
  readonly names: Set<string> | null;
  name: string;
  index: number;
  expectName: boolean;
}

/** One pass over the tokens; syntax itself is left to JSON.parse. */
function scan(text: string): void {
  const levels: Level[] = [];
  const pointer = () =>
    levels.map((level) => `/${level.names ? level.name.replaceAll('~', '~0').replaceAll('/', '~1') : level.index}`).join('');
  let at = 0;
  while (at < text.length) {
    const character = text[at]!;
    const level = levels.at(-1);
    if (character === '"') {
      const end = endOfString(text, at);
      if (end < 0) throw new MalformedJson('a string is not closed.', pointer());
      const raw = text.slice(at, end + 1);
      const value = raw.includes('\\') ? unescaped(raw, pointer()) : raw.slice(1, -1);
      if (!value.isWellFormed()) throw new MalformedJson('a string holds a lone surrogate.', pointer());
      if (level?.names && level.expectName) {
        if (level.names.has(value)) {
          level.name = value;
          throw new MalformedJson(`the name "${value.slice(0, 60)}" appears twice in one object.`, pointer());
        }
        level.names.add(value);
        level.name = value;
        level.expectName = false;
      }
      at = end + 1;
      continue;
    }
    if (character === '{' || character === '[') {
      if (levels.length >= MAX_DEPTH) throw new MalformedJson(`it is nested deeper than ${MAX_DEPTH} levels.`, pointer());
      levels.push({ names: character === '{' ? new Set() : null, name: '', index: 0, expectName: true });
    } else if (character === '}' || character === ']') {
      levels.pop();
    } else if (character === ',' && level) {
      level.index++;
      level.expectName = true;
    } else if (character === '-' || (character >= '0' && character <= '9')) {
      let end = at + 1;
      while (end < text.length && /[0-9+\-.eE]/.test(text[end]!)) end++;
      if (!Number.isFinite(Number(text.slice(at, end)))) {
        throw new MalformedJson(`the number ${text.slice(at, Math.min(end, at + 30))} is outside the range of a double.`, pointer());
      }
      at = end;
      continue;
    }
    at++;
  }
}

function endOfString(text: string, start: number): number {
  for (let at = start + 1; at < text.length; at++) {
    if (text[at] === '\\') at++;
    else if (text[at] === '"') return at;
  }
  return -1;
}

function unescaped(raw: string, pointer: string): string {
  try {
    return JSON.parse(raw) as string;
  } catch (error) {
    throw new MalformedJson(`${(error as Error).message}.`, pointer);
  }
}
