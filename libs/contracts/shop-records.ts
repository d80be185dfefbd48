import { z } from 'zod';
import { FaultCode } from './fault.js';
import { CasesBehind } from './outcome.js';
import { Day, Id } from './text.js';

const shopFields = {
  shopId: Id.nullable().describe('Null for a shop the caller may not open'),
  shopCode: z.string().nullable(),
  shopName: z.string().nullable(),
};

export const PeriodQuestion = z
  .strictObject({
    since: Day.optional().describe('From this day on; a year ago when left out'),
    until: Day.optional().describe('Before this day'),
    fault: FaultCode.optional(),
    platformId: Id.optional(),
  })
  .meta({ id: 'PeriodQuestion' });
export type PeriodQuestion = z.infer<typeof PeriodQuestion>;

/** What returns cost, at the shop whose repair came back. */
export const ReturnCostLine = z
  .strictObject({
    ...shopFields,
    currency: z.string().describe('Of the shop that did the work again'),
    episodes: z.int().describe('Repairs of the shop in this period'),
    returns: z.int().describe('Of these, came back so far to shops of this currency'),
    pricedReturns: z.int().describe('Returns whose hours, parts or price are recorded; the others are not in the sums'),
    hours: z.number(),
    work: z.number().describe('Hours × labour rate of the shop that did them, plus parts'),
    parts: z.number(),
    refrigerantG: z.number().describe('Refrigerant charged again, g; no price of it is recorded'),
    paid: z.number().describe('What owners were charged at the return'),
    unpaid: z.number().describe('Work that nobody paid for: counted where a price, perhaps 0, is recorded'),
    costPerRepair: z.number().nullable().describe('work over episodes; null under 5 repairs'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    casesBehind: CasesBehind.nullable().describe(
      'Its repairs that came back, to shops of any currency; null for a shop the caller may not open',
    ),
  })
  .meta({ id: 'ReturnCostLine' });
export const ReturnCosts = z
  .strictObject({
    since: Day,
    until: Day.nullable(),
    lines: z.array(ReturnCostLine),
    withheld: z.int(),
    linkedShare: z.number(),
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'ReturnCosts' });
export type ReturnCosts = z.infer<typeof ReturnCosts>;

/** A share with its exact interval. */
export const Share = z
  .strictObject({ n: z.int(), events: z.int(), share: z.number().nullable(), low: z.number().nullable(), high: z.number().nullable() })
  .meta({ id: 'Share' });
export type Share = z.infer<typeof Share>;

export const RecordQualityLine = z
  .strictObject({
    ...shopFields,
    cases: z.int(),
    proved: Share.describe('Cases with a cause proved by more than a judgement'),
    judged: Share.describe('Cases with nothing but a judgement'),
    openedPart: Share,
    afterReadings: Share.describe('Cases proved by readings after the repair'),
    withReadings: Share.describe('Cases with any reading'),
    readingsPerCase: z.number().nullable(),
    atRest: Share.describe('Cases with a pressure at rest, which shows whether gauges agree'),
    warned: Share.describe('Cases with a value doubted when it was entered'),
    confirmed: Share.describe("Proved cases in which the engine's first fault was the proved one"),
    casesBehind: CasesBehind.nullable().describe('Null for a shop the caller may not open'),
  })
  .meta({ id: 'RecordQualityLine' });
export const RecordQuality = z
  .strictObject({
    since: Day,
    until: Day.nullable(),
    lines: z.array(RecordQualityLine),
    withheld: z.int(),
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'RecordQuality' });
export type RecordQuality = z.infer<typeof RecordQuality>;

/** How near the specified charge a machine of a shop fills. */
export const ChargeLine = z
  .strictObject({
    ...shopFields,
    machineId: Id.nullable().describe('The machine named in the repairs; null where none is, or for a shop the caller may not open'),
    machineName: z.string().nullable(),
    verdict: z.enum(['estimated', 'not-enough']).meta({ id: 'ChargeVerdict' }),
    charges: z.int().describe('Whole charges into an opened or emptied system, with their weight'),
    unweighed: z.int().describe('Such repairs without a charged weight'),
    meanError: z.number().nullable().describe('Mean of (charged − specified)/specified'),
    low: z.number().nullable(),
    high: z.number().nullable(),
    spread: z.number().nullable().describe('Standard deviation of the same'),
    within: Share.describe('Charges within the tolerance'),
    message: z.string(),
  })
  .meta({ id: 'ChargeLine' });
export const ChargeAccuracy = z
  .strictObject({
    since: Day,
    until: Day.nullable(),
    tolerance: z.number().describe('Share of the specified charge'),
    lines: z.array(ChargeLine),
    withheld: z.int(),
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'ChargeAccuracy' });
export type ChargeAccuracy = z.infer<typeof ChargeAccuracy>;

export const RefrigerantLine = z
  .strictObject({
    ...shopFields,
    month: z.string().describe('YYYY-MM'),
    refrigerant: z.string().nullable().describe('Null where the platform is not known'),
    repairs: z.int().describe('Repairs that open or fill the circuit'),
    recoveredG: z.number(),
    chargedG: z.number(),
    netG: z.number().describe('Charged less recovered: what the vehicles had lost, or what was filled too much'),
    unweighed: z.int().describe('Repairs of these without any weight: their refrigerant is missing from the sums'),
    co2eKg: z.number().nullable().describe('Net charge as CO2 equivalent, where the assessment report gives a number'),
  })
  .meta({ id: 'RefrigerantLine' });
export const Assessment = z
  .enum(['AR4', 'AR5', 'AR6'])
  .meta({ id: 'Assessment', description: 'IPCC assessment report the global warming potentials over 100 years are taken from' });
export type Assessment = z.infer<typeof Assessment>;
export const RefrigerantQuestion = z
  .strictObject({
    since: Day.optional().describe('From this day on; a year ago when left out'),
    until: Day.optional().describe('Before this day'),
    assessment: Assessment.optional().describe('AR4 when left out, as many regulations do'),
  })
  .meta({ id: 'RefrigerantQuestion' });
export type RefrigerantQuestion = z.infer<typeof RefrigerantQuestion>;
export const RefrigerantBalance = z
  .strictObject({
    since: Day,
    until: Day.nullable(),
    assessment: Assessment,
    lines: z.array(RefrigerantLine),
    withheld: z.int(),
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'RefrigerantBalance' });
export type RefrigerantBalance = z.infer<typeof RefrigerantBalance>;
