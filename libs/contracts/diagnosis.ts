import { z } from 'zod';
import { NewEvidence, Place } from './evidence.js';
import { FaultCode, HypothesisCode } from './fault.js';
import { CompressorKind, Layout, RefrigerantName } from './platform.js';
import { Day, Id, Instant, text, whole } from './text.js';

export const TrustFinding = z
  .strictObject({
    code: z.string().describe('Word code of the check, e.g. rest-agreement, unit-slip'),
    level: z.enum(['ok', 'note', 'doubt', 'stop']).meta({ id: 'TrustLevel' }),
    readings: z.array(z.string()).describe('Identities of the readings concerned'),
    message: z.string(),
    remedy: z.string().nullable(),
  })
  .meta({ id: 'TrustFinding', description: 'Whether the values can be believed, checked before anything else.' });

export const Severity = z
  .strictObject({ value: z.number(), low: z.number(), high: z.number() })
  .meta({ id: 'Severity', description: 'Severity between 0 and 1 with a 90 % interval.' });

export const FaultProbability = z
  .strictObject({
    code: HypothesisCode,
    name: z.string(),
    probability: z.number(),
    severity: Severity.nullable(),
    capacityLost: Severity.nullable().describe('Share of cooling capacity lost, with a 90 % interval'),
    cascade: FaultCode.nullable().describe('Set when the hypothesis is that this fault was brought about by another still in place'),
  })
  .meta({ id: 'FaultProbability' });

export const EvidenceWeight = z
  .strictObject({
    code: HypothesisCode,
    logOdds: z.number().describe('Natural log of the likelihood ratio of this hypothesis against the average of the others'),
    size: z
      .enum(['strong-for', 'for', 'slight-for', 'neutral', 'slight-against', 'against', 'strong-against'])
      .meta({ id: 'EvidenceSize' }),
  })
  .meta({ id: 'EvidenceWeight' });

export const LedgerLine = z
  .strictObject({
    observation: z.string().describe('Word code of the observation, e.g. high-side-drop'),
    readings: z.array(z.string()),
    label: z.string(),
    seen: z.number().nullable(),
    expectedHealthy: z.number().nullable(),
    tolerance: z.number().nullable().describe('One standard deviation, in the same unit'),
    unit: z.string().nullable(),
    weights: z.array(EvidenceWeight),
  })
  .meta({ id: 'LedgerLine', description: 'What one observation contributed.' });

export const Prediction = z
  .strictObject({
    observation: z.string(),
    label: z.string(),
    unit: z.string(),
    seen: z.number().nullable(),
    healthy: z.number().nullable(),
    leader: z.number().nullable(),
    runnerUp: z.number().nullable(),
  })
  .meta({ id: 'Prediction' });

export const Restriction = z
  .strictObject({
    after: Place,
    before: Place,
    dropPa: z.number().describe('Pressure lost beyond the healthy drop, Pa'),
    candidates: z.array(FaultCode),
    heightShare: z.number().nullable().describe('Height on the condenser face, 0 top to 1 bottom, from a thermal map'),
    message: z.string(),
  })
  .meta({ id: 'Restriction', description: 'Between which two points of the circuit something blocks, and what it may be.' });

export const ThermalPicture = z
  .strictObject({
    rows: z
      .array(z.strictObject({ height: z.number(), temperatureK: z.number(), healthyK: z.number() }).meta({ id: 'FaceRow' }))
      .describe('From the top (height 0) down; healthyK is what a sound condenser that agrees with the rows above the step would show'),
    stepK: z.number().describe('Largest fall from one height to the next beyond the healthy one'),
    stepAt: z.number().describe('Its height, 0 top to 1 bottom'),
    boundaryAt: z.number().nullable().describe('Height where subcooling begins; null on layouts without'),
    boundaryStepK: z.number().nullable(),
    coldestAboveAirK: z.number().describe('Coldest condensing row less the air in front of it'),
    leftOut: z.int().describe("Temperatures left out because another cooler's warm air stands there"),
    verdict: z.enum(['step-inside', 'step-at-cartridge', 'no-step']).meta({ id: 'ThermalVerdict' }),
    message: z.string(),
  })
  .meta({ id: 'ThermalPicture', description: 'What a thermal map of the condenser face shows beyond the healthy profile.' });
export type ThermalPicture = z.infer<typeof ThermalPicture>;

export const TracePicture = z
  .strictObject({
    trace: z.int().describe('Which of the traces of the evidence, from 0'),
    place: Place,
    seconds: z.number(),
    settledPa: z
      .number()
      .nullable()
      .describe('Mean over whole cycles, or middle of a last quarter without drift; null while it drifts. In the reference of the trace'),
    pullDown: z
      .strictObject({ seconds: z.number(), fallPa: z.number(), paPerMinute: z.number() })
      .meta({ id: 'PullDown' })
      .nullable()
      .describe('Low side only: the fall, and the time and rate of its middle eight tenths'),
    cycling: z
      .strictObject({
        cycles: z.int(),
        periodSeconds: z.number(),
        duty: z.number().describe('Share of the time the compressor is on'),
        lowPa: z.number(),
        highPa: z.number(),
        meanPa: z.number(),
      })
      .meta({ id: 'Cycling' })
      .nullable()
      .describe('Null under two whole cycles'),
    message: z.string(),
  })
  .meta({ id: 'TracePicture', description: 'What a pressure did in time: pull-down, settled value, cycling.' });
