import { createHash } from 'node:crypto';

/** SHA-256 of a JSON value with object keys in order: the same content gives the same hash whatever the order of its keys. */
export function fingerprint(value: unknown): Buffer {
  return createHash('sha256').update(canonical(value)).digest();
}

function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map((item) => canonical(item)).join(',')}]`;
  if (value !== null && typeof value === 'object') {
    const parts = Object.entries(value)
      .filter(([, item]) => item !== undefined)
      .sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0))
      .map(([key, item]) => `${JSON.stringify(key)}:${canonical(item)}`);
    return `{${parts.join(',')}}`;
  }
  return JSON.stringify(value) ?? 'null';
}
