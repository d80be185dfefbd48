import { z } from 'zod';
import { FaultCode, HypothesisCode } from './fault.js';
import { Layout } from './platform.js';
import { ProofMethod } from './repair.js';
import { Share } from './shop-records.js';
import { Day, Id, Instant } from './text.js';

export const OBSERVATION_SETS = ['sparse', 'gauges', 'gauges-transducer', 'temperatures', 'full'] as const;
export const ObservationSet = z.enum(OBSERVATION_SETS).meta({
  id: 'ObservationSet',
  description:
    'What was read before any repair. sparse: no pressure of both sides with the compressor running. gauges: both sides. gauges-transducer: and the vehicle’s transducer. temperatures: both sides and surface temperatures. full: all of it.',
});
export type ObservationSet = z.infer<typeof ObservationSet>;

export const DiagnosisOutcome = z.enum(['correct', 'no-response', 'false-alarm', 'missed', 'misdiagnosis']).meta({
  id: 'DiagnosisOutcome',
  description:
    'Against what was proved. correct: named it. no-response: "cannot tell", or a mistake of measurement named. false-alarm: a fault named on a sound system. missed: a faulty system called sound. misdiagnosis: another fault named.',
});
export type DiagnosisOutcome = z.infer<typeof DiagnosisOutcome>;

export const JudgedAnswers = z.enum(['latest', 'given']).meta({
  id: 'JudgedAnswers',
  description:
    'latest: what the present engine says of each proved case. given: what was answered last while the cause was not yet proved, by whatever engine was then in use.',
});
export type JudgedAnswers = z.infer<typeof JudgedAnswers>;

export const QualityQuestion = z
  .strictObject({
    answers: JudgedAnswers.optional().describe('latest when left out'),
    platformId: Id.optional(),
    layout: Layout.optional(),
    observationSet: ObservationSet.optional(),
    since: Day.optional().describe('Cases opened from this day on'),
    until: Day.optional().describe('Cases opened before this day'),
  })
  .meta({ id: 'QualityQuestion' });
export type QualityQuestion = z.infer<typeof QualityQuestion>;

export const Estimate = z.strictObject({ value: z.number(), low: z.number(), high: z.number() }).meta({
  id: 'Estimate',
  description: 'A figure with its 95 % interval.',
});
export type Estimate = z.infer<typeof Estimate>;

export const OutcomeCount = z.strictObject({ outcome: DiagnosisOutcome, share: Share }).meta({ id: 'OutcomeCount' });

export const QualityFigures = z
  .strictObject({
    n: z.int().describe('Proved cases'),
    outcomes: z.array(OutcomeCount).describe('Shares of all n; they sum to 1'),
    top1: Share.describe('First in the ranking was proved, also where the engine said that it cannot tell'),
    top3: Share.describe('Among the first three'),
    falseAlarms: Share.describe('Of the systems proved sound'),
    missed: Share.describe('Of the faulty systems'),
    misdiagnosed: Share.describe('Of the faulty systems'),
    logLoss: Estimate.nullable().describe('Mean of −ln of the probability given to what was proved; smaller is better'),
    brier: Estimate.nullable().describe('Sum over hypotheses of (probability − truth)², 0 to 2; smaller is better'),
  })
  .meta({ id: 'QualityFigures' });
export type QualityFigures = z.infer<typeof QualityFigures>;

export const QualityBySet = z.strictObject({ observationSet: ObservationSet, figures: QualityFigures }).meta({ id: 'QualityBySet' });
export const QualityByLayout = z.strictObject({ layout: Layout, figures: QualityFigures }).meta({ id: 'QualityByLayout' });
export const QualityByProof = z.strictObject({ method: ProofMethod, figures: QualityFigures }).meta({ id: 'QualityByProof' });

/** A share known from the proved cases only, corrected for which cases are proved, and what it could be at most and at least. */
export const VerifiedShare = z
  .strictObject({
    naive: z.number().nullable().describe('From the proved cases alone'),
    corrected: z.number().nullable().describe('Right when proof depends on the answer alone; null where nothing of some answer was proved'),
    low: z.number().nullable().describe('95 % limits of the corrected share'),
    high: z.number().nullable(),
    least: z.number().nullable().describe('If every unproved case counted against it: no assumption at all'),
    most: z.number().nullable().describe('If every unproved case counted for it'),
  })
  .meta({ id: 'VerifiedShare' });
export type VerifiedShare = z.infer<typeof VerifiedShare>;

export const QualityByFault = z
  .strictObject({
    fault: FaultCode,
    proved: z.int().describe('Cases proved to have it alone'),
    called: z.int().describe('Cases in which it stood first, proved or not'),
    top1: Share,
    top3: Share,
    detection: VerifiedShare.describe('Of the cases that have it, those in which it stands first'),
    specificity: VerifiedShare.describe('Of the cases that do not have it, those in which something else stands first'),
    predictive: Share.describe('Of the proved cases in which it stood first, those that had it'),
  })
  .meta({ id: 'QualityByFault' });
export type QualityByFault = z.infer<typeof QualityByFault>;

