import type { EpisodeGroup, ReturnCosts } from '#libs/contracts/index.js';
import { repairsBehind } from './behind.js';
import { linkageCautions } from './cautions.js';
import { rulesInWords, type StandingRules } from './outcome-rules.js';
import { MINIMUM_EPISODES } from './return-rates.js';
import { type ShownShop, withheldCautions } from './shop-names.js';
import type { Period, RepairCount, ReturnedWork } from './shop-records.queries.js';

const Z95 = 1.959963984540054;

interface CostFacts {
  readonly period: Period;
  /** What was asked besides the period. */
  readonly asked: Pick<EpisodeGroup, 'fault' | 'platformId'>;
  readonly work: readonly ReturnedWork[];
  readonly counts: readonly RepairCount[];
  readonly shown: ReadonlyMap<string, ShownShop>;
  readonly withheld: number;
  readonly currencyOf: ReadonlyMap<string, string>;
  readonly rules: StandingRules;
}

/**
 * Cost of returns at the shop whose repair came back.
 *
 * per repair = sum of x/n, 95 % limits -+ 1.96 sqrt(sum of x^2)/n (compound Poisson: the number of returns is as uncertain as their size)
 *
 * x what one return cost, shared equally where several earlier repairs came back with one visit.
 */
export function returnCosts({ period, asked, work, counts, shown, withheld, currencyOf, rules }: CostFacts): ReturnCosts {
  const lines = counts.flatMap(({ shopId, episodes }) => {
    const name = shown.get(shopId);
    if (!name) return [];
    const own = work.filter((one) => one.shopId === shopId);
    const currencies = new Set([...(own.length === 0 ? [currencyOf.get(shopId)!] : []), ...own.map((one) => one.currency)]);
    return [...currencies].map((currency) => ({
      ...name,
      currency,
      episodes,
      casesBehind:
        name.shopId === null
          ? null
          : repairsBehind({ ...asked, shopId: name.shopId, since: period.since, until: period.until ?? undefined, outcome: 'returned' }),
      ...summed(
        own.filter((one) => one.currency === currency),
        episodes,
      ),
    }));
  });
  lines.sort((a, b) => (b.low ?? 0) - (a.low ?? 0) || b.work - a.work);
  const episodes = counts.reduce((sum, one) => sum + one.episodes, 0);
  const linkedShare = episodes === 0 ? 0 : counts.reduce((sum, one) => sum + one.linked, 0) / episodes;
  const returns = work.length;
  const priced = lines.reduce((sum, line) => sum + line.pricedReturns, 0);
  return {
    since: period.since,
    until: period.until,
    lines,
    withheld,
    linkedShare,
    message:
      returns === 0
        ? `None of ${episodes} repairs of this period is known to have come back so far.`
        : `${returns} of ${episodes} repairs of this period have come back so far; the work of ${priced} of the returns shown is recorded.`,
    cautions: [
      ...linkageCautions(linkedShare, episodes),
      ...withheldCautions(withheld),
      'Repairs of the last months have had little time to come back: their returns are still to come.',
    ],
    definitions: [
      ...rulesInWords(rules),
      'A return is charged to the shop whose repair came back, whoever repaired it again. Where several earlier repairs came back with one visit they share its cost equally.',
      'Work: hours × labour rate of the shop that did them, plus parts with a price. Unpaid: work less what the owner was charged, where a price is recorded.',
      `Cost per repair with a 95 % interval (compound Poisson); none under ${MINIMUM_EPISODES} repairs. Ordered by its lower end.`,
    ],
  };
}

function summed(own: readonly ReturnedWork[], episodes: number) {
  const items = own.map(({ hours, parts, paid, labourRate, chargedG, sharers }) => {
    const isPriced = hours !== null || parts !== null || paid !== null;
    // Where neither hours nor parts are known, what the owner was charged is the best word on what the work was.
    const work = hours !== null || parts !== null ? (hours ?? 0) * labourRate + (parts ?? 0) : (paid ?? 0);
    return {
      isPriced,
      hours: (hours ?? 0) / sharers,
      parts: (parts ?? 0) / sharers,
      work: work / sharers,
      paid: (paid ?? 0) / sharers,
      unpaid: paid === null ? 0 : Math.max(0, work - paid) / sharers,
      refrigerantG: chargedG / sharers,
    };
  });
  const sum = (of: (item: (typeof items)[number]) => number) => Math.round(items.reduce((total, item) => total + of(item), 0) * 100) / 100;
  const work = sum((item) => item.work);
  const half = Z95 * Math.sqrt(items.reduce((total, item) => total + item.work ** 2, 0));
  const isKnown = episodes >= MINIMUM_EPISODES;
  return {
    returns: items.length,
    pricedReturns: items.filter((item) => item.isPriced).length,
    hours: sum((item) => item.hours),
    work,
    parts: sum((item) => item.parts),
    refrigerantG: sum((item) => item.refrigerantG),
    paid: sum((item) => item.paid),
    unpaid: sum((item) => item.unpaid),
    costPerRepair: isKnown ? work / episodes : null,
    low: isKnown ? Math.max(0, work - half) / episodes : null,
    high: isKnown ? (work + half) / episodes : null,
  };
}
