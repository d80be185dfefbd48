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
import { lastChange } from '../audit/audit.queries.js';
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
/** Reviews kept in memory, some ten kilobytes each; one is used only while nothing in its organisation has changed. */
const KEPT_REVIEWS = 100;

/** Where training, parts or equipment are at fault: shops compared fairly, with their records first. */
export class ShopsReviewService {
  /** By question, viewer's shops and day. A review reads every repair of the region: whoever asks while one is being made waits for that one. */
  private readonly kept = new Map<string, { readonly change: string | null; readonly review: Promise<ShopReview> }>();

  constructor(private readonly context: CasebookContext) {}

  /** Returns of each shop's work against what its case mix explains. */
  async reviewShops(actor: Actor, question: ShopReviewQuestion): Promise<ShopReview> {
    requirePermission(actor, 'outcomes:read');
    const { platformId, since, until } = question;
    if (since !== undefined && until !== undefined && until <= since) throw new PeriodUpsideDown(since, until);
    const { orgId, shopIds } = actor;
    const change = await this.context.inTenant(orgId, async (tx) => {
      if (platformId !== undefined && !(await findPlatform(tx, orgId, platformId))) throw new PlatformNotFound(platformId);
      return lastChange(tx, orgId);
    });
    const key = JSON.stringify([orgId, shopIds, this.context.clock().toISOString().slice(0, 10), Object.entries(question).sort()]);
    const found = this.kept.get(key);
    // Waited for outside any transaction: those who wait hold no connection.
    if (found && found.change === change) return found.review;
    const review = this.review(actor, question);
    if (this.kept.size >= KEPT_REVIEWS) this.kept.delete(this.kept.keys().next().value!);
    this.kept.set(key, { change, review });
    review.catch(() => {
      if (this.kept.get(key)?.review === review) this.kept.delete(key);
    });
    return review;
  }

  private async review(actor: Actor, question: ShopReviewQuestion): Promise<ShopReview> {
    const { since, until } = question;
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
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
