import { cellFigures, standingCells } from '#libs/casebook/outcomes/board.js';
import { clocksOf } from '#libs/casebook/outcomes/clocks.js';
import { fittedClock } from '#libs/casebook/outcomes/heat-clock.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { weighedPatterns } from '#libs/casebook/outcomes/patterns.js';
import { DEFAULT_HORIZONS } from '#libs/casebook/outcomes/return-rates.js';
import { shopReview } from '#libs/casebook/outcomes/shop-funnel.js';
import { watchBoard } from '#libs/casebook/outcomes/watches.js';
import { DEBRIS_PLATFORMS, DEMO_SHOPS, EMERGING, planRegion, WEAK_SHOP } from '#libs/demo/index.js';
import { cellsOf } from '../support/episodes.js';
import { climatesOf, END, PLATFORMS, regionOf } from './outcomes-planned.js';

/** Lines of a question's answer that a reader sees without turning the page. */
const FIRST_PAGE = 10;

/** Planted truths by the name of their question. */
export const PLANTED = ['debris', 'cartridges', 'weakShop', 'batch'] as const;

/** Which of the planted truths stand on the first page of their question, and what else is called there. */
export interface Shown {
  readonly debris: boolean;
  readonly cartridges: boolean;
  readonly weakShop: boolean;
  readonly batch: boolean;
  /** Patterns called replicated without doubt, shops called above, streams with an alarm, that nobody planted. */
  readonly otherPatterns: number;
  readonly otherShops: number;
  readonly otherAlarms: number;
}

export function shownIn(seed: number, cases: number, plain: boolean): Shown {
  const { spans, onsets, vehicles, visits, recorded } = regionOf(planRegion(seed, cases, undefined, { plain }));
  const clocks = clocksOf(climatesOf(), END, COMMON_RULES);
  const { patterns } = weighedPatterns({ vehicles, visits, platforms: PLATFORMS, climates: climatesOf(), rules: COMMON_RULES, now: END });
  const found = patterns.filter(({ verdict }) => verdict === 'replicated' || verdict === 'discovered');
  const isDebris = ({ cause, effect }: (typeof found)[number]) => cause === 'compressor-wear' && effect === 'condenser-passages';
  const view = { clock: 'degree-days', horizons: [DEFAULT_HORIZONS['degree-days'][1]!], clocks, asOf: END } as const;
  const placed = spans.flatMap((span) => (span.platformId === null ? [] : [{ ...span, platformId: span.platformId }]));
  const lines = standingCells(cellFigures(cellsOf(placed), view), PLATFORMS)
    .filter(({ episodes }) => episodes >= 5)
    .sort((a, b) => b.low - a.low)
    .slice(0, FIRST_PAGE);
  const review = shopReview({
    group: {},
    spans,
    recorded,
    shown: new Map(DEMO_SHOPS.map(({ code, name }) => [code, { shopId: code, shopCode: code, shopName: name }])),
    withheld: 0,
    view: { ...view, horizons: [DEFAULT_HORIZONS['degree-days'].at(-1)!], ...fittedClock(spans, clocks, END) },
  });
  const above = review.shops.filter(({ verdict }) => verdict === 'above');
  const { watches } = watchBoard({ onsets, spans, platforms: PLATFORMS, clocks, delays: [], now: END });
  const alarms = watches.filter((watch) => watch.alarms.length > 0);
  const isBatch = ({ kind, platformId, fault }: (typeof alarms)[number]) =>
    kind === 'new-faults' && platformId === EMERGING.platform && fault === EMERGING.fault;
  return {
    debris: found.slice(0, FIRST_PAGE).some((pattern) => isDebris(pattern) && pattern.verdict === 'replicated' && !pattern.doubtful),
    cartridges: lines.some(
      ({ platformId, fault, intent }) => DEBRIS_PLATFORMS.has(platformId) && fault === 'filter-cartridge' && intent === 'temporary',
    ),
    weakShop: above.slice(0, FIRST_PAGE).some(({ shopCode }) => shopCode === WEAK_SHOP),
    batch: alarms.slice(0, FIRST_PAGE).some(isBatch),
    otherPatterns: found.filter((pattern) => pattern.verdict === 'replicated' && !pattern.doubtful && !isDebris(pattern)).length,
    otherShops: above.filter(({ shopCode }) => shopCode !== WEAK_SHOP).length,
    otherAlarms: alarms.filter((one) => !isBatch(one)).length,
  };
}
