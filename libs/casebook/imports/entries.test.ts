import { gzipSync } from 'node:zlib';
import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { DomainError } from '#libs/contracts/index.js';
import { type Entry, openFile, READ_LIMITS } from './entries.js';

/** The bytes in pieces of the given sizes, over and over. */
async function* inPieces(bytes: Buffer, sizes: readonly number[]): AsyncGenerator<Buffer> {
  for (let at = 0, i = 0; at < bytes.length; i++) {
    const size = Math.max(1, sizes[i % sizes.length] ?? bytes.length);
    yield bytes.subarray(at, at + size);
    at += size;
  }
}
async function read(
  bytes: Buffer,
  format: 'ndjson' | 'csv',
  sizes: readonly number[] = [bytes.length],
  gzip = false,
  limits = READ_LIMITS,
) {
  const entries: Entry[] = [];
  const file = await openFile({ bytes: inPieces(bytes, sizes), gzip }, format, { ignoreUnknownColumns: true }, limits);
  for await (const entry of file.entries) entries.push(entry);
  return entries;
}

describe('lines of NDJSON', () => {
  it('are the same however the bytes arrive', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(
          fc.jsonValue().map((value) => JSON.stringify(value)),
          { minLength: 1, maxLength: 12 },
        ),
        fc.constantFrom('\n', '\r\n'),
        fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 6 }),
        fc.boolean(),
        async (lines, end, sizes, gzip) => {
          const bytes = Buffer.from(lines.join(end));
          const entries = await read(gzip ? gzipSync(bytes) : bytes, 'ndjson', sizes, gzip);
          expect(entries).toEqual(lines.map((raw, i) => ({ line: i + 1, raw })));
        },
      ),
      { numRuns: 60 },
    );
  });

  it('that are too long or not UTF-8 are marked, and the others are read', async () => {
    const bytes = Buffer.concat([
      Buffer.from('{"a":1}\n'),
      Buffer.alloc(300, 0x61),
      Buffer.from('\n'),
      Buffer.from([0xff, 0x0a]),
      Buffer.from('{}'),
    ]);
    const entries = await read(bytes, 'ndjson', [7], false, { ...READ_LIMITS, maxLineBytes: 100 });
    expect(entries.map(({ line, fault }) => [line, fault])).toEqual([
      [1, undefined],
      [2, 'too-long'],
      [3, 'encoding'],
      [4, undefined],
    ]);
  });
});

describe('records of a delimited file', () => {
  it('keep their line, and those of one order stay together', async () => {
    const csv = 'reference,notes\nA,"two\nlines"\nA,more\nB,x\n\n,y\n,y\n';
    const entries = await read(Buffer.from(csv), 'csv', [3]);
    expect(entries.map(({ line, raw }) => [line, raw])).toEqual([
      [
        2,
        [
          ['A', 'two\nlines'],
          ['A', 'more'],
        ],
      ],
      [5, [['B', 'x']]],
      [7, [['', 'y']]],
      [8, [['', 'y']]],
    ]);
  });

  it('in Windows-1252 are read as what they say', async () => {
    const [entry] = await read(Buffer.from('reference,notes\nA,r\u00e9gulier\n', 'latin1'), 'csv');
    expect(entry!.raw).toEqual([['A', 'régulier']]);
  });
});

describe('whatever else is sent', () => {
  it('is a refusal or rows, never a fault of ours, and is never read beyond its caps', async () => {
    const kinds = fc.constantFrom('ndjson', 'csv') as fc.Arbitrary<'ndjson' | 'csv'>;
    const garbage = fc.oneof(
      fc.uint8Array({ maxLength: 400 }).map((bytes) => Buffer.from(bytes)),
      fc.string({ unit: 'binary', maxLength: 200 }).map((text) => Buffer.from(`reference,vin\n${text}`)),
      fc.uint8Array({ minLength: 1, maxLength: 200 }).map((bytes) => gzipSync(bytes).subarray(0, bytes.length)),
    );
    await fc.assert(
      fc.asyncProperty(garbage, kinds, fc.boolean(), async (bytes, format, gzip) => {
        try {
          for (const entry of await read(bytes, format, [11], gzip)) expect(entry.line).toBeGreaterThan(0);
        } catch (error) {
          if (!(error instanceof DomainError)) throw error;
        }
      }),
      { numRuns: 300 },
    );
  });

  it('as a bomb is let go early', async () => {
    let given = 0;
    async function* bomb() {
      const packed = gzipSync(Buffer.alloc(200_000_000));
      for (let at = 0; at < packed.length; at += 4_096) {
        given += 4_096;
        yield packed.subarray(at, at + 4_096);
      }
    }
    const file = await openFile({ bytes: bomb(), gzip: true }, 'ndjson', {});
    await expect(file.entries.next()).rejects.toThrow(/inflates/);
    expect(given).toBeLessThan(120_000);
  });
});
