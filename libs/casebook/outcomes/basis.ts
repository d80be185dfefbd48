import { createHash } from 'node:crypto';
import { climateParts } from './clocks.js';
import { rulesNumber } from './linking.service.js';
import type { StandingRules } from './outcome-rules.js';
import type { BoardPlatform, ShopClimate } from './outcomes.queries.js';

/** A fingerprint of what stored figures hang on besides the episodes: those of another are no longer true. `version` is that of the code that makes them. */
export function basisOf(
  version: number,
  parts: { readonly platforms: readonly BoardPlatform[]; readonly climates: readonly ShopClimate[]; readonly rules: StandingRules },
): string {
  const platforms = [...parts.platforms].sort((a, b) => (a.id < b.id ? -1 : 1)).map(({ id, family }) => [id, family]);
  const whole = [version, rulesNumber(parts.rules), platforms, climateParts(parts.climates)];
  return createHash('sha256').update(JSON.stringify(whole)).digest('hex');
}

/** Beside figures of another basis. */
export const STALE =
  'Shops’ climates, platforms or rules have changed since these were made. They are being made anew: ask again in some minutes.';
