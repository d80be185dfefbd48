import type { Platform } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { isRelated, type KnownPlatform, RELATED_NEEDED } from '#libs/engine/index.js';
import { platformsOfLayout } from '../platforms/platforms.queries.js';
import { afterReadings } from './after-readings.js';
import { enginePlatform } from './engine-input.js';
import { type KnownGoodRow, knownGood } from './expectation.queries.js';

/** Of a large organisation these speak for the kind: more platforms, or more of one platform, would move the common part by less than it is known. */
const PLATFORMS_AT_MOST = 24;
const CASES_OF_EACH = 12;

/** Known-good readings of the organisation's other platforms of the same kind, the best read first. */
export async function relatedTo(tx: Tx, orgId: string, platform: Platform): Promise<KnownPlatform[]> {
  const related = (await platformsOfLayout(tx, orgId, platform.layout)).filter((one) => one.id !== platform.id && isRelated(one, platform));
  if (related.length < RELATED_NEEDED) return [];
  const read = new Map<string, KnownGoodRow[]>();
  const ids = related.map(({ id }) => id);
  for (const row of await knownGood(tx, orgId, ids, CASES_OF_EACH)) read.set(row.platformId, [...(read.get(row.platformId) ?? []), row]);
  return related
    .filter(({ id }) => read.has(id))
    .sort((a, b) => read.get(b.id)!.length - read.get(a.id)!.length || (a.id < b.id ? -1 : 1))
    .slice(0, PLATFORMS_AT_MOST)
    .map((one) => soundOf(one, read.get(one.id)!));
}

function soundOf(platform: Platform, rows: readonly KnownGoodRow[]): KnownPlatform {
  const described = enginePlatform(platform);
  return { platform: described, known: rows.map((row) => ({ shop: row.shopId, input: afterReadings(described, row) })) };
}
