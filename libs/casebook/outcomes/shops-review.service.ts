import type {
  ChargeAccuracy,
  PeriodQuestion,
  RecordQuality,
  RefrigerantBalance,
  RefrigerantQuestion,
  ReturnCosts,
  ShopReview,
  ShopReviewQuestion,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { clocksOf } from './clocks.js';
import { fittedClock } from './heat-clock.js';
import { standingRules } from './outcome-rules.queries.js';
import { PeriodUpsideDown } from './outcomes.errors.js';
import { shopClimates } from './outcomes.queries.js';
import { recordQuality } from './record-quality.js';
import { chargeAccuracy, refrigerantBalance, WHOLE_CHARGE_ACTIONS } from './refrigerant.js';
import { returnCosts } from './return-costs.js';
import { DEFAULT_HORIZONS } from './return-rates.js';
import { shopReview } from './shop-funnel.js';
import { shownShops } from './shop-names.js';
import { type Period, recordCounts, repairCounts, returnedWork, weighedCharges } from './shop-records.queries.js';
import { recordedCases, reviewedShops, reviewedSpans } from './shops-review.queries.js';

const YEAR_MS = 365 * 86_400_000;

/** Where training, parts or equipment are at fault: shops compared fairly, with their records first. */
export class ShopsReviewService {
  constructor(private readonly context: CasebookContext) {}

  /** Returns of each shop's work against what its case mix explains. */
  async reviewShops(actor: Actor, question: ShopReviewQuestion): Promise<ShopReview> {
    requirePermission(actor, 'outcomes:read');
    const { platformId, since, until } = question;
    if (since !== undefined && until !== undefined && until <= since) throw new PeriodUpsideDown(since, until);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      if (platformId !== undefined && !(await findPlatform(tx, orgId, platformId))) throw new PlatformNotFound(platformId);
      const asOf = this.context.clock();
      const spans = await reviewedSpans(tx, orgId, question);
      const { horizon: _horizon, ...group } = question;
      return shopReview({
        group,
        spans,
        recorded: await recordedCases(tx, orgId, since, until),
        ...shownShops(actor, await reviewedShops(tx, orgId)),
        view: {
          clock: 'degree-days',
          horizons: [question.horizon ?? DEFAULT_HORIZONS['degree-days'].at(-1)!],
          ...fittedClock(spans, clocksOf(await shopClimates(tx, orgId), asOf, await standingRules(tx, orgId)), asOf),
          asOf,
        },
      });
    });
  }

  /** What returns cost, at the shop whose repair came back. */
  async returnCosts(actor: Actor, question: PeriodQuestion): Promise<ReturnCosts> {
    return this.ofPeriod(actor, question, async (tx, period) => {
      const shops = await reviewedShops(tx, actor.orgId);
      return returnCosts({
        period,
        asked: { fault: question.fault, platformId: question.platformId },
        work: await returnedWork(tx, actor.orgId, period, question),
        counts: await repairCounts(tx, actor.orgId, period, question),
        rules: await standingRules(tx, actor.orgId),
        currencyOf: new Map(shops.map((shop) => [shop.id, shop.currency])),
        ...shownShops(actor, shops),
      });
    });
  }

  /** How well each shop proves and records. */
  async recordQuality(actor: Actor, question: PeriodQuestion): Promise<RecordQuality> {
    return this.ofPeriod(actor, question, async (tx, period) => {
      const { shown, withheld } = shownShops(actor, await reviewedShops(tx, actor.orgId));
      return recordQuality(period, question, await recordCounts(tx, actor.orgId, period, question), shown, withheld);
    });
  }

  /** How near the specified charge each shop fills. */
  async chargeAccuracy(actor: Actor, question: PeriodQuestion): Promise<ChargeAccuracy> {
    return this.ofPeriod(actor, question, async (tx, period) => {
      const { platformId = null, fault = null } = question;
      const { shown, withheld } = shownShops(actor, await reviewedShops(tx, actor.orgId));
      return chargeAccuracy(
        period,
        await weighedCharges(tx, actor.orgId, period, WHOLE_CHARGE_ACTIONS, platformId, fault),
        shown,
        withheld,
      );
    });
  }

  /** What refrigerant was recovered and charged, by shop and month. */
  async refrigerantBalance(actor: Actor, question: RefrigerantQuestion): Promise<RefrigerantBalance> {
    return this.ofPeriod(actor, question, async (tx, period) => {
      const { shown, withheld } = shownShops(actor, await reviewedShops(tx, actor.orgId));
      const charges = await weighedCharges(tx, actor.orgId, period, [...WHOLE_CHARGE_ACTIONS, 'top-up'], null, null);
      return refrigerantBalance(period, question.assessment ?? 'AR4', charges, shown, withheld);
    });
  }

  private async ofPeriod<T>(actor: Actor, question: PeriodQuestion, work: (tx: Tx, period: Period) => Promise<T>): Promise<T> {
    requirePermission(actor, 'outcomes:read');
    const yearAgo = new Date(this.context.clock().getTime() - YEAR_MS).toISOString().slice(0, 10);
    const { since = yearAgo, until = null, platformId } = question;
    if (until !== null && until <= since) throw new PeriodUpsideDown(since, until);
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (platformId !== undefined && !(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
      return work(tx, { since, until });
    });
  }
}
