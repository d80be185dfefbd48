import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind, ClockFit } from './outcome.js';
import { RepairIntent } from './repair.js';
import { Day, Id } from './text.js';

/** How far the records of a shop can be trusted: first, before any figure made of them. */
export const Completeness = z
  .strictObject({
    cases: z.int(),
    provedShare: z.number().describe('Cases with a cause proved by more than a judgement'),
    repairedShare: z.number().describe('Cases with a repair recorded'),
    linkedShare: z.number().describe('Repairs on vehicles that can be followed across shops'),
    intentShare: z.number().describe('Repairs whose intent is known'),
    elsewhereShare: z.number().nullable().describe('Returns of its work that were seen at other shops; null without returns'),
  })
  .meta({ id: 'Completeness' });
export type Completeness = z.infer<typeof Completeness>;

/** A shop as the viewer may see it: unnamed where the viewer may not open it. */
const shopFields = {
  shopId: Id.nullable().describe('Null for a shop the caller may not open'),
  shopCode: z.string().nullable(),
  shopName: z.string().nullable(),
};

export const ShopReviewQuestion = z
  .strictObject({
    fault: FaultCode.optional(),
    intent: RepairIntent.optional(),
    platformId: Id.optional(),
    since: Day.optional().describe('Repairs from this day on'),
    until: Day.optional().describe('Repairs before this day'),
    horizon: z.coerce.number().min(1).max(20_000).optional().describe('Degree-days each repair is followed at most; 1000 when left out'),
  })
  .meta({ id: 'ShopReviewQuestion' });
export type ShopReviewQuestion = z.infer<typeof ShopReviewQuestion>;

export const ShopStanding = z
  .strictObject({
    ...shopFields,
    completeness: Completeness,
    episodes: z.int(),
    observed: z.int().describe('Returns of its work, wherever they came back to'),
    expected: z.number().describe('Returns its mix of platforms, faults and repairs would have had in all shops together'),
    ratio: z.number().nullable().describe('Observed over expected; null when nothing was expected'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    shrunk: z.number().nullable().describe('The ratio drawn towards that of all shops'),
    shrunkLow: z.number().nullable(),
    shrunkHigh: z.number().nullable(),
    borrowed: z.number().nullable(),
    z: z.number().nullable().describe('Distance from 1 in standard errors, spread between shops allowed for'),
    qValue: z.number().nullable().describe('Share of false findings when this shop is called different'),
    verdict: z.enum(['as-expected', 'above', 'below', 'not-enough']).meta({ id: 'ShopVerdict' }),
    message: z.string(),
    casesBehind: CasesBehind.nullable().describe('Its repairs; null for a shop the caller may not open'),
    returnsBehind: CasesBehind.nullable().describe('Of these, those that came back'),
  })
  .meta({ id: 'ShopStanding' });
export type ShopStanding = z.infer<typeof ShopStanding>;

export const FunnelLimit = z
  .strictObject({ expected: z.number(), low95: z.number(), high95: z.number(), low998: z.number(), high998: z.number() })
  .meta({ id: 'FunnelLimit' });

export const ShopReview = z
  .strictObject({
    horizon: z.number(),
    shops: z.array(ShopStanding).describe('Those above expectation first, then by the lower end of the shrunken ratio'),
    withheld: z.int().describe('Shops the caller may not open and that are too few to be shown unnamed'),
    funnel: z.array(FunnelLimit),
    phi: z.number().describe('Spread between shops over that of chance'),
    tau: z.number().describe('Standard deviation between shops that is allowed for; 0 when there is no more than chance'),
    episodes: z.int(),
    returns: z.int(),
    linkedShare: z.number(),
    clockFit: ClockFit,
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'ShopReview' });
export type ShopReview = z.infer<typeof ShopReview>;
