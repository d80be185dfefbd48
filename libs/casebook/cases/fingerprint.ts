import { hash } from 'node:crypto';
import type { NewCase } from '#libs/contracts/index.js';

/** SHA-256 of a JSON value with object keys in order: the same content gives the same hash whatever the order of its keys. */
export function fingerprint(value: unknown): Buffer {
  return hash('sha256', canonical(value), 'buffer');
}

/** What an order says. How it is taken in is no part of that: the same order sent with another flag is still the same. */
export function caseHash({ backfill: _backfill, diagnose: _diagnose, ...content }: NewCase): Buffer {
  return fingerprint(content);
}

/** Written out by hand and not by map() and join(): every row of a file passes here. */
function canonical(value: unknown): string {
  if (typeof value === 'number' && Number.isFinite(value)) return `${value}`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value) ?? 'null';
  let text = '';
  if (Array.isArray(value)) {
    for (const item of value) text += text === '' ? canonical(item) : `,${canonical(item)}`;
    return `[${text}]`;
  }
  const fields = value as Record<string, unknown>;
  for (const key of Object.keys(fields).sort()) {
    const item = fields[key];
    if (item === undefined) continue;
    text += `${text === '' ? '' : ','}${JSON.stringify(key)}:${canonical(item)}`;
  }
  return `{${text}}`;
}
