import { v7 as uuidv7 } from 'uuid';
import { instantText, type NewPolicy, type Policy, type PolicyFilter, type PolicyReport } from '#libs/contracts/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { clocksOf, dayNumber, dayOf } from '../outcomes/clocks.js';
import { fittedClock } from '../outcomes/heat-clock.js';
import { repairSpans } from '../outcomes/holding.queries.js';
import { standingRules } from '../outcomes/outcome-rules.queries.js';
import { shopClimates } from '../outcomes/outcomes.queries.js';
import { shownShops } from '../outcomes/shop-names.js';
import { reviewedShops } from '../outcomes/shops-review.queries.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { PolicyContradicts, PolicyDayOutOfReach, PolicyNotFound } from './policies.errors.js';
import { endPolicy, findPolicy, insertPolicy, listPolicies } from './policies.queries.js';
import { FOLLOWED_DEGREE_DAYS, policyReport } from './policy-report.js';

const YEAR_DAYS = 366;

/** What the director forbids or requires, whether it is followed, and whether it worked. */
export class PoliciesService {
  constructor(private readonly context: CasebookContext) {}

  async setPolicy(actor: Actor, input: NewPolicy): Promise<Policy> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      // The platform's lock puts policies of one platform in a row: two that contradict each other cannot slip in side by side.
      if (!(await findPlatform(tx, orgId, input.platformId, { lock: true }))) throw new PlatformNotFound(input.platformId, '/platformId');
      const at = this.context.clock();
      const { today } = this;
      const since = input.since ?? today;
      const latest = dayOf(dayNumber(today) + YEAR_DAYS);
      if (since > latest) throw new PolicyDayOutOfReach(since, latest);
      const standing = await listPolicies(tx, orgId, input.platformId, input.fault, since);
      const other = standing.find((one) => one.action === input.action || (one.rule === 'require' && input.rule === 'require'));
      if (other) throw new PolicyContradicts(other);
      const policy: Policy = {
        id: uuidv7(),
        platformId: input.platformId,
        fault: input.fault,
        action: input.action,
        rule: input.rule,
        since,
        endedOn: null,
        note: input.note ?? null,
        createdAt: instantText(at),
      };
      await insertPolicy(tx, orgId, policy);
      const { fault, action, rule } = policy;
      await appendAudit(tx, actor, at, 'policy.set', { type: 'policy', id: policy.id }, { fault, action, rule, since });
      return (await findPolicy(tx, orgId, policy.id))!;
    });
  }

  /** Policies a technician works under, and what a director has set. */
  async listPolicies(actor: Actor, filter: PolicyFilter): Promise<Policy[]> {
    requirePermission(actor, 'platforms:read');
    const { platformId, fault, state = 'in-force' } = filter;
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (platformId !== undefined && !(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
      return listPolicies(tx, actor.orgId, platformId ?? null, fault ?? null, state === 'all' ? null : this.today);
    });
  }

  /** Ends a policy today. It stays known, so that what it did can be judged. */
  async endPolicy(actor: Actor, id: string): Promise<Policy> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const policy = await findPolicy(tx, actor.orgId, id);
      if (!policy) throw new PolicyNotFound(id);
      if (policy.endedOn !== null) return policy;
      await endPolicy(tx, actor.orgId, id, this.today);
      await appendAudit(tx, actor, this.context.clock(), 'policy.ended', { type: 'policy', id });
      return (await findPolicy(tx, actor.orgId, id))!;
    });
  }

  /** Adherence and effect. */
  async reportPolicy(actor: Actor, id: string): Promise<PolicyReport> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const policy = await findPolicy(tx, orgId, id);
      if (!policy) throw new PolicyNotFound(id);
      const platform = (await findPlatform(tx, orgId, policy.platformId))!;
      const asOf = this.context.clock();
      const spans = await repairSpans(tx, orgId, policy.fault);
      return policyReport({
        policy,
        layout: platform.layout,
        spans,
        ruled: new Set((await listPolicies(tx, orgId, null, policy.fault, null)).map((one) => one.platformId)),
        ...shownShops(actor, await reviewedShops(tx, orgId)),
        view: {
          clock: 'degree-days',
          horizons: [FOLLOWED_DEGREE_DAYS],
          ...fittedClock(spans, clocksOf(await shopClimates(tx, orgId), asOf, await standingRules(tx, orgId)), asOf),
          asOf,
        },
      });
    });
  }

  private get today(): string {
    return this.context.clock().toISOString().slice(0, 10);
  }
}
