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

export const PlatformExpectation = z
  .strictObject({
    platformId: Id,
    verdict: z.enum(['own', 'of-its-kind']).meta({
      id: 'ExpectationVerdict',
      description:
        'own: learned from known-good readings of this platform; of-its-kind: what sound systems of this layout and compressor show.',
    }),
    version: z.int().nullable().describe('Named by every answer judged by it; null when it has never been looked at'),
    engineVersion: z.string().nullable(),
    cases: z.int().describe('Known-good cases'),
    shops: z.int(),
    shopsNeeded: z.int(),
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
