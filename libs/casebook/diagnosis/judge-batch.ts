import type { Evidence, HypothesisCode, LeadingAnswer, ObservationSet, Platform } from '#libs/contracts/index.js';
import { diagnose, type EnginePlatform, type EnginePrior } from '#libs/engine/index.js';
import { engineInput, enginePlatform } from './engine-input.js';
import type { OwnVisit } from './expectation.queries.js';
import type { KnownExpectation } from './expectation.service.js';
import { observationSetOf } from './observation-set.js';
import { ownSoundOf } from './own-sound.js';
import { packedAnswer } from './packed-answer.js';
import { leaderOf, rankingOf } from './ranking.js';

/** One stored case as a thread judges it. Text and plain values: it is copied between threads. */
export interface HistoryQuestion {
  readonly caseId: string;
  readonly platformId: string;
  readonly elevationM: number;
  readonly complaint: string;
  readonly openedAt: string;
  /** Earlier visits after which the vehicle was sound. */
  readonly ownSound: readonly OwnVisit[];
  /** The evidence document as the database wrote it. */
  readonly evidence: string;
  readonly prior: EnginePrior;
}

/** A platform with the expectation its cases are judged by. */
export interface JudgedPlatform {
  readonly platform: Platform;
  readonly expectation: KnownExpectation;
}

export interface HistoryBatch {
  readonly questions: readonly HistoryQuestion[];
  readonly platforms: Readonly<Record<string, JudgedPlatform>>;
}

/** The answer as it is stored: packed, so that the thread that stores it only copies bytes, and the narrow columns beside it. */
export interface HistoryAnswer {
  readonly result: Uint8Array;
  readonly engineVersion: string;
  readonly signatureVersion: string;
  readonly signature: readonly (number | null)[];
  readonly status: 'answered' | 'cannot-tell';
  readonly codes: readonly HypothesisCode[];
  readonly probabilities: readonly number[];
  readonly observationSet: ObservationSet;
  readonly leading: HypothesisCode | null;
  readonly leadingProbability: number | null;
}

/** Judges stored cases one after the other. A case the engine cannot read is null: it must not hold up the others. */
export function judgeBatch({ questions, platforms }: HistoryBatch): (HistoryAnswer | null)[] {
  const described = new Map<string, EnginePlatform>();
  return questions.map((question) => {
    try {
      const known = platforms[question.platformId]!;
      const system = described.get(question.platformId) ?? enginePlatform(known.platform);
      described.set(question.platformId, system);
      return judgeStored(question, system, known.expectation);
    } catch {
      return null;
    }
  });
}

function judgeStored(question: HistoryQuestion, described: EnginePlatform, { calibration }: KnownExpectation): HistoryAnswer {
  const evidence = JSON.parse(question.evidence) as Evidence;
  const { complaint, openedAt, prior } = question;
  const ownSound = ownSoundOf(described, question.ownSound, openedAt);
  const about = { complaint, day: openedAt.slice(0, 10), prior, calibration, ownSound };
  const result = diagnose(engineInput(described, question.elevationM, evidence, about));
  const ranked = rankingOf(result);
  const leader = leaderOf(result, ranked);
  return {
    result: packedAnswer(result),
    engineVersion: result.engineVersion,
    signatureVersion: result.signature.version,
    signature: result.signature.values,
    status: result.status,
    codes: ranked.codes,
    probabilities: ranked.probabilities,
    observationSet: observationSetOf(evidence),
    leading: leader?.code ?? null,
    leadingProbability: leader?.probability ?? null,
  };
}

export const leadingAnswer = (leading: string | null): LeadingAnswer => (leading ?? 'cannot-tell') as LeadingAnswer;
