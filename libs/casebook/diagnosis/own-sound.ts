import { standardAtmospherePressure } from '#libs/air/index.js';
import type { DiagnosisQuestion, Evidence, Platform } from '#libs/contracts/index.js';
import type { EnginePlatform, OwnSound } from '#libs/engine/index.js';
import { amendEvidence, EMPTY_EVIDENCE, judgingContext } from '../cases/evidence-rules.js';
import { engineConditions, engineInput } from './engine-input.js';
import type { OwnVisit } from './expectation.queries.js';

const DAY_MS = 86_400_000;

/** Sound readings of a vehicle's earlier visits, as the engine takes them: those of the stage `after`. */
export function ownSoundOf(platform: EnginePlatform, visits: readonly OwnVisit[], openedAt: string): OwnSound[] {
  return visits.map(({ elevationM, openedAt: then, sameShop, evidence }) => {
    const { conditions, readings } = engineInput(platform, elevationM, JSON.parse(evidence) as Evidence, {});
    return {
      elevationM,
      conditions,
      readings: readings.filter(({ stage }) => stage === 'after'),
      day: then.slice(0, 10),
      ageDays: Math.max((Date.parse(openedAt) - Date.parse(then)) / DAY_MS, 0),
      sameShop,
    };
  });
}

/** The same as a question that is not saved brings them. @throws ImplausibleEvidence */
export function askedOwnSound(
  described: EnginePlatform,
  elevationM: number,
  platform: Platform | null,
  question: DiagnosisQuestion,
  pointer: string,
): OwnSound[] {
  return (question.ownSound ?? []).map(({ ageDays, sameShop, elevationM: own, evidence: given }, i) => {
    const there = own ?? elevationM;
    const outsideAirK = engineConditions(given.conditions ?? {}, '', []).outsideAirK;
    const context = judgingContext(platform, standardAtmospherePressure(there), outsideAirK);
    const { evidence } = amendEvidence(EMPTY_EVIDENCE, given, context, `${pointer}/ownSound/${i}/evidence`);
    const { conditions, readings } = engineInput(described, there, evidence, {});
    return { elevationM: there, conditions, readings, ageDays, sameShop };
  });
}