export type TracePicture = z.infer<typeof TracePicture>;

export const NextTest = z
  .strictObject({
    code: z.string(),
    name: z.string(),
    why: z.string(),
    how: z.string(),
    handsOnMinutes: z.number(),
    waitMinutes: z.number(),
    separates: z.array(HypothesisCode),
    savingPerMinute: z.number().describe('Expected lowering of wrong-repair cost per minute of work, in shares of a full repair'),
    destroysEvidence: z.boolean(),
  })
  .meta({ id: 'NextTest' });

export const Caution = z.strictObject({ code: z.string(), text: z.string() }).meta({ id: 'Caution' });

export const Signature = z
  .strictObject({
    version: z.string().describe('Dimensions and calibration; signatures are compared only with equals'),
    values: z.array(z.number().nullable()).describe('Standardised residuals in the order of the version; null where not read'),
  })
  .meta({ id: 'Signature' });

/** The engine's answer to the readings of one case. */
export const DiagnosisResult = z
  .strictObject({
    engineVersion: z.string(),
    ownReadings: z
      .int()
      .optional()
      .describe('Sound readings of this very vehicle, from earlier visits, that it was judged by; absent in answers of earlier versions'),
    status: z.enum(['answered', 'cannot-tell']).meta({ id: 'DiagnosisStatus' }),
    reason: z.string().nullable().describe('Why it cannot be told, when it cannot'),
    summary: z.string(),
    ownerParagraph: z.string().describe('The same in words for the owner of the vehicle'),
    trust: z.array(TrustFinding),
    faults: z.array(FaultProbability).describe('Most probable first'),
    tied: z.array(HypothesisCode).describe('Leaders these readings do not separate'),
    alike: z
      .array(z.array(HypothesisCode))
      .optional()
      .describe('Faults that readings of this kind cannot tell apart, class by class; absent in answers of earlier versions'),
    ledger: z.array(LedgerLine),
    predictions: z.array(Prediction),
    contradictions: z.array(z.string()),
    restriction: Restriction.nullable(),
    thermal: ThermalPicture.nullable()
      .optional()
      .describe('Null without temperatures at four heights outside the air of other coolers; absent in answers of earlier versions'),
    traces: z.array(TracePicture).optional().describe('Traces of at least a minute; absent in answers of earlier versions'),
    unseen: z.array(FaultCode).describe('Faults these readings cannot show'),
    notModelled: z.array(z.string()),
    nextTests: z.array(NextTest).describe('Most worth doing first'),
    cautions: z.array(Caution),
    signature: Signature,
  })
  .meta({ id: 'DiagnosisResult', description: "The engine's answer to the readings of one case." });
export type DiagnosisResult = z.infer<typeof DiagnosisResult>;

/** A stored diagnosis. */
export const Diagnosis = z
  .strictObject({
    id: Id,
    caseId: Id,
    caseRevision: whole(1, 1_000_000),
    createdAt: Instant,
    blind: z
      .boolean()
      .describe(
        'Judged by the start values alone, without what was proved before: every tenth case is, so that its effect can be measured',
      ),
    expectationVersion: z
      .int()
      .nullable()
      .describe("Version of the platform's own expectation of a sound vehicle; null where that of its kind was used"),
    ownSound: z
      .array(z.strictObject({ day: Day, sameShop: z.boolean() }).meta({ id: 'OwnSoundVisit' }))
      .describe('Earlier visits of this very vehicle, sound after a proved repair, whose readings it was judged by; newest first'),
    result: DiagnosisResult,
  })
  .meta({ id: 'Diagnosis' });
export type Diagnosis = z.infer<typeof Diagnosis>;

/** Readings to be judged without saving anything. Give a platform or describe the system by the three questions. */
export const DiagnosisQuestion = z
  .strictObject({
    shopId: Id.optional().describe("Whose elevation and climate apply; the key's only shop when left out"),
    elevationM: z.number().min(-430).max(5000).optional(),
    platformId: Id.optional(),
    system: z
      .strictObject({
        layout: Layout,
        compressor: CompressorKind,
        refrigerant: RefrigerantName,
        chargeG: z.number().min(100).max(6000).optional(),
      })
      .meta({ id: 'SystemDescription' })
      .optional(),
    complaint: text(500).optional(),
    evidence: NewEvidence,
    day: Day.optional(),
    ownSound: z
      .array(
        z
          .strictObject({
            ageDays: whole(0, 20_000).describe('How long before this case'),
            sameShop: z.boolean().describe('Read by the shop that reads it now: its instruments err alike'),
            elevationM: z.number().min(-430).max(5000).optional().describe('Of that shop, where it is another'),
            evidence: NewEvidence.describe('All readings count, whatever their stage'),
          })
          .meta({ id: 'OwnSoundReadings', description: 'Readings of this very vehicle from an earlier visit, taken while it was sound.' }),
      )
      .max(3)
      .optional(),
  })
  .meta({ id: 'DiagnosisQuestion' });
export type DiagnosisQuestion = z.infer<typeof DiagnosisQuestion>;
