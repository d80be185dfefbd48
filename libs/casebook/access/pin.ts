import { createHmac, randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

/**
 * PINs as they are stored: scrypt over a keyed hash. Ten thousand PINs are soon tried, so that the key of the organisation, which the database
 * does not hold in the clear, is what protects a stolen table; limits on tries protect the door (`sessions.service.ts`).
 * N = 2^14, r = 8, p = 5: OWASP, Password Storage Cheat Sheet (from memory).
 */
const COST = { N: 2 ** 14, r: 8, p: 5, maxmem: 64 * 1024 * 1024 };
const HASH_BYTES = 32;

export interface StoredPin {
  readonly salt: Buffer;
  readonly hash: Buffer;
}

export async function sealPin(pin: string, pinKey: Buffer): Promise<StoredPin> {
  const salt = randomBytes(16);
  return { salt, hash: await derive(pin, salt, pinKey) };
}

/** Takes as long for a person without a PIN: nobody learns from the clock who has one. */
export async function isPin(pin: string, stored: StoredPin | null, pinKey: Buffer): Promise<boolean> {
  const made = await derive(pin, stored?.salt ?? Buffer.alloc(16), pinKey);
  return timingSafeEqual(made, stored?.hash ?? Buffer.alloc(HASH_BYTES)) && stored !== null;
}

function derive(pin: string, salt: Buffer, pinKey: Buffer): Promise<Buffer> {
  const keyed = createHmac('sha256', pinKey).update(pin).digest();
  return new Promise((resolve, reject) => {
    scrypt(keyed, salt, HASH_BYTES, COST, (error, made) => (error ? reject(error) : resolve(made)));
  });
}

/** Whether a PIN is among the first that anybody tries: one digit throughout, or digits that follow each other. */
export function isWeakPin(pin: string): boolean {
  const steps = new Set([...pin].slice(1).map((digit, i) => (Number(digit) - Number(pin[i]) + 10) % 10));
  const [step] = steps;
  return steps.size === 1 && (step === 0 || step === 1 || step === 9);
}
