import type { Tx } from '#libs/database/index.js';
import type { CasebookContext } from '../context.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import type { ExpectationService } from './expectation.service.js';
import type { HistoryAnswer, HistoryBatch, HistoryQuestion, JudgedPlatform } from './judge-batch.js';
import { type ProvedCount, provedAlone, provedOnPlatform, provedOnVehicles } from './labels.queries.js';
import { vehicleProved, withoutOwn } from './prior.js';
import { isBlind } from './ranking.js';
import { type RunRow, type TakenCase, takenAfter } from './rediagnosis.queries.js';

/** Cases a batch: some hundred answers are a megabyte or two, and a worker that dies loses a fraction of a second. */
const BATCH = 128;

/** Judges a batch, wherever: in this thread or in another. Answers in the order of the questions. */
export type JudgeHistory = (batch: HistoryBatch) => Promise<readonly (HistoryAnswer | null)[]>;

export interface PreparedBatch {
  /** The case after which this batch begins. */
  readonly after: string | null;
  readonly cases: readonly TakenCase[];
  readonly stored: HistoryBatch;
}

interface KnownPlatform {
  readonly judged: JudgedPlatform;
  readonly proved: readonly ProvedCount[];
}

/** The cases of a run, batch by batch, with everything the engine is to know of each. What was proved on a platform is counted once a run. */
export class History {
  private after: string | null;
  private readonly known = new Map<string, KnownPlatform>();
  isOver = false;

  constructor(
    private readonly context: CasebookContext,
    private readonly orgId: string,
    private readonly run: RunRow,
    private readonly expectation: Pick<ExpectationService, 'known' | 'ownSound'>,
  ) {
    this.after = run.after;
  }

  async next(): Promise<PreparedBatch | null> {
    const after = this.after;
    const batch = await this.context.inTenant(
      this.orgId,
      async (tx): Promise<PreparedBatch | null> => {
        const cases = await takenAfter(tx, this.orgId, this.run, after, BATCH);
        return cases.length === 0 ? null : { after, cases, stored: await this.questions(tx, cases) };
      },
      { readOnly: true },
    );
    if (batch) this.after = batch.cases.at(-1)!.id;
    this.isOver = batch === null || batch.cases.length < BATCH;
    return batch;
  }

  private async questions(tx: Tx, cases: readonly TakenCase[]): Promise<HistoryBatch> {
    const { orgId } = this;
    const vehicleIds = [...new Set(cases.flatMap(({ vehicleId }) => (vehicleId === null ? [] : [vehicleId])))];
    const visits = await provedOnVehicles(tx, orgId, vehicleIds);
    const sound = await this.expectation.ownSound(tx, orgId, cases);
    const own = await provedAlone(
      tx,
      orgId,
      cases.filter(({ isProved }) => isProved).map(({ id }) => id),
    );
    const platforms: Record<string, JudgedPlatform> = {};
    const questions: HistoryQuestion[] = [];
    for (const taken of cases) {
      const { judged, proved } = await this.platform(tx, taken.platformId);
      platforms[taken.platformId] = judged;
      questions.push({
        caseId: taken.id,
        platformId: taken.platformId,
        elevationM: taken.elevationM,
        complaint: taken.complaint,
        openedAt: taken.openedAt,
        ownSound: sound.get(taken.id) ?? [],
        evidence: taken.evidence,
        prior: isBlind(taken.id)
          ? {}
          : {
              platformProved: withoutOwn(proved, own.get(taken.id) ?? null),
              vehicleProved: vehicleProved(visits, taken),
            },
      });
    }
    return { questions, platforms };
  }

  private async platform(tx: Tx, id: string): Promise<KnownPlatform> {
    const known = this.known.get(id);
    if (known) return known;
    const judged = { platform: (await findPlatform(tx, this.orgId, id))!, expectation: await this.expectation.known(tx, this.orgId, id) };
    const fresh = { judged, proved: await provedOnPlatform(tx, this.orgId, id, null) };
    this.known.set(id, fresh);
    return fresh;
  }
}
