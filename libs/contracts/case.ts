import { z } from 'zod';
import { Evidence, NewEvidence, NewFinding, NewReading, Warning } from './evidence.js';
import { FaultCode } from './fault.js';
import { Policy } from './policy.js';
import { Quantity } from './quantity.js';
import { Proof, Repair } from './repair.js';
import { Id, Instant, text, whole } from './text.js';
import { VehicleInput } from './vehicle.js';

export const CaseStatus = z.enum(['open', 'closed', 'void']).meta({ id: 'CaseStatus' });
export type CaseStatus = z.infer<typeof CaseStatus>;

export const Complaint = z
  .enum(['cools-poorly', 'cools-not', 'cools-at-times', 'noise', 'leak', 'smell', 'water', 'warning-light', 'service', 'other'])
  .meta({ id: 'Complaint' });
export type Complaint = z.infer<typeof Complaint>;

/** Where a case came from: the order in the shop's own software. Sending the same reference and body again changes nothing. */
export const SourceReference = z
  .strictObject({
    system: text(60).describe('Name of the sending system'),
    reference: text(120).describe('Number of the order there'),
    revision: whole(0, 2_000_000_000).describe('Higher revisions replace lower ones'),
    link: z.url().max(500).optional().describe('Address of the original order'),
  })
  .meta({ id: 'SourceReference' });
export type SourceReference = z.infer<typeof SourceReference>;

export const NewCase = z
  .strictObject({
    shopId: Id.optional(),
    shopCode: text(60).optional().describe("The shop's code, instead of its identifier"),
    vehicle: VehicleInput,
    odometer: Quantity.optional(),
    openedAt: Instant.optional().describe('When the car came in; now when left out'),
    complaint: Complaint,
    complaintText: text(2000).optional(),
    notes: text(4000).optional(),
    source: SourceReference.optional(),
    backfill: z.boolean().optional().describe('History being loaded: no events, no watches'),
    evidence: NewEvidence.optional(),
    diagnose: z.boolean().optional().describe('Run the engine at once and store its answer'),
  })
  .meta({ id: 'NewCase' });
export type NewCase = z.infer<typeof NewCase>;

/** Amendment of a case (merge patch). Parts of the evidence that are given replace the stored part whole. */
export const CasePatch = z
  .strictObject({
    complaint: Complaint,
    complaintText: text(2000).nullable(),
    notes: text(4000).nullable(),
    odometer: Quantity,
    platformId: Id,
    evidence: NewEvidence,
  })
  .partial()
  .meta({ id: 'CasePatch' });
export type CasePatch = z.infer<typeof CasePatch>;

const caseHead = {
  id: Id,
  version: z.int().describe('Raised by every change; the ETag'),
  evidenceRevision: z.int(),
  shopId: Id,
  vehicleId: Id.nullable(),
  platformId: Id.nullable(),
  status: CaseStatus,
  complaint: Complaint,
  openedAt: Instant,
  closedAt: Instant.nullable(),
  leadingFault: z.string().nullable().describe("The latest diagnosis's first answer"),
  leadingProbability: z.number().nullable(),
  provedFaults: z.array(FaultCode),
  odometerKm: z.number().nullable(),
};

/** A case as lists show it. */
export const CaseSummary = z.strictObject(caseHead).meta({ id: 'CaseSummary' });
export type CaseSummary = z.infer<typeof CaseSummary>;

/** A case whole. */
export const Case = z
  .strictObject({
    ...caseHead,
    complaintText: z.string().nullable(),
    notes: z.string().nullable(),
    source: SourceReference.nullable(),
    backfill: z.boolean(),
    evidence: Evidence,
    proofs: z.array(Proof),
    repairs: z.array(Repair),
    policies: z
      .array(Policy)
      .describe('What is forbidden or required on this platform: today while the case is open, else when it was opened'),
    warnings: z.array(Warning).describe('What was accepted but deserves a second look'),
  })
  .meta({ id: 'Case', description: 'One visit of one vehicle: complaint, evidence, proof and repair.' });
export type Case = z.infer<typeof Case>;

export const NewReadings = z.strictObject({ readings: z.array(NewReading).min(1).max(100) }).meta({ id: 'NewReadings' });
export const ProposedReading = z
  .strictObject({
    from: z.enum(['complaint', 'notes', 'repair']).meta({ id: 'ProposalSource' }),
    quote: z.string().describe('The words it was read from'),
    reading: NewReading,
  })
  .meta({ id: 'ProposedReading', description: 'A reading somebody wrote into a sentence. No fact: add it to the case if it is one.' });
export type ProposedReading = z.infer<typeof ProposedReading>;
export const ProposedReadings = z.strictObject({ data: z.array(ProposedReading) }).meta({ id: 'ProposedReadings' });
export const NewFindings = z.strictObject({ findings: z.array(NewFinding).min(1).max(100) }).meta({ id: 'NewFindings' });
export const CaseClosure = z
  .strictObject({
    outcome: z.enum(['repaired', 'declined', 'no-fault', 'referred']).meta({ id: 'ClosureOutcome' }),
    note: text(1000).optional(),
  })
  .meta({ id: 'CaseClosure' });
export type CaseClosure = z.infer<typeof CaseClosure>;
export const CaseVoiding = z.strictObject({ reason: text(500) }).meta({ id: 'CaseVoiding' });

export const CaseFilter = z
  .strictObject({
    shopId: Id.optional(),
    platformId: Id.optional(),
    vehicleId: Id.optional(),
    status: CaseStatus.optional(),
    fault: FaultCode.optional().describe('Leading or proved fault'),
    since: Instant.optional(),
    until: Instant.optional(),
    proved: FaultCode.optional().describe('Proved at the visit, by more than a judgement'),
    found: FaultCode.optional().describe('Proved or repaired at the visit'),
    follows: FaultCode.optional().describe('Proved, as the only cause, at another visit of the vehicle in the year before'),
    state: z.enum(['counting', 'all']).meta({ id: 'CaseStates' }).optional().describe('counting: without void cases; all when left out'),
  })
  .meta({ id: 'CaseFilter' });
export type CaseFilter = z.infer<typeof CaseFilter>;
