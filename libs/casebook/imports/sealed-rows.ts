import { gunzipSync, gzipSync } from 'node:zlib';
import { seal, unseal } from '../vehicles/identity-hash.js';
import type { Entry } from './entries.js';

/** Entries hold what a shop wrote, owners' numbers included: they are kept only sealed (AES-256-GCM under the organisation's key). */
export const sealEntries = (entries: readonly Entry[], key: Buffer): Buffer => seal(gzipSync(JSON.stringify(entries), { level: 1 }), key);
export const unsealEntries = (sealed: Buffer, key: Buffer): Entry[] =>
  JSON.parse(gunzipSync(unseal(sealed, key)).toString('utf8')) as Entry[];
export const sealEntry = (entry: Entry, key: Buffer): Buffer => sealEntries([entry], key);
export const unsealEntry = (sealed: Buffer, key: Buffer): Entry => unsealEntries(sealed, key)[0]!;
