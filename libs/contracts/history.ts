import { z } from 'zod';
import { CaseSummary, Complaint } from './case.js';
import { DiagnosisQuestion } from './diagnosis.js';
import { FaultCode } from './fault.js';
import { Episode, EpisodeEnd } from './outcome.js';
import { RepairAction, RepairIntent } from './repair.js';
import { Day, Id, Instant, whole } from './text.js';
import { Sighting, Vehicle } from './vehicle.js';

/** One visit of a vehicle, at whatever shop. Shops outside your own are not named. */
export const Visit = z
  .strictObject({
    caseId: Id.nullable().describe('null when the case belongs to a shop you may not open'),
    shopId: Id.nullable(),
    ownShop: z.boolean(),
    openedAt: Instant,
    complaint: Complaint,
    leadingFault: z.string().nullable(),
    provedFaults: z.array(FaultCode),
    repairs: z.array(
      z.strictObject({ fault: FaultCode, action: RepairAction, intent: RepairIntent, day: Day }).meta({ id: 'VisitRepair' }),
    ),
  })
  .meta({ id: 'Visit' });

export const VehicleHistory = z
  .strictObject({
    vehicle: Vehicle,
    visits: z.array(Visit),
    episodes: z.array(Episode.extend({ caseId: Id.nullable(), shopId: Id.nullable() }).meta({ id: 'VehicleEpisode' })),
    sightings: z.array(Sighting),
  })
  .meta({ id: 'VehicleHistory', description: 'A vehicle followed across the shops of the organisation, without owner data.' });
export type VehicleHistory = z.infer<typeof VehicleHistory>;

export const SimilarQuestion = z
  .strictObject({ question: DiagnosisQuestion, limit: whole(1, 50).optional() })
  .meta({ id: 'SimilarQuestion' });
export type SimilarQuestion = z.infer<typeof SimilarQuestion>;

/** A past case like this one, wherever in the organisation it was seen. */
export const SimilarCase = z
  .strictObject({
    caseId: Id.nullable().describe('null when the case belongs to a shop you may not open'),
    shopId: Id.nullable(),
    openedAt: Instant,
    platformId: Id.nullable(),
    samePlatform: z.boolean(),
    complaint: Complaint,
    distance: z
      .number()
      .describe('Root mean square of the differences of the shared standardised residuals, raised where little is shared'),
    sharedReadings: z.int(),
    why: z.array(z.string()),
    leadingFault: z.string().nullable(),
    provedFaults: z.array(FaultCode),
    contrary: z.boolean().describe('What was proved speaks against the leading explanation of the case asked about'),
    repairs: z.array(
      z
        .strictObject({ fault: FaultCode, action: RepairAction, intent: RepairIntent, day: Day, end: EpisodeEnd, days: z.number() })
        .meta({ id: 'SimilarRepair' }),
    ),
  })
  .meta({ id: 'SimilarCase' });
export type SimilarCase = z.infer<typeof SimilarCase>;

export const SimilarCases = z
  .strictObject({
    signatureVersion: z.string(),
    compared: z.int(),
    data: z.array(SimilarCase).describe('Nearest first; contrary cases stand among the others'),
    message: z.string(),
  })
  .meta({ id: 'SimilarCases' });
export type SimilarCases = z.infer<typeof SimilarCases>;

export const CaseSummaryPage = z.strictObject({ data: z.array(CaseSummary), next: z.string().nullable() }).meta({ id: 'CaseSummaryPage' });
