import { z } from 'zod';
import { Id, Instant } from './text.js';

const fields = {
  sameVisitDays: z
    .int()
    .min(0)
    .max(14)
    .describe(
      'Another order at the same shop within so many days is the same visit and no return; 0: only the same order is. A car that comes back to another shop has always come back.',
    ),
  lookBackDays: z
    .int()
    .min(30)
    .max(3650)
    .nullable()
    .describe(
      'A visit later than so many days after a repair is no return of it: the repair is followed for so long and no longer; null: without end',
    ),
  presenceDays: z
    .int()
    .min(0)
    .max(730)
    .describe(
      'A vehicle counts as still around, without having come back, for so many days after it was last seen; one that comes back after longer was lost before, and is no return',
    ),
};

export const NewOutcomeRules = z.strictObject(fields).meta({
  id: 'NewOutcomeRules',
  description: 'How returns are told apart, for every figure of the organisation. Episodes are derived again when it changes.',
});
export type NewOutcomeRules = z.infer<typeof NewOutcomeRules>;

export const OutcomeRules = z
  .strictObject({
    ...fields,
    version: z.int().min(0).describe('0: nothing was set; the common values'),
    setAt: Instant.nullable(),
    pendingTaskId: Id.nullable().describe('The task that derives episodes again; until it is done some still stand by earlier rules'),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'OutcomeRules', description: 'How returns are told apart in every figure of the organisation.' });
export type OutcomeRules = z.infer<typeof OutcomeRules>;
