import {
  type EngineQuality,
  type JudgedCase,
  type JudgedCaseFilter,
  OBSERVATION_SETS,
  type Page,
  type PageInput,
  ProofMethod,
  type QualityQuestion,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import { LAYOUTS } from '#libs/vocabulary/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { accuracyOf, faultFigures, feedbackOf, figuresBy, figuresOf, type Judged, judge, reliabilityOf } from './quality.js';
import { JUDGED_AT_MOST, judgedRows, unprovedCounts, waitingCount } from './quality.queries.js';
import { BLIND_SHARE } from './ranking.js';
import { SIMULATED_STUDY } from './simulated-study.js';

/** Under this many proved cases a share says hardly anything: shown with its interval, and said to be so. */
const FEWEST = 30;

/** How well the engine did on cases whose cause was proved. */
export class QualityService {
  constructor(private readonly context: CasebookContext) {}

  async engineQuality(actor: Actor, question: QualityQuestion): Promise<EngineQuality> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(
      actor.orgId,
      async (tx) => {
        const { judged, version } = await this.judgedCases(tx, actor, question);
        const unproved = await unprovedCounts(tx, actor.orgId, version, question);
        const waiting = version === null ? 0 : await waitingCount(tx, actor.orgId, version, question);
        const all = judged.length + unproved.reduce((sum, { n }) => sum + n, 0);
        const shops = new Set(judged.map(({ row }) => row.shopId)).size;
        const verdict = judged.length === 0 ? 'none' : judged.length < FEWEST ? 'not-enough' : 'measured';
        return {
          question,
          engineVersion: ENGINE_VERSION,
          verdict,
          message: messageOf(judged, waiting, verdict),
          judged: all,
          proved: judged.length,
          waiting,
          shops,
          overall: judged.length === 0 ? null : figuresOf(judged),
          byObservationSet: figuresBy(judged, OBSERVATION_SETS, ({ row }) => row.observationSet).map(({ key, figures }) => ({
            observationSet: key,
            figures,
          })),
          byLayout: figuresBy(judged, LAYOUTS, ({ row }) => row.layout).map(({ key, figures }) => ({ layout: key, figures })),
          byProof: figuresBy(judged, ProofMethod.options, ({ row }) => row.method).map(({ key, figures }) => ({ method: key, figures })),
          byFault: faultFigures(judged, unproved),
          accuracy: accuracyOf(judged, unproved),
          reliability: reliabilityOf(judged),
          feedback: feedbackOf(judged, BLIND_SHARE),
          simulated: SIMULATED_STUDY,
          cautions: cautionsOf(judged, all, shops, waiting),
          definitions: DEFINITIONS,
        };
      },
      { readOnly: true },
    );
  }

  /** The proved cases behind a figure, those of the caller's shops, newest first. */
  async listJudgedCases(actor: Actor, filter: JudgedCaseFilter, page: PageInput): Promise<Page<JudgedCase>> {
    requirePermission(actor, 'cases:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'judged-cases', ...filter });
    const after = decodeCursor(page.after, hash, 1)?.[0] ?? null;
    const { judged } = await this.context.inTenant(actor.orgId, (tx) => this.judgedCases(tx, actor, filter), { readOnly: true });
    const { outcome, fault, leading } = filter;
    const wanted = judged.filter(
      (one) =>
        mayOpenShop(actor, one.row.shopId) &&
        (after === null || one.row.caseId < after) &&
        (outcome === undefined || one.outcome === outcome) &&
        (fault === undefined || one.label.includes(fault)) &&
        (leading === undefined || one.leading === leading),
    );
    return toPage(wanted.slice(0, first + 1).map(shown), first, hash, ({ caseId }) => [caseId]);
  }

  private async judgedCases(tx: Tx, actor: Actor, question: QualityQuestion): Promise<{ judged: Judged[]; version: string | null }> {
    const { platformId } = question;
    if (platformId !== undefined && !(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
    const version = question.answers === 'given' ? null : ENGINE_VERSION;
    const rows = await judgedRows(tx, actor.orgId, version, question);
    return { judged: rows.filter((row) => row.codes.length > 0).map(judge), version };
  }
}

function shown({ row, label, outcome, leading, leadingProbability, labelProbability, rank }: Judged): JudgedCase {
  return {
    caseId: row.caseId,
    shopId: row.shopId,
    platformId: row.platformId,
    openedAt: row.openedAt,
    outcome,
    label,
    method: row.method,
    leading,
    leadingProbability,
    labelProbability,
    rank,
    observationSet: row.observationSet,
    engineVersion: row.engineVersion,
    shown: row.shown,
  };
}

function messageOf(judged: readonly Judged[], waiting: number, verdict: EngineQuality['verdict']): string {
  const rest = waiting === 0 ? '' : ` ${waiting} proved cases wait for this engine: re-diagnose history.`;
  if (verdict === 'none') return `No proved case with an answer: how well the engine does on your vehicles is not known.${rest}`;
  const right = judged.filter(({ rank }) => rank === 1).length;
  return `The first answer was proved in ${right} of ${judged.length} proved cases.${verdict === 'not-enough' ? ' Too few to say more than the interval does.' : ''}${rest}`;
}

function cautionsOf(judged: readonly Judged[], all: number, shops: number, waiting: number): string[] {
  const sets = judged.filter(({ label }) => label.length > 1).length;
  return [
    ...(all > judged.length
      ? [
          `${judged.length} of ${all} answered cases are proved. Which ones is the choice of the shops: see the corrected figures and the bounds.`,
        ]
      : []),
    ...(sets > 0
      ? [
          `In ${sets} of ${judged.length} proved cases the proof leaves several causes (weighed charge after an opened circuit); naming any of them counts as right.`,
        ]
      : []),
    ...(judged.length > 0 && shops < 3 ? [`All proved cases come from ${shops === 1 ? 'one shop' : `${shops} shops`}.`] : []),
    ...(judged.length === JUDGED_AT_MOST ? [`The newest ${JUDGED_AT_MOST} proved cases are judged.`] : []),
    ...(waiting > 0 ? ['Cases not yet answered by the present engine are left out.'] : []),
    'Whoever was shown an answer may have looked for it first: compare the cases proved without one.',
  ];
}

const DEFINITIONS = [
  'Proved: an opened part, a laboratory, or a repair verified by after-readings. A judgement is never a label. The engine never saw the proof of the case it answers.',
  'Five outcomes after Yuill and Braun (2012); a mistake of measurement named instead of a fault counts as no response. Shares with Wilson 95 % limits.',
  'Log loss: −ln of the probability given to the proved cause (of a set: to any of it), at least 0.0001; Brier over all hypotheses. Means with normal 95 % limits.',
  'Reliability: isotonic regression of "first answer right" on its probability (CORP, Dimitriadis, Gneiting and Jordan 2021); the band is where a perfectly calibrated engine lies in 95 % of samples of this size.',
  'Corrected for partial proof after Begg and Greenes (1983): right when proof depends on the answer alone. least and most assume nothing.',
  'Every tenth case, by its identity, is judged by the start values alone; whether an answer had been given out before the proof is recorded with the answer.',
];
