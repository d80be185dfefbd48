import { v7 as uuidv7 } from 'uuid';
import { instantText, type PatternBoard, type PatternQuestion, type RecurringPattern, type Task } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { TasksService } from '../tasks/tasks.service.js';
import { basisOf, STALE } from './basis.js';
import { linkageCautions } from './cautions.js';
import { rulesInWords, type StandingRules } from './outcome-rules.js';
import { standingRules } from './outcome-rules.queries.js';
import { boardPlatforms, shopClimates } from './outcomes.queries.js';
import {
  FEWEST_EVENTS,
  FEWEST_SHOPS,
  PATTERN_RULES,
  type PatternFacts,
  type WeighedPatterns,
  WINDOW_DAYS,
  weighedPatterns,
} from './patterns.js';
import { countVerdicts, latestScoring, provedVisits, replaceScores, storedPatterns, watchedVehicles } from './patterns.queries.js';

export const PATTERN_TASK = 'patterns.score';
const VERDICTS = {
  found: ['replicated', 'discovered'],
  weighed: ['replicated', 'discovered', 'not-shown'],
  all: ['replicated', 'discovered', 'not-shown', 'too-few'],
} as const;

export type WeighPatterns = (facts: PatternFacts) => Promise<WeighedPatterns>;

/** Fault A, later fault B: weighed by the worker, read from the stored scores. */
export class PatternsService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  async patterns(actor: Actor, question: PatternQuestion): Promise<PatternBoard> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { platformId } = question;
      if (platformId !== undefined && !(await findPlatform(tx, orgId, platformId))) throw new PlatformNotFound(platformId);
      const scoring = await latestScoring(tx, orgId, PATTERN_RULES);
      const parts = {
        platforms: await boardPlatforms(tx, orgId),
        climates: await shopClimates(tx, orgId),
        rules: await standingRules(tx, orgId),
      };
      if (!scoring) return { ...NEVER_SCORED, definitions: definitionsUnder(parts.rules) };
      const isStale = scoring.basis !== basisOf(PATTERN_RULES, parts);
      if (isStale) await this.startScoring(tx, orgId);
      const counts = await countVerdicts(tx, orgId, scoring.id);
      const verdicts = VERDICTS[question.include ?? 'found'];
      const stored = await storedPatterns(tx, orgId, scoring.id, question.cause ?? null, question.effect ?? null, verdicts);
      const patterns =
        platformId === undefined
          ? stored
          : stored.filter((pattern) => pattern.platforms.some((one) => one.selected && one.platformId === platformId));
      const count = (verdict: RecurringPattern['verdict']) => counts.get(verdict) ?? 0;
      const [replicated, discovered] = [count('replicated'), count('discovered')];
      return {
        scoredAt: scoring.scoredAt,
        isStale,
        vehicles: scoring.vehicles,
        provedVisits: scoring.provedVisits,
        linkedShare: scoring.linkedShare,
        replicated,
        discovered,
        notShown: count('not-shown'),
        tooFew: count('too-few'),
        message:
          replicated + discovered === 0
            ? `No pattern beyond chance is seen in ${scoring.provedVisits} proved visits of ${scoring.vehicles} vehicles. That is not proof that there is none.`
            : `${replicated} ${replicated === 1 ? 'pattern was' : 'patterns were'} found on one half of the vehicles and confirmed on the other; ${discovered} found and not confirmed.`,
        patterns,
        cautions: [
          ...(isStale ? [STALE] : []),
          ...linkageCautions(scoring.linkedShare, scoring.provedVisits),
          'A pattern says what follows what more often than on like vehicles. It does not say why: parts, work and use may lie behind it.',
        ],
        definitions: definitionsUnder(parts.rules),
      };
    });
  }

  /** Hands the weighing to the worker; a weighing that still waits or runs is not doubled. */
  async requestScoring(actor: Actor): Promise<Task> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { task, isNew } = await this.startScoring(tx, orgId);
      if (isNew) await appendAudit(tx, actor, this.context.clock(), 'patterns.scoring-requested', { type: 'task', id: task.id });
      return task;
    });
  }

  private async startScoring(tx: Tx, orgId: string): Promise<{ readonly task: Task; readonly isNew: boolean }> {
    const pending = await this.tasks.pendingTask(tx, orgId, PATTERN_TASK);
    if (pending) return { task: pending, isNew: false };
    const id = await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, PATTERN_TASK, 1);
    return { task: (await this.tasks.findTask(tx, orgId, id))!, isNew: true };
  }

  /**
   * The job itself: reads in one transaction, weighs outside any, stores in another. Safe to run again. `weigh` may do so in another thread: a region of a
   * million cases takes long enough for the transactions of other jobs to be given up where one thread does both.
   */
  async scorePatterns(orgId: string, taskId: string, weigh: WeighPatterns = async (facts) => weighedPatterns(facts)): Promise<void> {
    const { inTenant, clock } = this.context;
    const now = clock();
    const facts = await inTenant(orgId, async (tx) => {
      const task = await this.tasks.findTask(tx, orgId, taskId);
      if (!task) throw new Error(`there is no task ${taskId} to weigh patterns for`);
      await this.tasks.reportProgress(tx, orgId, taskId, 0, 'running', null);
      return {
        vehicles: await watchedVehicles(tx, orgId),
        visits: await provedVisits(tx, orgId),
        platforms: await boardPlatforms(tx, orgId),
        climates: await shopClimates(tx, orgId),
        rules: await standingRules(tx, orgId),
        now,
      };
    });
    const { vehicles, patterns } = await weigh(facts);
    const linked = facts.visits.filter((visit) => visit.isLinked).length;
    await inTenant(orgId, async (tx) => {
      const scoring = {
        id: uuidv7(),
        scoredAt: instantText(now),
        vehicles,
        provedVisits: facts.visits.length,
        linkedShare: facts.visits.length === 0 ? 0 : linked / facts.visits.length,
        basis: basisOf(PATTERN_RULES, facts),
      };
      const before = await latestScoring(tx, orgId, PATTERN_RULES);
      const known = before ? await storedPatterns(tx, orgId, before.id, null, null, ['replicated']) : [];
      await replaceScores(tx, orgId, scoring, PATTERN_RULES, patterns);
      // Only what is new is told: a pattern that was known stays on the board.
      for (const { cause, effect, verdict, replication, exposedEvents } of patterns) {
        if (verdict !== 'replicated' || known.some((one) => one.cause === cause && one.effect === effect)) continue;
        const { ratio, low, high } = replication;
        await appendEvent(tx, orgId, now, 'pattern.found', scoring.id, { cause, effect, ratio, low, high, exposedEvents });
      }
      await this.tasks.reportProgress(tx, orgId, taskId, 1, 'done', `${patterns.length} pairs of faults weighed`);
    });
  }

  /** The job gave up: said on the task, so that nobody waits for it. */
  async scoringFailed(orgId: string, taskId: string): Promise<void> {
    await this.context.inTenant(orgId, (tx) =>
      this.tasks.reportProgress(
        tx,
        orgId,
        taskId,
        0,
        'failed',
        'The weighing failed; ask for it again. The log of the worker has the reason.',
      ),
    );
  }
}

