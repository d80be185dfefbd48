import type { Completeness, EpisodeGroup, ShopReview, ShopStanding } from '#libs/contracts/index.js';
import { causeOnly, exactPoisson, ratioLimits, riskSets, shopFunnel, shrunkRates, stepAt } from '#libs/outcomes/index.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions, linkedShareOf } from './cautions.js';
import { definitionsOf, type FittedViewpoint, isReturn, RETURNED, sampleOf } from './return-rates.js';
import { type ShownShop, withheldCautions } from './shop-names.js';
import type { RecordedCases, ReviewedSpan } from './shops-review.queries.js';

/** A stratum stands for itself with as many repairs from as many shops; otherwise the next coarser one is used. */
const FEWEST_IN_STRATUM = 20;
const FEWEST_SHOPS = 3;
/** A shop is judged from this many expected returns on. */
const FEWEST_EXPECTED = 5;
/** Linked shares this far under the region's make a shop look better than it is. */
const LINKAGE_GAP = 0.1;

export interface ReviewFacts {
  /** What was asked, as the list of episodes takes it. */
  readonly group: EpisodeGroup;
  readonly spans: readonly ReviewedSpan[];
  readonly recorded: ReadonlyMap<string, RecordedCases>;
  readonly shown: ReadonlyMap<string, ShownShop>;
  readonly withheld: number;
  readonly view: FittedViewpoint;
}

/**
 * Returns of each shop's work over those its case mix would have had anywhere.
 *
 * expected = sum over the shop's repairs of H_s(t), H_s(t) = sum over times u <= t of returns/at risk in stratum s, t the repair's own follow-up
 *
 * Under equal quality, observed - expected has mean 0 whatever the censoring (a martingale). Stratum: platform family x fault x intent, coarser where it
 * is small: fault x intent, then intent.
 */
export function shopReview({ group, spans, recorded, shown, withheld, view }: ReviewFacts): ShopReview {
  const horizon = view.horizons[0]!;
  const { time, end } = sampleOf(spans, view);
  const isBack = (i: number) => end[i] === RETURNED && time[i]! <= horizon;
  const hazards = hazardsOf(spans, view);
  const byShop = new Map<string, number[]>();
  for (const [i, span] of spans.entries()) {
    const list = byShop.get(span.shopId);
    if (list) list.push(i);
    else byShop.set(span.shopId, [i]);
  }
  const all = [...byShop].map(([shopId, own]) => ({
    shopId,
    own,
    observed: own.filter(isBack).length,
    expected: own.reduce((sum, i) => sum + hazards(spans[i]!, Math.min(time[i]!, horizon)), 0),
  }));
  const counted = all.filter(({ expected }) => expected > 0);
  const funnel = counted.length === 0 ? null : shopFunnel(counted, { leastExpected: FEWEST_EXPECTED });
  const returns = all.reduce((sum, { observed }) => sum + observed, 0);
  const shrunk =
    counted.length >= 2 && returns > 0
      ? shrunkRates(counted.map(({ observed, expected }) => ({ events: observed, exposure: expected })))
      : null;
  const regionLinked = linkedShareOf(spans);
  const shops = all.flatMap(({ shopId, own, observed, expected }): ShopStanding[] => {
    const name = shown.get(shopId);
    if (!name) return [];
    const at = counted.findIndex((one) => one.shopId === shopId);
    const place = at < 0 ? null : funnel!.shops[at]!;
    const drawn = at < 0 ? null : (shrunk?.[at] ?? null);
    const [low, high] = at < 0 ? [null, null] : exactPoisson(observed, expected);
    const completeness = completenessOf(
      own.map((i) => spans[i]!),
      recorded.get(shopId),
    );
    const verdict = place?.verdict ?? 'not-enough';
    return [
      {
        ...name,
        completeness,
        episodes: own.length,
        observed,
        expected,
        ratio: place?.ratio ?? null,
        low,
        high,
        shrunk: drawn?.rate ?? null,
        shrunkLow: drawn?.low ?? null,
        shrunkHigh: drawn?.high ?? null,
        borrowed: drawn?.borrowed ?? null,
        z: place?.adjustedZ ?? null,
        qValue: place?.q ?? null,
        verdict,
        message: standingWords(verdict, observed, expected, completeness, regionLinked),
        casesBehind: name.shopId === null ? null : repairsBehind({ ...group, shopId: name.shopId }),
        returnsBehind: name.shopId === null ? null : repairsBehind({ ...group, shopId: name.shopId, outcome: 'returned' }),
      },
    ];
  });
  const rank = ['above', 'as-expected', 'below', 'not-enough'];
  shops.sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict) || (b.shrunkLow ?? 0) - (a.shrunkLow ?? 0));
  const tau2 = funnel?.tau2 ?? 0;
  const outside = shops.filter(({ verdict }) => verdict === 'above' || verdict === 'below').length;
  return {
    horizon,
    shops,
    withheld,
    funnel: funnelLimits(Math.max(0, ...counted.map(({ expected }) => expected)), tau2),
    phi: funnel?.phi ?? 1,
    tau: Math.sqrt(tau2),
    episodes: spans.length,
    returns,
    linkedShare: regionLinked,
    clockFit: view.fit,
    message:
      spans.length === 0
        ? 'No such repairs are known yet.'
        : outside === 0
          ? 'No shop differs from what its case mix explains by more than chance and the usual spread between shops.'
          : `${outside} ${outside === 1 ? 'shop differs' : 'shops differ'} from what the case mix explains, false findings controlled at 5 %.`,
    cautions: [
      ...linkageCautions(regionLinked, spans.length),
      ...withheldCautions(withheld),
      ...clockCautions(view.fit, 'degree-days'),
      'A shop that records or links little looks good: read its completeness first.',
    ],
    definitions: [
      ...definitionsOf('degree-days', view.clocks).filter((one) => !one.startsWith('Probabilities')),
      `Expected: for every repair the cumulative hazard of a return at its own follow-up, at most ${horizon} degree-days, of all shops together in the same platform family, fault and intent; in the fault and intent, or the intent alone, where those are under ${FEWEST_IN_STRATUM} repairs or ${FEWEST_SHOPS} shops.`,
      'Funnel: exact Poisson limits; where shops differ by more than chance (winsorised φ), that spread is allowed for (τ²). Findings are controlled over all shops (Benjamini–Hochberg).',
      `No verdict under ${FEWEST_EXPECTED} expected returns.`,
    ],
  };
}

