import { createHmac, randomBytes } from 'node:crypto';

const PREFIX = 'whsec_';

/** A new signing secret: 32 random bytes, written as Standard Webhooks 1.0.0 writes them. */
export const newSecret = (): string => PREFIX + randomBytes(32).toString('base64');

/**
 * The headers of one delivery (Standard Webhooks 1.0.0): HMAC-SHA256 over `id.timestamp.body`, in base64, one for each secret that counts at the
 * moment, so that a receiver may still hold the one before.
 */
export function signedHeaders(id: string, at: Date, body: string, secrets: readonly string[]): Record<string, string> {
  const timestamp = Math.floor(at.getTime() / 1000);
  const signatures = secrets.map((secret) => {
    const key = Buffer.from(secret.slice(PREFIX.length), 'base64');
    return `v1,${createHmac('sha256', key).update(`${id}.${timestamp}.${body}`).digest('base64')}`;
  });
  return { 'webhook-id': id, 'webhook-timestamp': String(timestamp), 'webhook-signature': signatures.join(' ') };
}