export const ReliabilityPoint = z
  .strictObject({
    from: z.number().describe('Forecasts of this step of the curve'),
    to: z.number(),
    n: z.int(),
    observed: z.number().describe('How often the first answer was right, by isotonic regression'),
    low: z.number().describe('Where the curve lies in 95 % of samples of a perfectly calibrated engine'),
    high: z.number(),
  })
  .meta({ id: 'ReliabilityPoint' });

export const Reliability = z
  .strictObject({
    n: z.int(),
    points: z.array(ReliabilityPoint),
    brier: z.number().describe('Of the first answer being right: miscalibration − discrimination + uncertainty'),
    miscalibration: z.number(),
    miscalibrationExpected: z.number().describe('Of a perfectly calibrated engine on as many cases'),
    discrimination: z.number(),
    uncertainty: z.number(),
    slope: z.number().nullable().describe("Cox's slope: below 1 the engine claims too much, above 1 too little"),
    slopeLow: z.number().nullable(),
    slopeHigh: z.number().nullable(),
  })
  .meta({ id: 'Reliability', description: 'CORP reliability of the probability of the first answer.' });
export type Reliability = z.infer<typeof Reliability>;

/** Whether knowing helps, and whether being told misleads: the same figures with and without. */
export const FeedbackCheck = z
  .strictObject({
    blindShare: z.number().describe('Share of cases judged without what was proved before, by the last digits of their identity'),
    blind: QualityFigures.nullable(),
    informed: QualityFigures.nullable(),
    shown: QualityFigures.nullable().describe('Proved after an answer had been given out'),
    unshown: QualityFigures.nullable().describe('Proved without any answer having been given out: nobody can have followed it'),
  })
  .meta({ id: 'FeedbackCheck' });

export const SimulatedRow = z
  .strictObject({
    name: z.string(),
    n: z.int(),
    top1: z.number(),
    top3: z.number(),
    falseAlarms: z.number(),
    missed: z.number(),
    misdiagnosed: z.number(),
    noResponse: z.number(),
    logLoss: z.number(),
    slope: z.number(),
  })
  .meta({ id: 'SimulatedRow' });

export const SimulatedStudy = z
  .strictObject({
    engineVersion: z.string(),
    statement: z.string(),
    split: z.string().describe('Which systems and seeds the figures are of'),
    bySet: z.array(SimulatedRow),
    byLayout: z.array(SimulatedRow),
  })
  .meta({ id: 'SimulatedStudy', description: 'Figures on simulated systems. They are not accuracy on vehicles.' });
export type SimulatedStudy = z.infer<typeof SimulatedStudy>;

export const EngineQuality = z
  .strictObject({
    question: QualityQuestion,
    engineVersion: z.string().describe('The engine that runs now'),
    verdict: z.enum(['measured', 'not-enough', 'none']).meta({ id: 'QualityVerdict' }),
    message: z.string(),
    judged: z.int().describe('Cases with an answer of this kind, proved or not'),
    proved: z.int().describe('Of these, with a proved cause'),
    waiting: z.int().describe('Proved and answered by an earlier engine, but not yet by this one'),
    shops: z.int().describe('Shops the proved cases come from'),
    overall: QualityFigures.nullable(),
    byObservationSet: z.array(QualityBySet),
    byLayout: z.array(QualityByLayout),
    byProof: z.array(QualityByProof),
    byFault: z.array(QualityByFault),
    accuracy: VerifiedShare.describe('First answer right, over all judged cases'),
    reliability: Reliability.nullable(),
    feedback: FeedbackCheck,
    simulated: SimulatedStudy,
    cautions: z.array(z.string()),
    definitions: z.array(z.string()),
  })
  .meta({ id: 'EngineQuality', description: 'How well the engine did on cases whose cause was proved.' });
export type EngineQuality = z.infer<typeof EngineQuality>;

export const JudgedCaseFilter = QualityQuestion.extend({
  outcome: DiagnosisOutcome.optional(),
  fault: FaultCode.optional().describe('Proved, or among the proved'),
  leading: HypothesisCode.optional().describe('First in the ranking'),
}).meta({ id: 'JudgedCaseFilter' });
export type JudgedCaseFilter = z.infer<typeof JudgedCaseFilter>;

/** One proved case behind a figure; cases of shops the caller may not open are counted, not listed. */
export const JudgedCase = z
  .strictObject({
    caseId: Id,
    shopId: Id,
    platformId: Id,
    openedAt: Instant,
    outcome: DiagnosisOutcome,
    label: z.array(FaultCode).describe('What was proved; several where the proof does not tell them apart'),
    method: ProofMethod,
    leading: HypothesisCode,
    leadingProbability: z.number(),
    labelProbability: z.number().describe('Probability given to what was proved'),
    rank: z.int().nullable().describe('Place of what was proved in the ranking; null when it was not ranked'),
    observationSet: ObservationSet,
    engineVersion: z.string(),
    shown: z.boolean(),
  })
  .meta({ id: 'JudgedCase' });
export type JudgedCase = z.infer<typeof JudgedCase>;
