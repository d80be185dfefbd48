import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind, ClockFit, RecurrenceLine } from './outcome.js';
import { RepairAction, RepairIntent } from './repair.js';
import { Day, Id } from './text.js';

/** A question at the counter: this fault, on this car, at this shop, today. */
export const HoldingQuestion = z
  .strictObject({
    shopId: Id,
    fault: FaultCode,
    vehicleId: Id.optional().describe('Names the platform through the vehicle'),
    platformId: Id.optional(),
    day: Day.optional().describe("Day of the repair, within a year of today; today in the shop's time zone when left out"),
  })
  .meta({ id: 'HoldingQuestion' });
export type HoldingQuestion = z.infer<typeof HoldingQuestion>;

export const PriceSource = z.enum(['shop', 'organisation', 'same-repair', 'none']).meta({
  id: 'PriceSource',
  description:
    'shop: median of at least three prices recorded there. organisation: median over all shops of the currency. same-repair: no return was priced yet, so a return is priced as the repair done again. none: no price is recorded.',
});
export type PriceSource = z.infer<typeof PriceSource>;

/** One way to answer the fault, and how long it would hold. */
export const HoldingOption = z
  .strictObject({
    action: RepairAction,
    intent: RepairIntent,
    words: z.string().describe('For the owner of the car'),
    verdict: z.enum(['estimated', 'not-enough']).meta({ id: 'HoldingVerdict' }),
    episodes: z.int().describe('Repairs the figure stands on, at the level it is shown from'),
    returns: z.int().describe('How many of these came back within the horizon'),
    atRisk: z.int().describe('How many of these were watched as long as the horizon'),
    ownEpisodes: z.int().describe('Repairs of this kind on this very platform'),
    holding: z.number().nullable().describe('Share still holding at the end of the next hot season; null when not enough is known'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    observed: z.number().nullable().describe('Own unshrunk share of this platform; null under 5 repairs'),
    borrowed: z.number().describe('Share of the figure that comes from other platforms'),
    shownFrom: RecurrenceLine.shape.shownFrom,
    price: z.number().nullable().describe('What the repair costs'),
    priceFrom: PriceSource,
    priceCount: z.int().describe('Prices the median stands on'),
    returnCost: z.number().nullable().describe('What was charged when one came back'),
    returnCostFrom: PriceSource,
    returnCostCount: z.int(),
    expectedCost: z.number().nullable().describe('price + probability of a return × cost of a return'),
    costLow: z.number().nullable(),
    costHigh: z.number().nullable(),
    casesBehind: CasesBehind,
  })
  .meta({ id: 'HoldingOption' });
export type HoldingOption = z.infer<typeof HoldingOption>;

/** From when on the lasting repair is the cheaper one. */
export const BreakEvenDay = z
  .strictObject({
    temporary: RepairAction,
    permanent: RepairAction,
    shownFrom: RecurrenceLine.shape.shownFrom,
    verdict: z.enum(['pays-from', 'pays-at-once', 'not-seen', 'no-price', 'not-enough']).meta({ id: 'BreakEvenVerdict' }),
    degreeDays: z.number().nullable(),
    day: Day.nullable().describe('When that many degree-days have passed at this shop'),
    earliest: Day.nullable(),
    latest: Day.nullable(),
    message: z.string(),
  })
  .meta({ id: 'BreakEvenDay' });
export type BreakEvenDay = z.infer<typeof BreakEvenDay>;

export const HoldingAnswer = z
  .strictObject({
    shopId: Id,
    platformId: Id.nullable(),
    fault: FaultCode,
    from: Day,
    until: Day.describe('End of the next hot season at the shop, or a year ahead where the climate has no such season'),
    hasHotSeason: z.boolean(),
    horizon: z.number().describe('Degree-days expected at the shop from the one to the other'),
    currency: z.string(),
    message: z.string(),
    options: z.array(HoldingOption).describe('Ordered by the lower end of the share still holding'),
    breakEven: BreakEvenDay.nullable().describe('Null where only one kind of repair is known'),
    episodes: z.int(),
    linkedShare: z.number(),
    clockFit: ClockFit,
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'HoldingAnswer' });
export type HoldingAnswer = z.infer<typeof HoldingAnswer>;
