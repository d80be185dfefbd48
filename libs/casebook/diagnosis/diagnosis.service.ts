import { v7 as uuidv7 } from 'uuid';
import { standardAtmospherePressure } from '#libs/air/index.js';
import {
  type Diagnosis,
  type DiagnosisQuestion,
  type DiagnosisResult,
  type Evidence,
  type FaultEntry,
  instantText,
  type Platform,
  type Shop,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { CATALOGUE, diagnose, type EngineInput, type EnginePlatform, type EnginePrior } from '#libs/engine/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { lockCase } from '../cases/case-lock.js';
import { CaseNotFound, CaseVoided } from '../cases/cases.errors.js';
import { type CaseRow, findCase, findEvidence } from '../cases/cases.queries.js';
import { amendEvidence, EMPTY_EVIDENCE, judgingContext } from '../cases/evidence-rules.js';
import type { CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import type { PlatformsService } from '../platforms/platforms.service.js';
import { findShop } from '../shops/shops.queries.js';
import type { ShopsService } from '../shops/shops.service.js';
import { SystemUnknown } from './diagnosis.errors.js';
import { diagnosesOfCase, insertDiagnosis, setLeadingFault, upsertSignature } from './diagnosis.queries.js';
import { describedPlatform, engineConditions, engineInput, enginePlatform } from './engine-input.js';
import type { ExpectationService } from './expectation.service.js';
import { provedOnPlatform, provedOnVehicles } from './labels.queries.js';
import { observationSetOf } from './observation-set.js';
import { askedOwnSound, ownSoundOf } from './own-sound.js';
import { vehicleProved } from './prior.js';
import { isBlind, leaderOf } from './ranking.js';
import type { RediagnosisService } from './rediagnosis.service.js';

export interface DiagnosisServiceParts {
  readonly shops: ShopsService;
  readonly platforms: PlatformsService;
  readonly rediagnosis: RediagnosisService;
  readonly expectation: ExpectationService;
}

export class DiagnosisService {
  constructor(
    private readonly context: CasebookContext,
    private readonly parts: DiagnosisServiceParts,
  ) {}

  /** The catalogue of faults and measurement mistakes the engine weighs. */
  listFaults(): FaultEntry[] {
    return CATALOGUE.map((entry) => ({ ...entry, layouts: [...entry.layouts], leadsTo: [...entry.leadsTo], seenBy: [...entry.seenBy] }));
  }

  /** Runs the engine on the latest evidence of a case and stores its answer. */
  async diagnoseCase(actor: Actor, caseId: string): Promise<Diagnosis> {
    requirePermission(actor, 'diagnoses:run');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await lockCase(tx, actor, caseId);
      if (row.status === 'void') throw new CaseVoided();
      const shop = (await findShop(tx, actor.orgId, row.shopId))!;
      const platform = row.platformId === null ? null : await findPlatform(tx, actor.orgId, row.platformId);
      const evidence = await findEvidence(tx, actor.orgId, caseId, row.evidenceRevision);
      if (!evidence) throw new Error(`case ${caseId} has no evidence of revision ${row.evidenceRevision}`);
      return this.diagnoseIn(tx, actor, row, shop, platform, evidence);
    });
  }

  /** The same within a transaction that already holds the case. */
  async diagnoseIn(tx: Tx, actor: Actor, row: CaseRow, shop: Shop, platform: Platform | null, evidence: Evidence): Promise<Diagnosis> {
    if (!platform) throw new SystemUnknown('/vehicle/platformId');
    if (!this.context.caughtUp.has(actor.orgId) && !(await this.parts.rediagnosis.catchUpIn(tx, actor.orgId)))
      this.context.caughtUp.add(actor.orgId);
    const blind = isBlind(row.id);
    const prior = blind ? {} : await this.prior(tx, actor.orgId, row, platform);
    const { version: expectationVersion, calibration } = await this.parts.expectation.knownToday(tx, actor.orgId, platform.id);
    const described = enginePlatform(platform);
    const visits = (await this.parts.expectation.ownSound(tx, actor.orgId, [row])).get(row.id) ?? [];
    const result = this.answer(described, shop.elevationM, evidence, {
      complaint: row.complaint,
      day: row.openedAt.slice(0, 10),
      prior,
      calibration,
      ownSound: ownSoundOf(described, visits, row.openedAt),
    });
    const at = this.context.clock();
    const stored = await insertDiagnosis(
      tx,
      actor.orgId,
      { id: uuidv7(), caseId: row.id, caseRevision: row.evidenceRevision, createdAt: instantText(at), blind, expectationVersion, result },
      {
        observationSet: observationSetOf(evidence),
        shown: !row.backfill && row.provedFaults.length === 0,
        ownCases: visits.map(({ caseId }) => caseId),
      },
    );
    const leading = leaderOf(result);
    await setLeadingFault(tx, actor.orgId, row.id, leading?.code ?? null, leading?.probability ?? null);
    await upsertSignature(tx, actor.orgId, {
      caseId: row.id,
      layout: platform.layout,
      leadingFault: leading?.code ?? null,
      openedAt: row.openedAt,
      signature: result.signature,
    });
    await appendAudit(tx, actor, at, 'case.diagnosed', { type: 'case', id: row.id }, { engineVersion: result.engineVersion });
    if (!row.backfill) {
      await appendEvent(tx, actor.orgId, at, 'case.diagnosed', row.id, {
        caseId: row.id,
        engineVersion: result.engineVersion,
        status: result.status,
        leadingFault: leading?.code ?? null,
      });
    }
    return stored;
  }

  /** Answers readings without saving anything. */
  async diagnoseReadings(actor: Actor, question: DiagnosisQuestion): Promise<DiagnosisResult> {
    requirePermission(actor, 'diagnoses:run');
    return this.context.inTenant(actor.orgId, (tx) => this.answerQuestion(tx, actor, question), { readOnly: true });
  }

  /** `pointer`: where the question stands in what was sent. */
  async answerQuestion(tx: Tx, actor: Actor, question: DiagnosisQuestion, pointer = ''): Promise<DiagnosisResult> {
    return diagnose(await this.inputOfQuestion(tx, actor, question, pointer));
  }

  /** What the engine is asked with readings that are not saved. @throws SystemUnknown */
  async inputOfQuestion(tx: Tx, actor: Actor, question: DiagnosisQuestion, pointer = ''): Promise<EngineInput> {
    const platform = await this.parts.platforms.resolvePlatform(tx, actor, { platformId: question.platformId }, pointer);
    const described: EnginePlatform | null = platform
      ? enginePlatform(platform)
      : question.system
        ? describedPlatform(question.system)
        : null;
    if (!described) throw new SystemUnknown(`${pointer}/platformId`);
    const elevationM = question.elevationM ?? (await this.parts.shops.resolveShop(tx, actor, { shopId: question.shopId })).elevationM;
    const conditions = engineConditions(question.evidence.conditions ?? {}, '', []);
    const context = judgingContext(platform, standardAtmospherePressure(elevationM), conditions.outsideAirK);
    const { evidence } = amendEvidence(EMPTY_EVIDENCE, question.evidence, context, `${pointer}/evidence`);
    const proved = platform ? await provedOnPlatform(tx, actor.orgId, platform.id, null) : [];
    return engineInput(described, elevationM, evidence, {
      complaint: question.complaint,
      day: question.day,
      prior: { platformProved: proved },
      calibration: platform ? (await this.parts.expectation.known(tx, actor.orgId, platform.id)).calibration : null,
      ownSound: askedOwnSound(described, elevationM, platform, question, pointer),
    });
  }

  /** What the engine is asked with the latest evidence of a case, but for what was proved elsewhere. @throws CaseNotFound, SystemUnknown */
  async inputOfCase(tx: Tx, actor: Actor, caseId: string): Promise<EngineInput> {
    const row = await findCase(tx, actor.orgId, actor.shopIds, caseId);
    if (!row) throw new CaseNotFound(caseId);
    const platform = row.platformId === null ? null : await findPlatform(tx, actor.orgId, row.platformId);
    if (!platform) throw new SystemUnknown('/vehicle/platformId');
    const shop = (await findShop(tx, actor.orgId, row.shopId))!;
    const evidence = await findEvidence(tx, actor.orgId, caseId, row.evidenceRevision);
    if (!evidence) throw new Error(`case ${caseId} has no evidence of revision ${row.evidenceRevision}`);
    const { calibration } = await this.parts.expectation.known(tx, actor.orgId, platform.id);
    return engineInput(enginePlatform(platform), shop.elevationM, evidence, {
      complaint: row.complaint,
      day: row.openedAt.slice(0, 10),
      calibration,
    });
  }

  async listDiagnoses(actor: Actor, caseId: string): Promise<Diagnosis[]> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await findCase(tx, actor.orgId, actor.shopIds, caseId);
      if (!row) throw new CaseNotFound(caseId);
      return diagnosesOfCase(tx, actor.orgId, caseId, 50);
    });
  }

  /** The engine's result type and the wire shape are the same by construction: this assignment is where the compiler checks it. */
  private answer(
    platform: EnginePlatform,
    elevationM: number,
    evidence: Evidence,
    about: Parameters<typeof engineInput>[3],
  ): DiagnosisResult {
    return diagnose(engineInput(platform, elevationM, evidence, about));
  }

  /** What was proved before, on this platform and on this vehicle, the case itself left out. The engine's own guesses are never among it. */
  private async prior(tx: Tx, orgId: string, row: CaseRow, platform: Platform): Promise<EnginePrior> {
    const onVehicle = row.vehicleId === null ? [] : await provedOnVehicles(tx, orgId, [row.vehicleId]);
    return {
      platformProved: await provedOnPlatform(tx, orgId, platform.id, row.id),
      vehicleProved: vehicleProved(onVehicle, row),
    };
  }
}
