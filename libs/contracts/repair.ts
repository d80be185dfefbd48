import { z } from 'zod';
import { FaultCode } from './fault.js';
import { Day, finite, Id, Instant, text, whole } from './text.js';

export const REPAIR_ACTIONS = [
  'replace-filter-cartridge',
  'replace-condenser',
  'replace-compressor',
  'replace-compressor-and-condenser',
  'replace-receiver-drier',
  'replace-accumulator',
  'replace-thermostatic-valve',
  'replace-orifice-tube',
  'replace-hose',
  'replace-seals',
  'replace-evaporator',
  'replace-control-valve',
  'replace-clutch',
  'replace-fan',
  'replace-transducer',
  'replace-temperature-sensor',
  'replace-door-actuator',
  'replace-cabin-filter',
  'replace-blower',
  'clean-condenser',
  'clean-evaporator',
  'recover-evacuate-charge',
  'top-up',
  'flush-lines',
  'correct-oil',
  'repair-wiring',
  'no-repair',
  'other',
] as const;
export const RepairAction = z.enum(REPAIR_ACTIONS).meta({ id: 'RepairAction' });
export type RepairAction = z.infer<typeof RepairAction>;
export const RepairIntent = z
  .enum(['temporary', 'permanent', 'unknown'])
  .meta({ id: 'RepairIntent', description: 'Meant to buy time, or to cure; unknown when the order does not say.' });
export type RepairIntent = z.infer<typeof RepairIntent>;

export const Part = z
  .strictObject({
    name: text(120),
    number: text(60).optional(),
    brand: text(60).optional(),
    lot: text(60).optional(),
    quantity: whole(1, 100),
    price: finite(0, 1e6).optional(),
  })
  .meta({ id: 'Part' });

const repairFields = {
  fault: FaultCode.describe('The fault this repair was meant to answer'),
  action: RepairAction,
  intent: RepairIntent,
  day: Day.describe("Day of the repair in the shop's time zone"),
  parts: z.array(Part).max(60),
  recoveredG: finite(0, 10_000).nullable().describe('Refrigerant recovered, g'),
  chargedG: finite(0, 10_000).nullable().describe('Refrigerant charged, g'),
  labourHours: finite(0, 200).nullable(),
  cost: finite(0, 1e6).nullable().describe("Price of the repair in the shop's currency"),
  note: text(1000).nullable(),
};
const machineId = Id.nullable().describe('The machine the refrigerant was weighed with');
export const NewRepair = z.strictObject({ ...repairFields, machineId: machineId.optional() }).meta({ id: 'NewRepair' });
export type NewRepair = z.infer<typeof NewRepair>;
/** Correction of a repair that was entered wrongly (merge patch). */
export const RepairPatch = z
  .strictObject({ ...repairFields, machineId })
  .partial()
  .meta({ id: 'RepairPatch' });
export type RepairPatch = z.infer<typeof RepairPatch>;
export const Repair = z
  .strictObject({ id: Id, caseId: Id, shopId: Id, vehicleId: Id.nullable(), createdAt: Instant, ...repairFields, machineId })
  .meta({ id: 'Repair' });
export type Repair = z.infer<typeof Repair>;

export const ProofMethod = z
  .enum(['opened-part', 'laboratory', 'verified-after-readings', 'judgement'])
  .meta({ id: 'ProofMethod', description: 'How the cause was established. A judgement is recorded but never used as a label.' });
export type ProofMethod = z.infer<typeof ProofMethod>;

const proofFields = {
  faults: z.array(FaultCode).min(1).max(6).describe('The cause, or the set that remains when the method cannot tell within it'),
  method: ProofMethod,
  note: text(1000).nullable(),
};
export const NewProof = z.strictObject(proofFields).meta({ id: 'NewProof' });
export type NewProof = z.infer<typeof NewProof>;
export const Proof = z.strictObject({ id: Id, caseId: Id, createdAt: Instant, ...proofFields }).meta({ id: 'Proof' });
export type Proof = z.infer<typeof Proof>;
