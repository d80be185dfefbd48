import { standardAtmospherePressure } from '#libs/air/index.js';
import type { DiagnosisQuestion, DiagnosisResult } from '#libs/contracts/index.js';
import { diagnose } from '#libs/engine/index.js';
import { amendEvidence, EMPTY_EVIDENCE, judgingContext } from '../cases/evidence-rules.js';
import { SystemUnknown } from './diagnosis.errors.js';
import { describedPlatform, engineConditions, engineInput } from './engine-input.js';
import { askedOwnSound } from './own-sound.js';

/**
 * Judges readings without a database: the system is described by the three questions, the elevation is given (sea level when it is not), and nothing
 * is known of what was proved before. Otherwise the same engine and the same refusals as over the API.
 * @throws SystemUnknown, ImplausibleEvidence
 */
export function diagnoseOffline(question: DiagnosisQuestion): DiagnosisResult {
  if (!question.system) throw new SystemUnknown('/system');
  const elevationM = question.elevationM ?? 0;
  const conditions = engineConditions(question.evidence.conditions ?? {}, '', []);
  const context = judgingContext(null, standardAtmospherePressure(elevationM), conditions.outsideAirK);
  const { evidence } = amendEvidence(EMPTY_EVIDENCE, question.evidence, context, '/evidence');
  const platform = describedPlatform(question.system);
  const ownSound = askedOwnSound(platform, elevationM, null, question, '');
  return diagnose(engineInput(platform, elevationM, evidence, { complaint: question.complaint, day: question.day, ownSound }));
}
