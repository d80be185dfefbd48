import { createHash } from 'node:crypto';
import type { NewCase } from '#libs/contracts/index.js';

/** SHA-256 of a JSON value with object keys in order: the same content gives the same hash whatever the order of its keys. */
export function fingerprint(value: unknown): Buffer {
  return createHash('sha256').update(canonical(value)).digest();
}

/** What an order says. How it is taken in is no part of that: the same order sent with another flag is still the same. */
export function caseHash({ backfill: _backfill, diagnose: _diagnose, ...content }: NewCase): Buffer {
  return fingerprint(content);
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