type Hazard = (span: ReviewedSpan, time: number) => number;

/** The cumulative hazard of a return in the finest stratum that is large enough. */
function hazardsOf(spans: readonly ReviewedSpan[], view: FittedViewpoint): Hazard {
  const levels = [
    (span: ReviewedSpan) => `${span.family}|${span.fault}|${span.intent}`,
    (span: ReviewedSpan) => `${span.fault}|${span.intent}`,
    (span: ReviewedSpan) => span.intent,
    () => 'all',
  ].map((keyOf) => {
    const groups = new Map<string, ReviewedSpan[]>();
    for (const span of spans) {
      const key = keyOf(span);
      const group = groups.get(key);
      if (group) group.push(span);
      else groups.set(key, [span]);
    }
    return { keyOf, groups };
  });
  const made = new Map<string, { times: Float64Array; total: Float64Array }>();
  const levelOf = new Map<string, (typeof levels)[number]>();
  return (span, time) => {
    const finest = levels[0]!.keyOf(span);
    let level = levelOf.get(finest);
    if (!level) {
      level =
        levels.find(({ keyOf, groups }) => {
          const group = groups.get(keyOf(span))!;
          return group.length >= FEWEST_IN_STRATUM && new Set(group.map((one) => one.shopId)).size >= FEWEST_SHOPS;
        }) ?? levels.at(-1)!;
      levelOf.set(finest, level);
    }
    const key = level.keyOf(span);
    let curve = made.get(key);
    if (!curve) {
      const sets = riskSets(causeOnly(sampleOf(level.groups.get(key)!, view), RETURNED));
      let sum = 0;
      const total = sets.times.map((_, j) => (sum += sets.events[0]![j]! / sets.atRisk[j]!));
      curve = { times: sets.times, total };
      made.set(key, curve);
    }
    const step = stepAt(curve.times, time);
    return step < 0 ? 0 : curve.total[step]!;
  };
}

export function completenessOf(own: readonly ReviewedSpan[], recorded: RecordedCases | undefined): Completeness {
  const share = (part: number, whole: number) => (whole === 0 ? 0 : part / whole);
  const back = own.filter((span) => isReturn(span.end));
  return {
    cases: recorded?.cases ?? 0,
    provedShare: share(recorded?.proved ?? 0, recorded?.cases ?? 0),
    repairedShare: share(recorded?.repaired ?? 0, recorded?.cases ?? 0),
    linkedShare: linkedShareOf(own),
    intentShare: share(own.filter((span) => span.intent !== 'unknown').length, own.length),
    elsewhereShare: back.length === 0 ? null : back.filter((span) => span.endShopId !== span.shopId).length / back.length,
  };
}

function standingWords(
  verdict: ShopStanding['verdict'],
  observed: number,
  expected: number,
  completeness: Completeness,
  regionLinked: number,
): string {
  const counts = `${observed} returns where its case mix would have had ${expected.toFixed(1)}`;
  const doubt =
    completeness.linkedShare < regionLinked - LINKAGE_GAP
      ? ' Fewer of its repairs can be followed than elsewhere: it looks better than it is.'
      : '';
  if (verdict === 'not-enough') return `${counts}: too few to judge.${doubt}`;
  if (verdict === 'as-expected') return `${counts}: within chance and the usual spread.${doubt}`;
  return `${counts}: ${verdict === 'above' ? 'more' : 'fewer'} than chance and the usual spread explain.${doubt}`;
}

function funnelLimits(most: number, tau2: number): ShopReview['funnel'] {
  if (most === 0) return [];
  const points = 24;
  const first = Math.min(1, most);
  return Array.from({ length: points }, (_, i) => {
    const expected = first * (Math.max(most * 1.1, first * 2) / first) ** (i / (points - 1));
    const [low95, high95] = ratioLimits(expected, 0.95, tau2);
    const [low998, high998] = ratioLimits(expected, 0.998, tau2);
    return { expected, low95, high95, low998, high998 };
  });
}
