import { randomBytes, scryptSync } from 'node:crypto';
import { seal, unseal } from '../vehicles/identity-hash.js';

const SALT_BYTES = 16;
// 64 MiB and about a quarter of a second a guess.
const COST = { N: 2 ** 16, r: 8, p: 1, maxmem: 128 * 2 ** 20 };

/** The organisation's key under a passphrase (scrypt, AES-256-GCM), in base64: without it the hashes of an export tell nobody which car is which. */
export function underPassphrase(key: Buffer, passphrase: string): string {
  const salt = randomBytes(SALT_BYTES);
  return Buffer.concat([salt, seal(key, scryptSync(passphrase.normalize('NFC'), salt, 32, COST))]).toString('base64');
}

/** @throws Error when the passphrase is another one. */
export function fromPassphrase(text: string, passphrase: string): Buffer {
  const bytes = Buffer.from(text, 'base64');
  return unseal(bytes.subarray(SALT_BYTES), scryptSync(passphrase.normalize('NFC'), bytes.subarray(0, SALT_BYTES), 32, COST));
}
