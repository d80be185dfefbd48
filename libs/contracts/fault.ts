import { z } from 'zod';
import { FAULT_CODES, HYPOTHESIS_CODES, MEASUREMENT_ERROR_CODES } from '#libs/vocabulary/index.js';

export const FaultCode = z.enum(FAULT_CODES).meta({ id: 'FaultCode', description: 'A fault of the catalogue, as a word.' });
export type FaultCode = z.infer<typeof FaultCode>;

export const MeasurementErrorCode = z
  .enum(MEASUREMENT_ERROR_CODES)
  .meta({ id: 'MeasurementErrorCode', description: 'A mistake of measurement the engine can recognise.' });
export type MeasurementErrorCode = z.infer<typeof MeasurementErrorCode>;

export const HypothesisCode = z
  .enum(HYPOTHESIS_CODES)
  .meta({ id: 'HypothesisCode', description: 'A fault or a mistake of measurement: whatever the engine weighs against the readings.' });
export type HypothesisCode = z.infer<typeof HypothesisCode>;

/** One entry of the served catalogue. */
export const FaultEntry = z
  .strictObject({
    code: HypothesisCode,
    name: z.string(),
    kind: z.enum(['fault', 'measurement']).meta({ id: 'HypothesisKind' }),
    layouts: z.array(z.string()),
    mechanism: z.string(),
    provedBy: z.string(),
    causes: z.string(),
    leadsTo: z.array(FaultCode).describe('Faults this one brings about when left in place'),
    temporaryRemedy: z.string().nullable(),
    permanentRemedy: z.string().nullable(),
    caution: z.string().nullable(),
    seenBy: z.array(z.string()).describe('Observations that can show it'),
  })
  .meta({ id: 'FaultEntry' });
export type FaultEntry = z.infer<typeof FaultEntry>;
