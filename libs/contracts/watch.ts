import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind } from './outcome.js';
import { Day, Id, Instant } from './text.js';

export const WatchKind = z.enum(['new-faults', 'returns']).meta({
  id: 'WatchKind',
  description:
    'new-faults: faults proved or repaired that are no return of an earlier repair. returns: repairs that came back in any of the four ways.',
});

export const WatchState = z.enum(['alarm', 'rising', 'quiet']).meta({
  id: 'WatchState',
  description: 'alarm: an alarm within the last eight weeks. rising: more than half way to one. quiet: neither.',
});

export const WatchQuestion = z
  .strictObject({
    platformId: Id.optional(),
    fault: FaultCode.optional(),
    kind: WatchKind.optional(),
    include: z
      .enum(['alarms', 'rising', 'all'])
      .meta({ id: 'WatchInclude' })
      .optional()
      .describe(
        'alarms (when left out): streams with an alarm within the watched year; rising: also those on the way; all: every watched stream',
      ),
  })
  .meta({ id: 'WatchQuestion' });
export type WatchQuestion = z.infer<typeof WatchQuestion>;

export const WatchWeek = z
  .strictObject({
    week: Day.describe('Its first day'),
    count: z.int(),
    expected: z.number().describe('To be recorded by now'),
    statistic: z.number(),
  })
  .meta({ id: 'WatchWeek' });

export const WatchAlarm = z
  .strictObject({
    week: Day,
    since: Day.describe('Where the change most likely began'),
    observed: z.int(),
    expected: z.number(),
    ratio: z.number(),
    low: z.number().describe('95 % limits of the ratio, exact, the expectation taken as known'),
    high: z.number(),
  })
  .meta({ id: 'WatchAlarm' });

/** Model years in which the events of an alarm lie thicker than the platform's other cases. */
export const WatchYears = z
  .strictObject({
    firstYear: z.int(),
    lastYear: z.int(),
    events: z.int(),
    expected: z.number(),
    ratio: z.number(),
    pValue: z.number(),
  })
  .meta({ id: 'WatchYears' });

/** Builds of one plant, by the sequence of the VIN, in which the events of an alarm lie thicker than the platform's other cases. */
export const WatchBuilds = z
  .strictObject({
    plant: z.string(),
    firstYear: z.int(),
    firstSequence: z.int().describe('In thousands'),
    lastYear: z.int(),
    lastSequence: z.int(),
    events: z.int(),
    expected: z.number(),
    ratio: z.number(),
    pValue: z.number().describe('Times the plants looked at'),
  })
  .meta({ id: 'WatchBuilds' });

export const WatchStream = z
  .strictObject({
    kind: WatchKind,
    platformId: Id,
    platformCode: z.string(),
    platformName: z.string(),
    fault: FaultCode,
    state: WatchState,
    message: z.string(),
    alarms: z.array(WatchAlarm),
    modelYears: WatchYears.nullable().describe('Null without an alarm, without known model years, or when nothing beyond chance is seen'),
    buildRange: WatchBuilds.nullable().describe(
      'Null without an alarm, without VINs of five events of one plant, or when nothing beyond chance is seen',
    ),
    observed: z.int().describe('In the watched year'),
    expected: z.number(),
    baselineEvents: z.int(),
    borrowed: z.number().describe('Share of the expectation that comes from other platforms'),
    shops: z.int().describe('Shops that saw the events of the watched year'),
    statistic: z.number(),
    threshold: z.number(),
    weeksToDoubling: z
      .number()
      .describe('After which a doubled rate raises an alarm, on average over the weeks of the year in which it may begin'),
    weeks: z.array(WatchWeek),
    casesBehind: CasesBehind.describe('What happened since the last alarm began, in the watched year where there is none'),
  })
  .meta({ id: 'WatchStream' });
export type WatchStream = z.infer<typeof WatchStream>;

export const WatchBoard = z
  .strictObject({
    scoredAt: Instant.nullable().describe('When the streams were last looked at; null when never'),
    isStale: z.boolean().describe('Made with climates, platforms or rules that are others now; they are being looked at anew'),
    verdict: z.enum(['watched', 'not-enough', 'never']).meta({ id: 'WatchVerdict' }),
    message: z.string(),
    watches: z.array(WatchStream).describe('Alarms first, newest first, then by how far on the way'),
    streams: z.int().describe('Streams watched'),
    alarms: z.int().describe('Streams with an alarm within the watched year'),
    falseAlarmsPerYear: z.number().describe('Over all streams together, when nothing happens'),
    size: z.number().nullable().describe('Negative-binomial size of weekly counts; null when they vary no more than Poisson ones'),
    arrived: z
      .number()
      .nullable()
      .describe('Share of the visits of the last week that is taken to be recorded by now; null where too few tell how late records come'),
    ratio: z.number().describe('Ratio of rates the charts are tuned for'),
    baselineFrom: Day.nullable(),
    watchedFrom: Day.nullable(),
    watchedUntil: Day.nullable(),
    linkedShare: z.number(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'WatchBoard' });
export type WatchBoard = z.infer<typeof WatchBoard>;
