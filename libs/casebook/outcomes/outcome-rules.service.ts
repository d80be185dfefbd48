import { v7 as uuidv7 } from 'uuid';
import type { NewOutcomeRules, OutcomeRules } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { boundTo, type CasebookContext } from '../context.js';
import { NeedsAllShops } from '../events/webhooks.errors.js';
import { TasksService } from '../tasks/tasks.service.js';
import { rulesInWords } from './outcome-rules.js';
import { insertRules, lockRules, rulesSetAt, standingRules } from './outcome-rules.queries.js';
import { REBUILD_TASK } from './rebuild-task.js';

/** How returns are told apart, for every figure of an organisation. */
export class OutcomeRulesService {
  constructor(private readonly context: CasebookContext) {}

  async outcomeRules(actor: Actor): Promise<OutcomeRules> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, (tx) => this.answer(tx, actor.orgId));
  }

  /** Sets them, for figures of every shop. Whatever is derived is derived again by the worker; the same values again change nothing. */
  async setOutcomeRules(actor: Actor, input: NewOutcomeRules): Promise<OutcomeRules> {
    requirePermission(actor, 'platforms:write');
    if (actor.shopIds !== null) throw new NeedsAllShops();
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      await lockRules(tx, orgId);
      const { version, ...before } = await standingRules(tx, orgId);
      const changed = (['sameVisitDays', 'lookBackDays', 'presenceDays'] as const).filter((name) => before[name] !== input[name]);
      if (changed.length === 0) return this.answer(tx, orgId);
      const at = this.context.clock();
      await insertRules(tx, orgId, uuidv7(), version + 1, input, at);
      await appendAudit(
        tx,
        actor,
        at,
        'outcome-rules.set',
        { type: 'organisation', id: orgId },
        { version: version + 1, before, after: input },
      );
      // One that runs already has derived some of it by the earlier rules.
      await new TasksService(boundTo(this.context, tx, orgId)).startTask(orgId, REBUILD_TASK, 0);
      return this.answer(tx, orgId);
    });
  }

  private async answer(tx: Tx, orgId: string): Promise<OutcomeRules> {
    const rules = await standingRules(tx, orgId);
    const pending = await new TasksService(this.context).pendingTask(tx, orgId, REBUILD_TASK);
    return { ...rules, setAt: await rulesSetAt(tx, orgId), pendingTaskId: pending?.id ?? null, definitions: rulesInWords(rules) };
  }
}
