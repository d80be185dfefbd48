import { z } from 'zod';
import { HYPOTHESIS_CODES } from '#libs/vocabulary/index.js';
import { Day, Id, Instant } from './text.js';

/** What stands first in an answer. */
export const LeadingAnswer = z.enum([...HYPOTHESIS_CODES, 'cannot-tell', 'failed']).meta({
  id: 'LeadingAnswer',
  description: 'A fault or a mistake of measurement; cannot-tell; failed: the engine could not read the stored evidence.',
});
export type LeadingAnswer = z.infer<typeof LeadingAnswer>;

export const RediagnosisRequest = z
  .strictObject({
    platformId: Id.optional(),
    shopId: Id.optional(),
    since: Day.optional().describe('Cases opened from this day on'),
    until: Day.optional().describe('Cases opened before this day'),
    again: z.boolean().optional().describe('Also cases this engine has answered already: what is known of proved causes may have grown'),
    undiagnosed: z.boolean().optional().describe('Also cases that were never diagnosed'),
  })
  .meta({
    id: 'RediagnosisRequest',
    description: 'Which of the stored cases to judge again. All that another engine answered, when nothing is said.',
  });
export type RediagnosisRequest = z.infer<typeof RediagnosisRequest>;

export const LeadingTransition = z
  .strictObject({ from: LeadingAnswer, to: LeadingAnswer, count: z.int() })
  .meta({ id: 'LeadingTransition' });
export const EngineVersionCount = z.strictObject({ engineVersion: z.string(), count: z.int() }).meta({ id: 'EngineVersionCount' });

export const Rediagnosis = z
  .strictObject({
    id: Id,
    engineVersion: z.string(),
    request: RediagnosisRequest,
    state: z.enum(['waiting', 'running', 'done', 'failed']).meta({ id: 'RediagnosisState' }),
    done: z.int(),
    total: z.int().describe('Counted when it begins; 0 before'),
    detail: z.string().nullable(),
    createdAt: Instant,
    updatedAt: Instant,
    compared: z.int().describe('Cases that had an answer before'),
    leadingChanged: z.int().describe('Another first answer than before'),
    nowAnswered: z.int().describe('Could not be told before, and is now'),
    nowCannotTell: z.int().describe('Was told before, and is not now'),
    moved: z.int().describe('Same first answer, its probability moved by 0.1 or more'),
    meanMoved: z.number().nullable().describe('Mean absolute movement of the probability where the first answer stayed'),
    failed: z.int().describe('Cases whose stored evidence the engine could not read; they keep their old answer'),
    from: z.array(EngineVersionCount).describe('Engines that had answered before'),
    transitions: z.array(LeadingTransition).describe('First answer before and now, most frequent first; those that stayed are among them'),
  })
  .meta({ id: 'Rediagnosis', description: 'History judged again by the present engine: how far, and what changed.' });
export type Rediagnosis = z.infer<typeof Rediagnosis>;

export const ChangeFilter = z
  .strictObject({ from: LeadingAnswer.optional(), to: LeadingAnswer.optional() })
  .meta({ id: 'RediagnosisChangeFilter' });
export type ChangeFilter = z.infer<typeof ChangeFilter>;

export const RediagnosisChange = z
  .strictObject({
    caseId: Id,
    shopId: Id,
    from: LeadingAnswer,
    fromProbability: z.number().nullable(),
    to: LeadingAnswer,
    toProbability: z.number().nullable(),
  })
  .meta({ id: 'RediagnosisChange', description: 'A case whose first answer changed, or its probability by 0.1 or more.' });
export type RediagnosisChange = z.infer<typeof RediagnosisChange>;
