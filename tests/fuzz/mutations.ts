import { ODD_NUMBERS, ODD_TEXTS } from './odd-values.js';
import type { Random } from './random.js';

/** Pieces that mean something to a parser of JSON, CSV, gzip or multipart. */
const TOKENS = [
  ...['"', '\\', '{', '}', '[', ']', ':', ',', ';', '\t', '\n', '\r', '\r\n', '\u0000', '\ufeff', '\ud83d\ude00', '//', '/*', '-', '+'],
  ...['null', 'true', 'NaN', 'Infinity', '1e999', '-0', '"__proto__":{"a":1},', '"constructor":1,', '\\ud800', '\\u0000', '--', '%00'],
].map((token) => Buffer.from(token));
const BYTES = [0x00, 0x7f, 0x80, 0xbf, 0xc0, 0xfe, 0xff, 0x1f, 0x8b];

/** One to four changes to the bytes: flipped, dropped, doubled, exchanged, cut off, or with something put in between. */
export function mutatedBytes(body: Buffer, random: Random): Buffer {
  let bytes = body;
  for (let changes = 1 + random.below(4); changes > 0; changes--) {
    const at = random.below(bytes.length + 1);
    const end = Math.min(bytes.length, at + 1 + random.below(random.below(3) === 0 ? 200 : 8));
    const [before, piece, after] = [bytes.subarray(0, at), bytes.subarray(at, end), bytes.subarray(end)];
    switch (random.below(8)) {
      case 0:
        bytes = Buffer.concat([before, after]);
        break;
      case 1:
        bytes = Buffer.concat([before, piece, piece, after]);
        break;
      case 2:
        bytes = Buffer.concat([before, Buffer.from([random.below(256)]), after]);
        break;
      case 3:
        bytes = Buffer.concat([before, Buffer.from([random.pick(BYTES)]), piece, after]);
        break;
      case 4:
        bytes = Buffer.concat([before, random.pick(TOKENS), piece, after]);
        break;
      case 5:
        bytes = Buffer.concat([before, random.pick(TOKENS), after]);
        break;
      case 6:
        bytes = Buffer.from(before);
        break;
      default: {
        const other = random.below(bytes.length + 1);
        bytes = Buffer.concat([before, bytes.subarray(other, other + piece.length), after]);
      }
    }
  }
  return bytes;
}

type Json = null | boolean | number | string | Json[] | { [name: string]: Json };

/** The JSON text of a value in which one place holds something else: another type, an odd text or number, a name too many or too few. */
export function mutatedJson(value: unknown, random: Random): string {
  const places: { replace(text: string): void }[] = [];
  const marks: string[] = [];
  // Each place is written as a mark first, so that raw tokens that no value can hold (1e999, doubled names) can take it.
  const write = (inner: Json): string => {
    const mark = `@${places.length}@`;
    let text = '';
    const slot = places.length;
    marks.push(mark);
    places.push({ replace: (other) => (texts[slot] = other) });
    if (Array.isArray(inner)) text = `[${inner.map(write).join()}]`;
    else if (typeof inner === 'object' && inner !== null)
      text = `{${Object.entries(inner)
        .map(([name, one]) => `${JSON.stringify(name)}:${write(one)}`)
        .join()}}`;
    else text = JSON.stringify(inner);
    texts[slot] = text;
    return mark;
  };
  const texts: string[] = [];
  write(value as Json);
  const resolved = (text: string): string => text.replace(/@(\d+)@/g, (_, slot: string) => resolved(texts[Number(slot)]!));
  const slot = random.below(places.length);
  const own = texts[slot]!;
  const raw: (() => string)[] = [
    () => random.pick(ODD_NUMBERS),
    () => JSON.stringify(random.pick(ODD_TEXTS)),
    () => random.pick(['null', 'true', 'false', '[]', '{}', '""', '" "', '[[]]', '{"":0}', '[null]']),
    () => `[${own},${own}]`,
    () => `{"value":${own}}`,
    () => '['.repeat(70) + own + ']'.repeat(70),
    () => JSON.stringify('x'.repeat(random.pick([61, 121, 501, 4_001, 70_000]))),
    () => `[${Array.from({ length: random.pick([401, 1_500]) }, () => (own.includes('@') && own.length > 40 ? '0' : own)).join()}]`,
    () =>
      own.startsWith('{')
        ? `{"__proto__":{"polluted":true},"constructor":{"prototype":{"polluted":true}}${own === '{}' ? '' : ','}${own.slice(1)}`
        : '"__proto__"',
    () => (own.startsWith('{') && own !== '{}' ? `{${own.slice(1, -1)},${own.slice(1)}` : 'undefined'),
    () => (own.startsWith('{') && own !== '{}' ? `{${own.slice(1, -1).split(',').slice(1).join()}}` : '0'),
  ];
  places[slot]!.replace(random.pick(raw)());
  return resolved('@0@');
}
