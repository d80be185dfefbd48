import { z } from 'zod';
import { RefrigerantName } from './platform.js';
import { Assessment } from './shop-records.js';
import { Day, finite, Id, Instant, text } from './text.js';

const ScaleError = finite(0, 1000).describe('Limit of error of one weighing, g, 95 %');

/** A machine that recovers and charges. */
const machineFields = {
  name: text(120),
  refrigerant: RefrigerantName,
  scaleErrorG: ScaleError,
  checkedOn: Day.nullable().describe('Day its scale was last checked'),
  retiredOn: Day.nullable().describe('Not in use any more from this day on'),
};
export const NewMachine = z
  .strictObject({ shopId: Id, ...machineFields })
  .partial({ checkedOn: true, retiredOn: true })
  .meta({ id: 'NewMachine' });
export type NewMachine = z.infer<typeof NewMachine>;
export const MachinePatch = z.strictObject(machineFields).omit({ refrigerant: true }).partial().meta({ id: 'MachinePatch' });
export type MachinePatch = z.infer<typeof MachinePatch>;
export const Machine = z
  .strictObject({ id: Id, version: z.int(), shopId: Id, ...machineFields, createdAt: Instant })
  .meta({ id: 'Machine', description: 'A machine that recovers and charges refrigerant, with the error of its scale.' });
export type Machine = z.infer<typeof Machine>;

export const CylinderContent = z.enum(['new', 'recovered', 'reclaimed']).meta({ id: 'CylinderContent' });
const cylinderFields = {
  label: text(60).describe('As it stands on the cylinder'),
  refrigerant: RefrigerantName,
  content: CylinderContent,
  capacityG: finite(1, 1_000_000).describe('Refrigerant it may hold, g'),
  retiredOn: Day.nullable(),
};
export const NewCylinder = z
  .strictObject({ shopId: Id, ...cylinderFields })
  .partial({ retiredOn: true })
  .meta({ id: 'NewCylinder' });
export type NewCylinder = z.infer<typeof NewCylinder>;
export const CylinderPatch = z.strictObject(cylinderFields).omit({ refrigerant: true }).partial().meta({ id: 'CylinderPatch' });
export type CylinderPatch = z.infer<typeof CylinderPatch>;
export const Cylinder = z
  .strictObject({ id: Id, version: z.int(), shopId: Id, ...cylinderFields, createdAt: Instant })
  .meta({ id: 'Cylinder' });
export type Cylinder = z.infer<typeof Cylinder>;

export const EntryKind = z.enum(['purchase', 'shipment', 'stock-take']).meta({
  id: 'EntryKind',
  description:
    'purchase: bought. shipment: sent out, to be reclaimed or destroyed or to another shop. stock-take: what a cylinder, a machine or the whole shop was found to hold.',
});
const entryFields = {
  massG: finite(0, 10_000_000).describe('g of refrigerant'),
  day: Day,
  document: text(120).nullable().describe('Number of the invoice, delivery note or certificate'),
  note: text(1000).nullable(),
};
export const NewEntry = z
  .strictObject({
    shopId: Id,
    kind: EntryKind,
    refrigerant: RefrigerantName,
    ...entryFields,
    cylinderId: Id.optional().describe('The cylinder that was weighed'),
    machineId: Id.optional().describe('The machine whose content was read'),
    toShopId: Id.optional().describe('Of a shipment: the shop of the organisation that received it'),
  })
  .partial({ document: true, note: true })
  .meta({ id: 'NewRefrigerantEntry' });
export type NewEntry = z.infer<typeof NewEntry>;
export const EntryPatch = z.strictObject(entryFields).partial().meta({ id: 'RefrigerantEntryPatch' });
export type EntryPatch = z.infer<typeof EntryPatch>;
export const Entry = z
  .strictObject({
    id: Id,
    version: z.int(),
    shopId: Id,
    kind: EntryKind,
    refrigerant: RefrigerantName,
    ...entryFields,
    cylinderId: Id.nullable(),
    machineId: Id.nullable(),
    toShopId: Id.nullable(),
    createdAt: Instant,
  })
  .meta({ id: 'RefrigerantEntry' });
export type Entry = z.infer<typeof Entry>;

export const HoldingsFilter = z
  .strictObject({ shopId: Id.optional(), refrigerant: RefrigerantName.optional() })
  .meta({ id: 'RefrigerantHoldingsFilter' });
export type HoldingsFilter = z.infer<typeof HoldingsFilter>;
export const EntryFilter = HoldingsFilter.extend({ kind: EntryKind.optional(), since: Day.optional(), until: Day.optional() }).meta({
  id: 'RefrigerantEntryFilter',
});
export type EntryFilter = z.infer<typeof EntryFilter>;

export const LedgerQuestion = z
  .strictObject({
    since: Day.optional().describe('From the month of this day on; a year ago when left out'),
    until: Day.optional().describe('Before the month of this day'),
    shopId: Id.optional(),
    refrigerant: RefrigerantName.optional(),
    assessment: Assessment.optional().describe('AR4 when left out, as many regulations do'),
  })
  .meta({ id: 'LedgerQuestion' });
export type LedgerQuestion = z.infer<typeof LedgerQuestion>;

/** One month of one refrigerant at one shop: opening + bought + recovered − charged − sent out − unaccounted = closing. */
export const RefrigerantLedgerLine = z
  .strictObject({
    shopId: Id.nullable().describe('Null for a shop the caller may not open'),
    shopCode: z.string().nullable(),
    shopName: z.string().nullable(),
    month: z.string().describe('YYYY-MM'),
    refrigerant: RefrigerantName,
    openingG: z.number().nullable().describe('By the books; null before the first stock take'),
    boughtG: z.number().describe('Bought, or received from another shop'),
    recoveredG: z.number(),
    chargedG: z.number(),
    sentOutG: z.number(),
    unaccountedG: z
      .number()
      .nullable()
      .describe('What stock takes of the month found missing (negative: too much); null without one to compare'),
    closingG: z.number().nullable(),
    takenOn: Day.nullable().describe('The last stock take of the month'),
    takenG: z.number().nullable(),
    missingContainers: z.int().describe('Cylinders and machines in use that this stock take says nothing of'),
    weighings: z.int().describe('Weighings between the stock takes that were compared'),
    errorG: z.number().nullable().describe('95 % limit of the unaccounted mass when errors of weighing are independent'),
    worstErrorG: z.number().nullable().describe('The same when all weighings err the same way'),
    verdict: z.enum(['balanced', 'loss', 'gain', 'no-stock-take']).meta({ id: 'LedgerVerdict' }),
    co2eKg: z.number().nullable().describe('CO2 equivalent of the unaccounted mass, where the assessment report gives a number'),
    message: z.string(),
  })
  .meta({ id: 'RefrigerantLedgerLine' });
export type RefrigerantLedgerLine = z.infer<typeof RefrigerantLedgerLine>;

export const RefrigerantLedger = z
  .strictObject({
    since: Day,
    until: Day.nullable(),
    assessment: Assessment,
    lines: z.array(RefrigerantLedgerLine).describe('Newest month first, then by shop'),
    withheld: z.int(),
    message: z.string(),
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'RefrigerantLedger' });
export type RefrigerantLedger = z.infer<typeof RefrigerantLedger>;
