import { hash, randomBytes, timingSafeEqual } from 'node:crypto';
import { crc32 } from 'node:zlib';

/**
 * Keys look like `cbk_<organisation>_<secret><checksum>`: the visible part carries the organisation, so that even
 * looking a key up happens under its tenant; the checksum lets scanners and typing mistakes be told from wrong keys
 * without asking the database. The secret has 160 random bits; only its SHA-256 is stored.
 */
/** `cbk` keys; `cbs` secrets of console sessions, which travel in a cookie. */
type Prefix = 'cbk' | 'cbs';
const ALPHABET = '0123456789abcdefghjkmnpqrstvwxyz';
const PATTERN = /^(cbk|cbs)_([0-9a-f]{32})_([0-9a-hjkmnp-tv-z]{32})([0-9a-hjkmnp-tv-z]{7})$/;

function base32(bytes: Uint8Array): string {
  let bits = 0;
  let held = 0;
  let out = '';
  for (const byte of bytes) {
    held = (held << 8) | byte;
    bits += 8;
    while (bits >= 5) {
      bits -= 5;
      out += ALPHABET[(held >>> bits) & 31];
      held &= (1 << bits) - 1;
    }
  }
  return bits > 0 ? out + ALPHABET[(held << (5 - bits)) & 31] : out;
}

function checksum(body: string): string {
  const value = checksumOf(body);
  return base32(Uint8Array.of(value >>> 24, (value >>> 16) & 255, (value >>> 8) & 255, value & 255));
}

/** CRC-32 as in zlib; Node 20.15 and later carry it. */
function checksumOf(body: string): number {
  return crc32(body) >>> 0;
}

/** A new key for an organisation (UUID). */
export function issueKeySecret(orgId: string, prefix: Prefix = 'cbk'): string {
  const body = `${prefix}_${orgId.replaceAll('-', '')}_${base32(randomBytes(20))}`;
  return body + checksum(body);
}

/** The organisation a well-formed key names, or null when it is not one of ours. */
export function organisationOfKey(secret: string, prefix: Prefix = 'cbk'): string | null {
  const match = PATTERN.exec(secret);
  if (!match || match[1] !== prefix) return null;
  const body = secret.slice(0, -7);
  const given = Buffer.from(match[4]!);
  if (!timingSafeEqual(given, Buffer.from(checksum(body)))) return null;
  return match[2]!.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/** What is stored of a key. */
export function hashKeySecret(secret: string): Buffer {
  return hash('sha256', secret, 'buffer');
}
