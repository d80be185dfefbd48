import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind, ClockFit } from './outcome.js';
import { RepairAction } from './repair.js';
import { Share } from './shop-records.js';
import { Day, Id, Instant, text } from './text.js';

export const PolicyRule = z
  .enum(['forbid', 'require'])
  .meta({ id: 'PolicyRule', description: 'forbid: not this repair for the fault. require: this repair and no other.' });
export type PolicyRule = z.infer<typeof PolicyRule>;

const policyFields = { platformId: Id, fault: FaultCode, action: RepairAction, rule: PolicyRule };

/** What the director forbids or requires for a fault on a platform. */
export const NewPolicy = z
  .strictObject({
    ...policyFields,
    since: Day.optional().describe('In force from this day on, at most a year from today; today when left out'),
    note: text(1000).optional().describe('Why; shown where the work is done'),
  })
  .meta({ id: 'NewPolicy' });
export type NewPolicy = z.infer<typeof NewPolicy>;

export const Policy = z
  .strictObject({
    id: Id,
    ...policyFields,
    since: Day,
    endedOn: Day.nullable().describe('Not in force any more from this day on'),
    note: z.string().nullable(),
    createdAt: Instant,
  })
  .meta({ id: 'Policy' });
export type Policy = z.infer<typeof Policy>;

export const PolicyFilter = z
  .strictObject({
    platformId: Id.optional(),
    fault: FaultCode.optional(),
    state: z
      .enum(['in-force', 'all'])
      .meta({ id: 'PolicyStates' })
      .optional()
      .describe('in-force (when left out): today, or from a day to come; all: ended ones too'),
  })
  .meta({ id: 'PolicyFilter' });
export type PolicyFilter = z.infer<typeof PolicyFilter>;

export const PolicyList = z.strictObject({ data: z.array(Policy) }).meta({ id: 'PolicyList' });

/** Returns and the degree-days in which they could happen. */
export const PolicyPeriod = z
  .strictObject({
    episodes: z.int(),
    returns: z.int(),
    degreeDays: z.number(),
    per1000: z.number().nullable().describe('Returns per 1000 degree-days'),
  })
  .meta({ id: 'PolicyPeriod' });

export const PolicyShop = z
  .strictObject({
    shopId: Id.nullable().describe('Null for a shop the caller may not open'),
    shopCode: z.string().nullable(),
    shopName: z.string().nullable(),
    followed: Share,
  })
  .meta({ id: 'PolicyShop' });

/** Whether a policy is followed, and whether it worked. */
export const PolicyReport = z
  .strictObject({
    policy: Policy,
    message: z.string(),
    followed: Share.describe('Repairs of the fault on the platform since the policy that are as it says'),
    followedBefore: Share.describe('The same in the year before'),
    shops: z.array(PolicyShop).describe('The shop that surely follows least first'),
    withheld: z.int(),
    verdict: z.enum(['estimated', 'not-enough']).meta({ id: 'PolicyVerdict' }),
    before: PolicyPeriod,
    after: PolicyPeriod,
    comparisonBefore: PolicyPeriod.describe('The fault on platforms of the same layout without such a policy'),
    comparisonAfter: PolicyPeriod,
    ratio: z
      .number()
      .nullable()
      .describe('Change of returns per degree-day where the policy holds, over that of the comparison; under 1: fewer'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    pValue: z.number().nullable(),
    casesBehind: CasesBehind.describe('Repairs of the fault on the platform since the policy'),
    casesBefore: CasesBehind.describe('Those of the year before'),
    linkedShare: z.number(),
    clockFit: ClockFit.describe('Of the fault on all platforms'),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'PolicyReport' });
export type PolicyReport = z.infer<typeof PolicyReport>;
