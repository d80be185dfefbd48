import { brotliCompressSync, brotliDecompressSync, constants } from 'node:zlib';
import type { DiagnosisResult } from '#libs/contracts/index.js';

/**
 * An answer as it is stored. It is read whole or not at all (what is searched for has columns of its own), and it is most of what a case weighs: 10 kB of JSON
 * are 3.5 kB here, where the server's own compression leaves 4.1 kB and takes several times as long over it.
 *
 * First byte: `{` for JSON as earlier versions stored it, BROTLI for JSON behind it compressed by Brotli (RFC 7932).
 */
const BROTLI = 1;
const PLAIN = '{'.charCodeAt(0);
const FASTEST = { params: { [constants.BROTLI_PARAM_QUALITY]: 1 } };

export function packedAnswer(result: DiagnosisResult): Buffer {
  const packed = brotliCompressSync(JSON.stringify(result), FASTEST);
  const out = Buffer.allocUnsafeSlow(packed.length + 1);
  out[0] = BROTLI;
  packed.copy(out, 1);
  return out;
}

/** @throws Error for bytes that are neither of the two forms. */
export function unpackedAnswer(stored: Uint8Array): DiagnosisResult {
  const form = stored[0];
  if (form !== BROTLI && form !== PLAIN) throw new Error(`a stored answer begins with byte ${form}, which no version has written`);
  const bytes = Buffer.from(stored.buffer, stored.byteOffset, stored.byteLength);
  return JSON.parse((form === PLAIN ? bytes : brotliDecompressSync(bytes.subarray(1))).toString('utf8')) as DiagnosisResult;
}
