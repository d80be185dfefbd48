import { z } from 'zod';
import { Id, Instant } from './text.js';

/** By how much sound vehicles of a platform differ from sound systems of their kind, in one quantity. */
export const ExpectationShift = z
  .strictObject({
    quantity: z.string().describe('Pressures stand as their saturation temperature'),
    unit: z.enum(['K', '1']).meta({ id: 'ShiftUnit' }),
    shift: z.number(),
    error: z.number().describe('One standard deviation of what is still unknown of it'),
  })
  .meta({ id: 'ExpectationShift' });

export const RelatedPlatforms = z
  .strictObject({
    platforms: z.int().describe('Those with known-good cases; the best read two dozen'),
    cases: z.int().describe('Their known-good cases, the newest dozen of each'),
    shops: z.int(),
  })
  .meta({ id: 'RelatedPlatforms', description: 'What other platforms of the same layout and kind of compressor showed.' });

export const PlatformExpectation = z
  .strictObject({
    platformId: Id,
    verdict: z.enum(['own', 'of-related', 'of-its-kind']).meta({
      id: 'ExpectationVerdict',
      description:
        'own: learned from known-good readings of this platform; of-related: from those of other platforms of its layout and compressor; of-its-kind: what sound systems of this layout and compressor show.',
    }),
    version: z.int().nullable().describe('Named by every answer judged by it; null when it has never been looked at'),
    engineVersion: z.string().nullable(),
    cases: z.int().describe('Known-good cases'),
    shops: z.int(),
    shopsNeeded: z.int(),
    related: RelatedPlatforms.nullable().describe(
      'Null where they were not used: fewer than three of them, or of their shops, have known-good cases',
    ),
    shifts: z.array(ExpectationShift),
    createdAt: Instant.nullable(),
    lookedAt: Instant.nullable(),
    message: z.string(),
    definitions: z.array(z.string()),
  })
  .meta({
    id: 'PlatformExpectation',
    description: 'What a sound vehicle of a platform is expected to show, and from whose readings that is known.',
  });
export type PlatformExpectation = z.infer<typeof PlatformExpectation>;
