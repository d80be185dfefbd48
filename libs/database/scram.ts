import { createHash, createHmac, pbkdf2Sync, randomBytes } from 'node:crypto';

const ITERATIONS = 4096; // PostgreSQL's own default (scram_iterations)

/**
 * What PostgreSQL stores for a password: SCRAM-SHA-256$<iterations>:<salt>$<StoredKey>:<ServerKey> (RFC 5802 section 3, RFC 7677).
 * Made here so that no password travels, or lands in a server's log, inside a CREATE ROLE statement.
 * Passwords are taken as they are (no SASLprep): meant for generated ASCII ones.
 */
export function scramVerifier(password: string, salt: Buffer = randomBytes(16)): string {
  const salted = pbkdf2Sync(password, salt, ITERATIONS, 32, 'sha256');
  const keyed = (text: string): Buffer => createHmac('sha256', salted).update(text).digest();
  const storedKey = createHash('sha256').update(keyed('Client Key')).digest('base64');
  return `SCRAM-SHA-256$${ITERATIONS}:${salt.toString('base64')}$${storedKey}:${keyed('Server Key').toString('base64')}`;
}
