import type {
  ComparisonAnswer,
  ComparisonQuestion,
  Episode,
  EpisodeGroup,
  Page,
  PageInput,
  ReturnAnswer,
  ReturnQuestion,
} from '#libs/contracts/index.js';
import { causeOnly, logRank } from '#libs/outcomes/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { clocksOf } from './clocks.js';
import { fittedClock } from './heat-clock.js';
import { type EpisodeSpan, listEpisodes, shopClimates, spansOf } from './outcomes.queries.js';
import { DEFAULT_HORIZONS, type FittedViewpoint, MINIMUM_EPISODES, RETURNED, returnAnswer, sampleOf } from './return-rates.js';

export class OutcomesService {
  constructor(private readonly context: CasebookContext) {}

  /** Probability that the repairs of a group came back, by horizon, wherever the vehicle came back to. */
  async returnRates(actor: Actor, question: ReturnQuestion): Promise<ReturnAnswer> {
    requirePermission(actor, 'outcomes:read');
    const { view, groups } = await this.load(actor, question, [groupOf(question)]);
    return returnAnswer(groupOf(question), groups[0]!, view);
  }

  /** Two groups side by side on one clock. */
  async compareRepairs(actor: Actor, question: ComparisonQuestion): Promise<ComparisonAnswer> {
    requirePermission(actor, 'outcomes:read');
    const { view, groups } = await this.load(actor, question, [question.a, question.b]);
    const a = returnAnswer(question.a, groups[0]!, view);
    const b = returnAnswer(question.b, groups[1]!, view);
    if (a.episodes < MINIMUM_EPISODES || b.episodes < MINIMUM_EPISODES || a.returns + b.returns === 0) {
      const message = `Not enough to compare: ${a.episodes} and ${b.episodes} repairs with ${a.returns} and ${b.returns} returns.`;
      return { a, b, chiSquare: null, degreesOfFreedom: 1, pValue: null, message };
    }
    // Other ends are censored: the test compares the cause-specific hazard of a return.
    const test = logRank(groups.map((spans) => causeOnly(sampleOf(spans, view), RETURNED)));
    const differs = test.pValue !== null && test.pValue < 0.05;
    return {
      a,
      b,
      chiSquare: test.chiSquare,
      degreesOfFreedom: test.degreesOfFreedom,
      pValue: test.pValue,
      message: differs
        ? 'The two groups differ in how soon they come back by more than chance explains (log-rank test). They may also differ in vehicles, shops and seasons.'
        : 'No difference beyond chance is seen (log-rank test). That is not proof that there is none.',
    };
  }

  /** The repairs behind a figure. Those of shops the caller may not open are counted in figures but not listed. */
  async listEpisodes(actor: Actor, group: EpisodeGroup, page: PageInput): Promise<Page<Episode>> {
    requirePermission(actor, 'outcomes:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'episodes', ...group });
    const after = decodeCursor(page.after, hash, 2);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const rows = await listEpisodes(tx, actor.orgId, actor.shopIds, group, after, first + 1);
      const clocks = clocksOf(await shopClimates(tx, actor.orgId), this.context.clock());
      const episodes = rows.map(({ homeShopId, ...row }): Episode => {
        const ownEnd = row.endShopId !== null && mayOpenShop(actor, row.endShopId);
        return {
          ...row,
          ...clocks.between(homeShopId, row.startedOn, row.endedOn),
          endCaseId: ownEnd ? row.endCaseId : null,
          endShopId: ownEnd ? row.endShopId : null,
        };
      });
      return toPage(episodes, first, hash, (row) => [row.startedOn, row.id]);
    });
  }

  private async load(
    actor: Actor,
    question: Pick<ReturnQuestion, 'clock' | 'horizons'>,
    groups: readonly EpisodeGroup[],
  ): Promise<{ view: FittedViewpoint; groups: EpisodeSpan[][] }> {
    return this.context.inTenant(actor.orgId, async (tx) => {
      const found: EpisodeSpan[][] = [];
      for (const group of groups) {
        if (group.platformId !== undefined && !(await findPlatform(tx, actor.orgId, group.platformId)))
          throw new PlatformNotFound(group.platformId);
        if (group.shopId !== undefined && !(mayOpenShop(actor, group.shopId) && (await findShop(tx, actor.orgId, group.shopId)))) {
          throw new ShopNotFound(group.shopId);
        }
        found.push(await spansOf(tx, actor.orgId, group));
      }
      const clock = question.clock ?? 'degree-days';
      const horizons = question.horizons?.length ? [...question.horizons].sort((a, b) => a - b) : DEFAULT_HORIZONS[clock];
      const asOf = this.context.clock();
      // Both groups of a comparison are read on one clock, fitted on both together.
      const { clocks, fit } = fittedClock(found.flat(), clocksOf(await shopClimates(tx, actor.orgId), asOf), asOf);
      return { groups: found, view: { clock, horizons, clocks, fit, asOf } };
    });
  }
}

function groupOf({ clock: _clock, horizons: _horizons, ...group }: ReturnQuestion): EpisodeGroup {
  return group;
}
