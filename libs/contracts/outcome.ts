import { z } from 'zod';
import { FaultCode } from './fault.js';
import { RepairAction, RepairIntent } from './repair.js';
import { Code, Day, Id, text } from './text.js';

/** How an episode ended. Only the first four count as returns. */
export const EPISODE_ENDS = [
  'same-fault',
  'consequent-fault',
  'same-complaint',
  'repair-caused',
  'permanent-later',
  'left',
  'running',
] as const;
export const EpisodeEnd = z.enum(EPISODE_ENDS).meta({
  id: 'EpisodeEnd',
  description:
    'same-fault, consequent-fault, same-complaint and repair-caused are returns; permanent-later competes; left and running are censored.',
});
export type EpisodeEnd = z.infer<typeof EpisodeEnd>;

export const Clock = z.enum(['degree-days', 'calendar-days', 'distance']).meta({
  id: 'Clock',
  description:
    'degree-days: cooling degree-days where the vehicle lives (base 18 °C), with a little for every day. calendar-days: days. distance: kilometres, straight between odometer readings and on from the last as fast as before.',
});
export type Clock = z.infer<typeof Clock>;

/** Which clock the repairs asked about run by, fitted from when they came back. */
export const ClockFit = z
  .strictObject({
    coldDayShare: z.number().describe('What a day without heat counts on the heat clock of this answer, in degree-days'),
    fitted: z.number().nullable().describe('The share as fitted, 0.01 to 100; null where nothing can be told'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    returns: z.int().describe('Returns the fit stands on'),
    verdict: z
      .enum(['heat', 'calendar', 'both', 'cannot-tell'])
      .meta({ id: 'ClockVerdict' })
      .describe('The clock that is not refuted (likelihood ratio, 5 %)'),
    calendarRefutedP: z.number().describe('p of calendar days alone'),
    heatAloneRefutedP: z.number().describe('p of heat alone'),
    noticedLate: z.boolean().describe('What fails in the cold is noticed only when it gets warm; allowed for'),
    message: z.string(),
  })
  .meta({ id: 'ClockFit' });
export type ClockFit = z.infer<typeof ClockFit>;

/** One repair on one vehicle for one fault, and how it ended. */
export const Episode = z
  .strictObject({
    id: Id,
    repairId: Id,
    caseId: Id,
    vehicleId: Id.nullable(),
    platformId: Id.nullable(),
    shopId: Id,
    fault: FaultCode,
    action: RepairAction,
    intent: RepairIntent,
    startedOn: Day,
    end: EpisodeEnd,
    endedOn: Day,
    endCaseId: Id.nullable(),
    endShopId: Id.nullable(),
    days: z.number(),
    degreeDays: z.number(),
    odometerKm: z
      .number()
      .nullable()
      .describe(
        'Kilometres run up to the day it ended or was last seen, straight between odometer readings and on from the last as fast as before; null where the odometer was not read by the day of the repair',
      ),
  })
  .meta({ id: 'Episode' });
export type Episode = z.infer<typeof Episode>;

export const ClimateKind = z
  .enum(['cool', 'warm', 'hot'])
  .meta({ id: 'ClimateKind', description: 'Under 150, under 600, and more degree-days a year where the vehicle lives' });
export type ClimateKind = z.infer<typeof ClimateKind>;
export const Season = z.enum(['spring', 'summer', 'autumn', 'winter']).meta({
  id: 'Season',
  description: 'Summer is the warmest month where the vehicle lives and the two around it, on either side of the equator.',
});
export type Season = z.infer<typeof Season>;

/** Where the cases behind a figure are listed. */
export const CasesBehind = z
  .strictObject({
    href: z.string().describe('Address of the list over REST'),
    graphql: z.string().describe('The same as a field of a GraphQL query'),
  })
  .meta({ id: 'CasesBehind', description: 'Lists what is behind the figure; of shops you may not open nothing is listed.' });
export type CasesBehind = z.infer<typeof CasesBehind>;

const year = z.coerce.number().int().min(1980).max(2060);
const bucket = z.coerce.number().int().min(0).max(999);
const groupFields = {
  platformId: Id.optional(),
  family: Code.optional(),
  fault: FaultCode.optional(),
  action: RepairAction.optional(),
  intent: RepairIntent.optional(),
  shopId: Id.optional(),
  since: Day.optional().describe('Repairs from this day on'),
  until: Day.optional().describe('Repairs before this day'),
  climate: ClimateKind.optional(),
  season: Season.optional().describe('Season of the repair'),
  partNumber: text(60).optional().describe('Repairs with this part'),
  partBrand: text(60).optional(),
  partLot: text(60).optional(),
  modelYearFrom: year.optional(),
  modelYearTo: year.optional(),
  plant: z.string().length(1).optional().describe('Plant character of the VIN'),
  sequenceFrom: bucket.optional().describe('Build sequence in thousands, from the VIN'),
  sequenceTo: bucket.optional(),
  outcome: z.enum(['returned', 'not-returned']).meta({ id: 'RepairOutcome' }).optional().describe('Whether they came back so far'),
  endedSince: Day.optional().describe('Ended, or last seen, from this day on'),
  endedUntil: Day.optional(),
};
export const EpisodeGroup = z.strictObject(groupFields).meta({ id: 'EpisodeGroup', description: 'Which repairs are counted.' });
export type EpisodeGroup = z.infer<typeof EpisodeGroup>;

const clockFields = {
  clock: Clock.optional().describe('degree-days when left out'),
  horizons: z
    .array(z.number().min(1).max(400_000))
    .max(8)
    .optional()
    .describe("On the clock's scale; 250, 500 and 1000 degree-days, 90, 180 and 365 days, or 5,000, 10,000 and 20,000 km, when left out"),
};
export const ReturnQuestion = EpisodeGroup.extend(clockFields).meta({ id: 'ReturnQuestion' });
export type ReturnQuestion = z.infer<typeof ReturnQuestion>;

export const CurvePoint = z
  .strictObject({ at: z.number(), probability: z.number(), low: z.number(), high: z.number(), atRisk: z.int() })
  .meta({ id: 'CurvePoint' });

export const EndCount = z.strictObject({ end: EpisodeEnd, count: z.int() }).meta({ id: 'EndCount' });

export const ReturnAnswer = z
  .strictObject({
    group: EpisodeGroup,
    clock: Clock,
    verdict: z.enum(['estimated', 'not-enough']).meta({ id: 'ReturnVerdict' }),
    message: z.string(),
    episodes: z.int(),
    vehicles: z.int(),
    shops: z.int(),
    returns: z.int(),
    unread: z.int().describe('Repairs left out because the odometer tells nothing; 0 on the other clocks'),
    ends: z.array(EndCount),
    horizons: z.array(CurvePoint).describe('Aalen–Johansen probability of a return by each horizon, 95 % interval'),
    curve: z.array(CurvePoint),
    kaplanMeierNaive: z
      .array(CurvePoint)
      .describe('1 − Kaplan–Meier at the horizons, which overstates returns where another end competes; shown for comparison'),
    median: z.number().nullable().describe('Time by which half have returned, when reached'),
    medianLow: z.number().nullable(),
    medianHigh: z.number().nullable(),
    linkedShare: z
      .number()
      .describe('Share of these repairs whose vehicle can be followed across shops; returns of the others are not seen'),
    linkageWeighted: z
      .array(
        z
          .strictObject({
            at: z.number(),
            observed: z.number().describe('The figure above: a lower bound'),
            weighted: z
              .number()
              .nullable()
              .describe(
                'Repairs that can be followed alone, each return seen elsewhere standing for those that were not linked; null where that cannot be told',
              ),
          })
          .meta({ id: 'LinkageWeightedPoint' }),
      )
      .describe('At the horizons'),
    clockFit: ClockFit,
    casesBehind: CasesBehind,
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'ReturnAnswer' });
export type ReturnAnswer = z.infer<typeof ReturnAnswer>;

export const ComparisonQuestion = z.strictObject({ a: EpisodeGroup, b: EpisodeGroup, ...clockFields }).meta({ id: 'ComparisonQuestion' });
export type ComparisonQuestion = z.infer<typeof ComparisonQuestion>;
export const ComparisonAnswer = z
  .strictObject({
    a: ReturnAnswer,
    b: ReturnAnswer,
    chiSquare: z.number().nullable(),
    degreesOfFreedom: z.int(),
    pValue: z.number().nullable().describe('Log-rank test on the time to return, other ends censored'),
    message: z.string(),
  })
  .meta({ id: 'ComparisonAnswer' });
export type ComparisonAnswer = z.infer<typeof ComparisonAnswer>;

export const BoardQuestion = z
  .strictObject({
    clock: Clock.optional(),
    horizon: z.coerce.number().min(1).max(400_000).optional(),
    since: Day.optional(),
    until: Day.optional(),
    fault: FaultCode.optional(),
    platformId: Id.optional(),
    intent: RepairIntent.optional(),
    minimumEpisodes: z.coerce.number().int().min(1).max(1000).optional(),
    only: z
      .enum(['above-elsewhere'])
      .meta({ id: 'BoardOnly' })
      .optional()
      .describe('above-elsewhere: lines whose whole interval lies above the same repair on the other platforms, furthest first'),
    first: z.coerce.number().int().min(1).max(1000).optional().describe('How many lines, 1 to 1000; all of them when left out'),
    after: z.string().max(400).optional().describe('Cursor of the page before'),
  })
  .meta({ id: 'BoardQuestion' });
export type BoardQuestion = z.infer<typeof BoardQuestion>;

/** One line of the region board: a fault on a platform, after one kind of repair. */
export const RecurrenceLine = z
  .strictObject({
    platformId: Id,
    platformCode: z.string(),
    platformName: z.string(),
    family: z.string(),
    fault: FaultCode,
    intent: RepairIntent,
    episodes: z.int(),
    returns: z.int(),
    shops: z.int(),
    probability: z.number().describe('Probability of a return by the horizon, shrunk towards the family and the fault'),
    low: z.number(),
    high: z.number(),
    observed: z.number().nullable().describe('Own Aalen–Johansen estimate, unshrunk; null under 5 repairs'),
    borrowed: z.number().describe('Share of the figure that comes from other cells'),
    shownFrom: z.enum(['own', 'family', 'fault', 'repair']).meta({ id: 'ShownFrom' }),
    newThisMonth: z.int().describe('Returns in the last 30 days'),
    elsewhere: z
      .number()
      .nullable()
      .describe(
        'Mean of the other listed platforms for the same fault and kind of repair, weighted by repairs; null where fewer than two are',
      ),
    casesBehind: CasesBehind,
  })
  .meta({ id: 'RecurrenceLine' });
export type RecurrenceLine = z.infer<typeof RecurrenceLine>;

export const RecurrenceBoard = z
  .strictObject({
    clock: Clock,
    horizon: z.number(),
    lines: z.array(RecurrenceLine).describe('Ordered by the lower end of the interval, never by the raw rate'),
    total: z.int().describe('Lines in all, on this page and others'),
    next: z.string().nullable().describe('Cursor to ask for what follows; null at the end'),
    episodes: z.int(),
    linkedShare: z.number(),
    asOf: Day,
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'RecurrenceBoard' });
export type RecurrenceBoard = z.infer<typeof RecurrenceBoard>;

export const GROUP_DIMENSIONS = [
  'platform',
  'family',
  'fault',
  'action',
  'intent',
  'shop',
  'climate',
  'season',
  'year',
  'month',
  'partNumber',
  'partBrand',
  'partLot',
  'modelYear',
  'plant',
] as const;
export const GroupDimension = z.enum(GROUP_DIMENSIONS).meta({ id: 'GroupDimension' });
export type GroupDimension = z.infer<typeof GroupDimension>;

export const GroupedQuestion = EpisodeGroup.extend({
  by: z.array(GroupDimension).min(1).max(3).describe('What the repairs are told apart by'),
  clock: Clock.optional(),
  horizon: z.coerce.number().min(1).max(400_000).optional(),
}).meta({ id: 'GroupedQuestion' });
export type GroupedQuestion = z.infer<typeof GroupedQuestion>;

/** One cell of a table of return rates. */
export const GroupedLine = z
  .strictObject({
    keys: z.array(
      z
        .strictObject({
          dimension: GroupDimension,
          value: z.string().describe('As a filter takes it; empty where it is not known'),
          label: z.string(),
        })
        .meta({ id: 'GroupKey' }),
    ),
    episodes: z.int(),
    vehicles: z.int(),
    returns: z.int(),
    shops: z.int(),
    probability: z
      .number()
      .describe('Probability of a return by the horizon, drawn towards the wider group the more the smaller the cell is'),
    low: z.number(),
    high: z.number(),
    observed: z.number().nullable().describe('Own Aalen–Johansen estimate; null under 5 repairs'),
    borrowed: z.number().describe('Share of the figure that comes from other cells'),
    shownFrom: z
      .enum(['own', 'wider'])
      .meta({ id: 'GroupShownFrom' })
      .describe('wider: under 5 repairs, the figure is that of the wider group'),
    linkedShare: z.number(),
    casesBehind: CasesBehind.nullable().describe('Null where a key is not known, so that no filter names the cell'),
  })
  .meta({ id: 'GroupedLine' });
export type GroupedLine = z.infer<typeof GroupedLine>;

export const GroupedReturns = z
  .strictObject({
    group: EpisodeGroup,
    by: z.array(GroupDimension),
    clock: Clock,
    horizon: z.number(),
    lines: z.array(GroupedLine).describe('Ordered by the lower end of the interval, never by the raw rate; at most 500'),
    left: z.int().describe('Cells beyond those'),
    withheld: z.int().describe('Cells of fewer than three shops that you may not open'),
    episodes: z.int(),
    unread: z.int(),
    linkedShare: z.number(),
    clockFit: ClockFit,
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'GroupedReturns' });
export type GroupedReturns = z.infer<typeof GroupedReturns>;
