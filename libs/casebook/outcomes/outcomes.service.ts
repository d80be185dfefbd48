import type {
  ComparisonAnswer,
  ComparisonQuestion,
  Episode,
  EpisodeGroup,
  GroupDimension,
  GroupedQuestion,
  GroupedReturns,
  Page,
  PageInput,
  ReturnAnswer,
  ReturnQuestion,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { causeOnly, logRank } from '#libs/outcomes/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { FOLD_JOB } from './board.service.js';
import { countEpisodes } from './board-roll.queries.js';
import { clocksOf } from './clocks.js';
import type { EpisodeColumns } from './episode-records.js';
import { groupedReturns } from './grouped.js';
import { apartFields } from './grouped-cells.js';
import { groupPlaces } from './groups.js';
import { fittedClockOf } from './heat-clock.js';
import { KnownPacks } from './known-packs.js';
import { standingRules } from './outcome-rules.queries.js';
import { MixedRefrigerants, OneOfParts, PeriodUpsideDown } from './outcomes.errors.js';
import { boardPlatforms, listEpisodes, refrigerantsOf, shopClimates } from './outcomes.queries.js';
import {
  clocksRun,
  DEFAULT_HORIZONS,
  type FittedViewpoint,
  MINIMUM_EPISODES,
  RETURNED,
  readableColumns,
  returnAnswer,
  sampleOfColumns,
} from './return-rates.js';
import { shownShops } from './shop-names.js';
import { reviewedShops } from './shops-review.queries.js';

/** So many repairs read one by one cost a question more than a fold of their cells saves all the others. */
const WORTH_PACKING = 2_000;
/** So many take a table some fifty milliseconds. */
const WORTH_A_THREAD = 20_000;

export class OutcomesService {
  private readonly packs = new KnownPacks();

  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  /** Probability that the repairs of a group came back, by horizon, wherever the vehicle came back to. */
  async returnRates(actor: Actor, question: ReturnQuestion): Promise<ReturnAnswer> {
    requirePermission(actor, 'outcomes:read');
    const group = groupOf(question);
    const { view, groups } = await this.load(actor, question, [group]);
    return returnAnswer(group, groups[0]!, view);
  }

  /** Reads into memory what curves of a large region are made of, platform by platform. */
  async readAhead(orgId: string): Promise<void> {
    const { platforms, shopIds } = await this.context.inTenant(orgId, async (tx) => ({
      platforms: (await countEpisodes(tx, orgId, WORTH_PACKING)) < WORTH_PACKING ? [] : await boardPlatforms(tx, orgId),
      shopIds: (await shopClimates(tx, orgId)).map(({ id }) => id),
    }));
    for (const { id } of platforms) await this.context.inTenant(orgId, (tx) => this.packs.readAhead(tx, orgId, id, shopIds));
  }

  /** Every cell of a table told apart by up to three dimensions. */
  async groupedReturns(actor: Actor, question: GroupedQuestion): Promise<GroupedReturns> {
    requirePermission(actor, 'outcomes:read');
    const { by: asked, clock = 'degree-days', horizon, ...group } = question;
    const by = [...new Set(asked)];
    const parts = by.flatMap((dimension) => PART_FIELDS[dimension] ?? []);
    if (parts.length > 1) throw new OneOfParts();
    const { groupElsewhere } = this.context;
    if (groupElsewhere) {
      const isLarge = await this.context.inTenant(actor.orgId, async (tx) => {
        await this.judge(tx, actor, group);
        return (await countEpisodes(tx, actor.orgId, WORTH_A_THREAD)) >= WORTH_A_THREAD;
      });
      if (isLarge) return groupElsewhere(actor, question, this.context.clock());
    }
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      await this.judge(tx, actor, group);
      const climates = await shopClimates(tx, orgId);
      const shopIds = climates.map(({ id }) => id);
      const places = groupPlaces(group, climates);
      const apart = await this.packs.apartOf(tx, orgId, group, places, shopIds, clock === 'distance', apartFields(by), parts[0] ?? null);
      if (apart.unpacked >= WORTH_PACKING) await this.tasks.callJob(tx, orgId, FOLD_JOB, orgId);
      const asOf = this.context.clock();
      const { clocks, fit } = fittedClockOf([apart.episodes], clocksOf(climates, asOf, await standingRules(tx, orgId)), asOf);
      return groupedReturns({
        group,
        by,
        apart,
        climates,
        platforms: await boardPlatforms(tx, orgId),
        ...shownShops(actor, await reviewedShops(tx, orgId)),
        mayOpen: (shopId) => mayOpenShop(actor, shopId),
        view: { clock, horizons: [horizon ?? DEFAULT_HORIZONS[clock][1]!], clocks, fit, asOf },
      });
    });
  }

  /** Two groups side by side on one clock. @throws MixedRefrigerants */
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
    const test = logRank(groups.map((episodes) => causeOnly(sampleOfColumns(readableColumns(episodes, view.clock), view), RETURNED)));
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
      const climates = await shopClimates(tx, actor.orgId);
      const rows = await listEpisodes(tx, actor.orgId, actor.shopIds, group, groupPlaces(group, climates), after, first + 1);
      const clocks = clocksOf(climates, this.context.clock(), await standingRules(tx, actor.orgId));
      const episodes = rows.map(({ homeShopId, distanceKm, ...row }): Episode => {
        const ownEnd = row.endShopId !== null && mayOpenShop(actor, row.endShopId);
        return {
          ...row,
          ...clocksRun({ homeShopId, distanceKm, ...row }, clocks),
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
  ): Promise<{ view: FittedViewpoint; groups: EpisodeColumns[] }> {
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      for (const group of groups) await this.judge(tx, actor, group);
      const [a, b] =
        groups.length < 2 ? [[], []] : [await refrigerantsOf(tx, orgId, groups[0]!), await refrigerantsOf(tx, orgId, groups[1]!)];
      if (a.length > 0 && b.length > 0 && a.join() !== b.join()) throw new MixedRefrigerants(a, b);
      const climates = await shopClimates(tx, orgId);
      const shopIds = climates.map(({ id }) => id);
      const clock = question.clock ?? 'degree-days';
      const found: EpisodeColumns[] = [];
      let unpacked = 0;
      for (const group of groups) {
        const read = await this.packs.episodesOf(tx, orgId, group, groupPlaces(group, climates), shopIds, clock === 'distance');
        found.push(read.episodes);
        unpacked += read.unpacked;
      }
      if (unpacked >= WORTH_PACKING) await this.tasks.callJob(tx, orgId, FOLD_JOB, orgId);
      const horizons = question.horizons?.length ? [...question.horizons].sort((one, other) => one - other) : DEFAULT_HORIZONS[clock];
      const asOf = this.context.clock();
      // Both groups of a comparison are read on one clock, fitted on both together.
      const { clocks, fit } = fittedClockOf(found, clocksOf(climates, asOf, await standingRules(tx, orgId)), asOf);
      return { groups: found, view: { clock, horizons, clocks, fit, asOf } };
    });
  }

  /** @throws PlatformNotFound, ShopNotFound, PeriodUpsideDown */
  private async judge(tx: Tx, actor: Actor, { platformId, shopId, since, until }: EpisodeGroup): Promise<void> {
    if (since !== undefined && until !== undefined && until <= since) throw new PeriodUpsideDown(since, until);
    if (platformId !== undefined && !(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
    if (shopId !== undefined && !(mayOpenShop(actor, shopId) && (await findShop(tx, actor.orgId, shopId)))) throw new ShopNotFound(shopId);
  }
}

const PART_FIELDS: Readonly<Partial<Record<GroupDimension, 'number' | 'brand' | 'lot'>>> = {
  partNumber: 'number',
  partBrand: 'brand',
  partLot: 'lot',
};

function groupOf({ clock: _clock, horizons: _horizons, ...group }: ReturnQuestion): EpisodeGroup {
  return group;
}
