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

const QUOTE = 34;
const COMMA = 44;
const MINUS = 45;
const ZERO = 48;
const NINE = 57;
const OPEN_LIST = 91;
const BACKSLASH = 92;
const CLOSE_LIST = 93;
const OPEN_OBJECT = 123;
const CLOSE_OBJECT = 125;
const NUMBER = /[0-9+\-.eE]+/y;

/** One pass over the tokens; syntax itself is left to JSON.parse. */
function scan(text: string): void {
  const levels: Level[] = [];
  const pointer = () =>
    levels.map((level) => `/${level.names ? level.name.replaceAll('~', '~0').replaceAll('/', '~1') : level.index}`).join('');
  let level: Level | undefined;
  for (let at = 0; at < text.length; at++) {
    const unit = text.charCodeAt(at);
    if (unit === QUOTE) {
      const end = endOfString(text, at);
      if (end < 0) throw new MalformedJson('a string is not closed.', pointer());
      const isName = level?.names && level.expectName;
      const raw = text.slice(at + 1, end);
      const value = raw.includes('\\') ? unescaped(text.slice(at, end + 1), pointer()) : raw;
      if (!value.isWellFormed()) throw new MalformedJson('a string holds a lone surrogate.', pointer());
      if (isName) {
        if (level!.names!.has(value)) {
          level!.name = value;
          throw new MalformedJson(`the name "${value.slice(0, 60)}" appears twice in one object.`, pointer());
        }
        level!.names!.add(value);
        level!.name = value;
        level!.expectName = false;
      }
      at = end;
    } else if (unit === OPEN_OBJECT || unit === OPEN_LIST) {
      if (levels.length >= MAX_DEPTH) throw new MalformedJson(`it is nested deeper than ${MAX_DEPTH} levels.`, pointer());
      level = { names: unit === OPEN_OBJECT ? new Set() : null, name: '', index: 0, expectName: true };
      levels.push(level);
    } else if (unit === CLOSE_OBJECT || unit === CLOSE_LIST) {
      levels.pop();
      level = levels.at(-1);
    } else if (unit === COMMA && level) {
      level.index++;
      level.expectName = true;
    } else if (unit === MINUS || (unit >= ZERO && unit <= NINE)) {
      NUMBER.lastIndex = at;
      const [number] = NUMBER.exec(text)!;
      // Shorter ones cannot leave the range of a double without an exponent.
      if (number.length > 300 || /e/i.test(number)) {
        if (!Number.isFinite(Number(number)))
          throw new MalformedJson(`the number ${number.slice(0, 30)} is outside the range of a double.`, pointer());
      }
      at += number.length - 1;
    }
  }
}

/** The closing quote: the next one that no odd number of backslashes stands before. */
function endOfString(text: string, start: number): number {
  for (let end = text.indexOf('"', start + 1); end >= 0; end = text.indexOf('"', end + 1)) {
    let before = end;
    while (text.charCodeAt(before - 1) === BACKSLASH) before--;
    if ((end - before) % 2 === 0) return end;
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