const definitionsUnder = (rules: StandingRules): string[] => [
  'Only proved causes count, and only visits whose proof names one cause. Good readings after a circuit was opened and charged count for the cause that was named, though a wrong charge may have been cured along with it. What was found at the first visit of a vehicle is no event; its time before is not counted.',
  `A vehicle's time is cut at the earlier fault: the ${WINDOW_DAYS} days after it, from the second day on, are exposed; all other watched time is not.`,
  `${rulesInWords(rules)[1]!} What it then comes back with is no event; from there on it is watched again.`,
  'Compared within platform, age (bands of three years), season and climate: Mantel–Haenszel rate ratio, one-sided exact mid-p.',
  'Found: q ≤ 0.05 (Benjamini–Hochberg over all pairs that could pass), lower 5 % bound of the shrunken ratio (EB05) above 1.5, on one fixed half of the vehicles. Replicated: on the other half the ratio is above 1 with p ≤ 0.05; that ratio is the one to quote.',
  `At least ${FEWEST_EVENTS} times, proved at ${FEWEST_SHOPS} or more shops. The reverse order is the negative control.`,
];

const NEVER_SCORED: Omit<PatternBoard, 'definitions'> = {
  scoredAt: null,
  isStale: false,
  vehicles: 0,
  provedVisits: 0,
  linkedShare: 0,
  replicated: 0,
  discovered: 0,
  notShown: 0,
  tooFew: 0,
  message: 'Patterns have not been weighed yet by the present rules. A director asks for it with POST /v1/outcomes/patterns/scoring.',
  patterns: [],
  cautions: [],
};
