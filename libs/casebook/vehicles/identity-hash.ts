import { createCipheriv, createDecipheriv, createHmac, randomBytes } from 'node:crypto';

/**
 * Keyed hashes of VIN and plate. Each organisation has its own random key, stored sealed (AES-256-GCM) under the
 * server's secret: neither the database alone nor the secret alone lets anyone test a guessed VIN.
 */
const NONCE_BYTES = 12;
const TAG_BYTES = 16;

export function newSealedHashKey(serverSecret: Buffer): Buffer {
  return seal(randomBytes(32), serverSecret);
}

export function seal(plain: Buffer, serverSecret: Buffer): Buffer {
  const nonce = randomBytes(NONCE_BYTES);
  const cipher = createCipheriv('aes-256-gcm', serverSecret, nonce);
  const body = Buffer.concat([cipher.update(plain), cipher.final()]);
  return Buffer.concat([nonce, cipher.getAuthTag(), body]);
}

/** @throws Error when the secret is not the one the key was sealed under. */
export function unseal(sealed: Buffer, serverSecret: Buffer): Buffer {
  const decipher = createDecipheriv('aes-256-gcm', serverSecret, sealed.subarray(0, NONCE_BYTES));
  decipher.setAuthTag(sealed.subarray(NONCE_BYTES, NONCE_BYTES + TAG_BYTES));
  return Buffer.concat([decipher.update(sealed.subarray(NONCE_BYTES + TAG_BYTES)), decipher.final()]);
}

export function identityHash(kind: 'vin' | 'plate', value: string, hashKey: Buffer): Buffer {
  return createHmac('sha256', hashKey).update(`${kind}:${value}`).digest();
}

/** Plates are compared without blanks, hyphens and case. */
export function plainPlate(plate: string): string {
  return plate.toUpperCase().replace(/[\s\-.·]/g, '');
}
