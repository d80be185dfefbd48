import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind } from './outcome.js';
import { Id, Instant } from './text.js';

export const PatternVerdict = z.enum(['replicated', 'discovered', 'not-shown', 'too-few']).meta({
  id: 'PatternVerdict',
  description:
    'replicated: found on one half of the vehicles and confirmed on the other. discovered: found, not confirmed. not-shown: weighed, nothing beyond chance. too-few: nothing can be told.',
});

export const PatternQuestion = z
  .strictObject({
    cause: FaultCode.optional().describe('The earlier fault'),
    effect: FaultCode.optional().describe('The later fault'),
    platformId: Id.optional().describe('Only pairs that were selected on this platform'),
    include: z
      .enum(['found', 'weighed', 'all'])
      .meta({ id: 'PatternInclude' })
      .optional()
      .describe('found (when left out): replicated and discovered. weighed: also those not shown. all: also those with too few events'),
  })
  .meta({ id: 'PatternQuestion' });
export type PatternQuestion = z.infer<typeof PatternQuestion>;

/** Exposed time against the rest, on one set of vehicles. */
export const PatternRatio = z
  .strictObject({
    observed: z.int().describe('Times the later fault came within the window after the earlier one'),
    expected: z.number().describe('Times it would have come by platform, age, season and climate alone'),
    ratio: z.number().nullable().describe('Mantel–Haenszel rate ratio'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    pValue: z.number().describe('One-sided, exact, mid-p'),
  })
  .meta({ id: 'PatternRatio' });
export type PatternRatio = z.infer<typeof PatternRatio>;

export const PatternPlatform = z
  .strictObject({
    platformId: Id,
    platformCode: z.string(),
    platformName: z.string(),
    selected: z.boolean().describe('Selected inside a selected pair, false discoveries controlled'),
    ratio: PatternRatio,
  })
  .meta({ id: 'PatternPlatform' });

export const PatternLag = z.strictObject({ fromDay: z.int(), toDay: z.int(), count: z.int() }).meta({ id: 'PatternLag' });

/** Fault A, later fault B, more often than the same vehicles, ages and seasons have B anyway. */
export const RecurringPattern = z
  .strictObject({
    cause: FaultCode,
    effect: FaultCode,
    verdict: PatternVerdict,
    message: z.string(),
    doubtful: z.boolean().describe('May be one fault seen twice: the two are easily taken for each other, or the reverse is found too'),
    doubt: z.string().nullable(),
    inCatalogue: z.boolean().describe('The catalogue names the later fault as a consequence of the earlier'),
    exposedEvents: z.int(),
    shops: z.int().describe('Shops that proved the later fault'),
    discovery: PatternRatio,
    replication: PatternRatio.describe('The ratio to quote: that of the other half of the vehicles'),
    both: PatternRatio,
    shrunk: z.number().nullable().describe('Ratio of observed to expected, drawn towards that of all pairs'),
    eb05: z.number().nullable().describe('Its lower 5 % bound'),
    qValue: z.number().describe('Share of false discoveries when this pair is called found'),
    reverse: PatternRatio.nullable().describe('Negative control: the later fault before the earlier one'),
    foundTogether: z.int().describe('Times both were proved at one visit: counted neither way'),
    lags: z.array(PatternLag).describe('Days from the earlier to the later fault'),
    medianLagDays: z.number().nullable(),
    platforms: z.array(PatternPlatform),
    casesBehind: CasesBehind.describe('Visits at which the later fault was proved within a year after the earlier one'),
  })
  .meta({ id: 'RecurringPattern' });
export type RecurringPattern = z.infer<typeof RecurringPattern>;

export const PatternBoard = z
  .strictObject({
    scoredAt: Instant.nullable().describe('When the stored scores were made; null when never'),
    isStale: z.boolean().describe('Made with climates, platforms or rules that are others now; they are being made anew'),
    vehicles: z.int().describe('Vehicles that can be followed and were watched for some time'),
    provedVisits: z.int().describe('Visits with one proved cause'),
    linkedShare: z.number().describe('Share of proved visits whose vehicle can be followed'),
    replicated: z.int(),
    discovered: z.int(),
    notShown: z.int(),
    tooFew: z.int(),
    message: z.string(),
    patterns: z.array(RecurringPattern).describe('Replicated first, then by the lower bound EB05'),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'PatternBoard' });
export type PatternBoard = z.infer<typeof PatternBoard>;
