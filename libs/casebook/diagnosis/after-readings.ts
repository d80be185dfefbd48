import type { Evidence } from '#libs/contracts/index.js';
import type { EngineInput, EnginePlatform } from '#libs/engine/index.js';
import { engineInput } from './engine-input.js';
import type { KnownGoodRow } from './expectation.queries.js';

/** What was read after a repair, as the engine takes it. */
export function afterReadings(platform: EnginePlatform, { elevationM, openedAt, evidence }: KnownGoodRow): EngineInput {
  const stored = JSON.parse(evidence) as Evidence;
  return { ...engineInput(platform, elevationM, stored, { day: openedAt.slice(0, 10) }), stage: 'after' };
}
