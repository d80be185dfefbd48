import type {
  BreakEvenDay,
  ClockFit,
  EpisodeGroup,
  FaultCode,
  HoldingAnswer,
  HoldingOption,
  Platform,
  PriceSource,
  RepairAction,
  RepairIntent,
  Shop,
} from '#libs/contracts/index.js';
import {
  breakEven,
  coolingDegreeDays,
  endOfHotSeason,
  type RepairOption,
  returnProbability,
  type SmallCell,
  smallCellRates,
} from '#libs/outcomes/index.js';
import { dayInWords } from '../cases/day-in-zone.js';
import { repairsBehind } from './behind.js';
import { clockCautions, linkageCautions, linkedShareOf } from './cautions.js';
import { type Clocks, DEGREE_DAY_BASE_C, dayOf } from './clocks.js';
import type { MedianPrice, RepairSpan } from './holding.queries.js';
import { CENSORED, definitionsOf, MINIMUM_EPISODES, percent, RETURNED, sampleOf, type Viewpoint } from './return-rates.js';

/** Everything holding odds are worked out from. Days are numbers since `DAY_ZERO`. */
export interface HoldingFacts {
  readonly shop: Shop;
  readonly platform: Platform | null;
  readonly fault: FaultCode;
  readonly from: number;
  readonly now: Date;
  readonly clocks: Clocks;
  readonly fit: ClockFit;
  readonly spans: readonly RepairSpan[];
  readonly prices: readonly MedianPrice[];
  readonly returnPrices: readonly MedianPrice[];
}

const YEAR_DAYS = 365;
/** Repairs whose end by the horizon must be known: returned, replaced, or watched as long. */
const FEWEST_KNOWN = 10;
/** The date from which the dearer repair pays is not read where fewer are watched. */
const FEWEST_WATCHED = 10;
/** Prices of its own a shop needs before its median is taken. */
const FEWEST_PRICES = 3;
const LEVELS = ['own', 'family', 'fault', 'repair'] as const;
/** A vehicle whose platform is not known borrows from all that are. */
const UNKNOWN = '';

interface Estimate {
  readonly option: HoldingOption;
  /** The repairs of this kind on the platform, in its family and everywhere. */
  readonly levels: readonly (readonly RepairSpan[])[];
}

export function holdingAnswer(facts: HoldingFacts): HoldingAnswer {
  const { shop, platform, fault, from, now, spans, clocks } = facts;
  const daily = shop.normals.map((month) => coolingDegreeDays(month, DEGREE_DAY_BASE_C));
  const seasonEnd = endOfHotSeason(daily, from);
  const until = seasonEnd ?? from + YEAR_DAYS;
  const horizon = clocks.degreeDays(shop.id, from, until);
  const view: Viewpoint = { clock: 'degree-days', horizons: [horizon], clocks, asOf: now };
  const estimates = optionsOf(facts, view, dayOf(until));
  const options = estimates.map(({ option }) => option);
  const linkedShare = linkedShareOf(spans);
  const known = options.filter((option) => option.verdict === 'estimated');
  const paying = breakEvenOf(estimates, facts, view);
  const cautions = [...linkageCautions(linkedShare, spans.length), ...clockCautions(facts.fit, 'degree-days')];
  if (platform === null) cautions.push('The platform is not known: the figures are those of all platforms together.');
  if (seasonEnd === null) cautions.push('The climate of this shop has no hot season that ends: the odds are for a year from now.');
  if (known.some((option) => option.shownFrom !== 'own')) {
    cautions.push('Where this platform has too few repairs of a kind, the figure is that of its family or of the fault, as named.');
  }
  if (options.some((option) => option.priceFrom === 'none')) cautions.push('Some repairs have no recorded price: their cost is left out.');
  return {
    shopId: shop.id,
    platformId: platform?.id ?? null,
    fault,
    from: dayOf(from),
    until: dayOf(until),
    hasHotSeason: seasonEnd !== null,
    horizon: Math.round(horizon * 10) / 10,
    currency: shop.currency,
    message: messageOf(options, known, paying, dayOf(until)),
    options,
    breakEven: paying,
    episodes: spans.length,
    linkedShare,
    clockFit: facts.fit,
    cautions,
    definitions: [
      ...definitionsOf('degree-days', clocks),
      'Holding: the share that has not come back, in any of the four ways a repair comes back, by the end of the next hot season here. The season ends with the first month that has less than a tenth of the heat of the hottest, at least 30 days ahead.',
      'Repairs of all shops of the organisation count; the heat ahead is that of this shop. Shares of small cells are drawn towards the family and the fault, and the interval carries the uncertainty of that.',
      'Expected cost: median price of the repair, plus the probability of a return times what was charged when such a repair came back. Only the first return is priced.',
    ],
  };
}

const kindOf = ({ action, intent }: { readonly action: string; readonly intent: string }) => `${action}|${intent}`;

/** Each kind of repair seen for the fault on systems of the same layout. */
function optionsOf(facts: HoldingFacts, view: Viewpoint, until: string): Estimate[] {
  const { platform, spans } = facts;
  const platformId = platform?.id ?? UNKNOWN;
  const family = platform?.family ?? UNKNOWN;
  const applicable = platform === null ? spans : spans.filter((span) => span.layout === null || span.layout === platform.layout);
  const kinds = new Map(applicable.map((span) => [kindOf(span), span]));
  const cells = new Map<string, RepairSpan[]>();
  for (const kind of kinds.keys()) cells.set(`${platformId}|${family}|${kind}`, []);
  for (const span of spans) {
    const key = `${span.platformId ?? UNKNOWN}|${span.family ?? UNKNOWN}|${kindOf(span)}`;
    const cell = cells.get(key);
    if (cell) cell.push(span);
    else cells.set(key, [span]);
  }
  const horizon = view.horizons[0]!;
  const keys = [...cells.keys()];
  const owns = [...cells.values()].map((cell) => returnProbability(sampleOf(cell, view), RETURNED, horizon));
  const rates = smallCellRates(
    keys.map((key, i): SmallCell => {
      const [id, cellFamily, action, intent] = key.split('|') as [string, string, string, string];
      const kind = `${action}|${intent}`;
      return {
        path: [`${id}|${kind}`, `${cellFamily}|${kind}`, kind, intent],
        n: owns[i]!.effectiveN,
        events: owns[i]!.effectiveEvents,
      };
    }),
  );
  return [...kinds]
    .map(([kind, { action, intent }]): Estimate => {
      const place = keys.indexOf(`${platformId}|${family}|${kind}`);
      const rate = rates[place]!;
      const { shown } = rate;
      const pooled = spans.filter((span) => kindOf(span) === kind);
      const levels = [
        pooled.filter((span) => (span.platformId ?? UNKNOWN) === platformId),
        pooled.filter((span) => (span.family ?? UNKNOWN) === family),
        pooled,
      ];
      const basis = levels[shown.level] ?? spans.filter((span) => span.intent === intent);
      const seen = returnProbability(sampleOf(basis, view), RETURNED, horizon);
      const isKnown = basis.length >= MINIMUM_EPISODES && pooled.length >= MINIMUM_EPISODES && knownEnds(pooled, view) >= FEWEST_KNOWN;
      const own = cells.get(keys[place]!)!;
      const price = priceOf(facts.prices, kind);
      const back = returnCostOf(facts.returnPrices, kind, price);
      const cost = (probability: number) =>
        isKnown && price.value !== null && back.value !== null ? Math.round(price.value + probability * back.value) : null;
      const option: HoldingOption = {
        action,
        intent,
        words: '',
        verdict: isKnown ? 'estimated' : 'not-enough',
        episodes: basis.length,
        returns: seen.events,
        atRisk: seen.atRisk,
        ownEpisodes: own.length,
        holding: isKnown ? 1 - shown.estimate : null,
        low: isKnown ? 1 - shown.high : null,
        high: isKnown ? 1 - shown.low : null,
        observed: own.length >= MINIMUM_EPISODES && owns[place]!.followed ? 1 - owns[place]!.probability : null,
        borrowed: shown.level === 0 ? rate.borrowed : 1,
        shownFrom: LEVELS[shown.level]!,
        price: price.value,
        priceFrom: price.source,
        priceCount: price.count,
        returnCost: back.value,
        returnCostFrom: back.source,
        returnCostCount: back.count,
        expectedCost: cost(shown.estimate),
        costLow: cost(shown.low),
        costHigh: cost(shown.high),
        casesBehind: repairsBehind(groupAt(LEVELS[shown.level]!, facts, action, intent)),
      };
      return { option: { ...option, words: wordsFor(option, until, facts.shop.currency) }, levels };
    })
    .sort((a, b) => (b.option.low ?? -1) - (a.option.low ?? -1) || b.option.episodes - a.option.episodes);
}

/** The repairs a figure of that level stands on. */
function groupAt(
  level: (typeof LEVELS)[number],
  { fault, platform }: HoldingFacts,
  action: RepairAction,
  intent: RepairIntent,
): EpisodeGroup {
  if (level === 'repair') return { fault, intent };
  const place = level === 'own' ? { platformId: platform?.id } : level === 'family' ? { family: platform?.family } : {};
  return { fault, action, intent, ...place };
}

interface Price {
  readonly value: number | null;
  readonly source: PriceSource;
  readonly count: number;
}

function priceOf(prices: readonly MedianPrice[], kind: string): Price {
  const found = prices.find((one) => kindOf(one) === kind);
  if (!found) return { value: null, source: 'none', count: 0 };
  return found.own !== null && found.ownCount >= FEWEST_PRICES
    ? { value: found.own, source: 'shop', count: found.ownCount }
    : { value: found.median, source: 'organisation', count: found.count };
}

/** A return that was never priced costs at least the repair done again. */
function returnCostOf(prices: readonly MedianPrice[], kind: string, again: Price): Price {
  const found = priceOf(prices, kind);
  if (found.value !== null && found.count >= FEWEST_PRICES) return found;
  return again.value === null ? again : { ...again, source: 'same-repair' };
}

const plain = (word: string) => word.replaceAll('-', ' ');
const MEANT = { temporary: ' (to buy time)', permanent: ' (lasting repair)', unknown: ' (purpose not recorded)' } as const;
const nameOf = ({ action, intent }: Pick<HoldingOption, 'action' | 'intent'>) => `${plain(action)}${MEANT[intent]}`;

function wordsFor(option: HoldingOption, until: string, currency: string): string {
  const name = nameOf(option);
  if (option.holding === null) return `${name}: too few such repairs were followed long enough to say how long it holds.`;
  const of100 = (share: number | null) => Math.round((share ?? 0) * 100);
  const cost =
    option.expectedCost === null || option.price === null
      ? ''
      : ` It costs about ${Math.round(option.price)} ${currency}; counting those that come back, about ${option.expectedCost} ${currency}.`;
  return `${name}: of 100 cars repaired this way today, about ${of100(option.holding)} (${of100(option.low)} to ${of100(option.high)}) will not have come back by ${dayInWords(until)}.${cost}`;
}

/**
 * The stop-gap done most often on such cars against the lasting repair done most often, on the finest level at which
 * enough of both have a known end.
 */
function breakEvenOf(estimates: readonly Estimate[], facts: HoldingFacts, view: Viewpoint): BreakEvenDay | null {
  const temporary = mostUsed(estimates.filter(({ option }) => option.intent === 'temporary'));
  const permanent = mostUsed(estimates.filter(({ option }) => option.intent === 'permanent'));
  if (!temporary || !permanent) return null;
  const pair = [temporary, permanent];
  const level = [0, 1].find((at) => pair.every((one) => knownEnds(one.levels[at]!, view) >= FEWEST_KNOWN)) ?? 2;
  const base = { temporary: temporary.option.action, permanent: permanent.option.action, shownFrom: LEVELS[level]! };
  const nothing = { ...base, degreeDays: null, day: null, earliest: null, latest: null };
  if (temporary.option.verdict === 'not-enough' || permanent.option.verdict === 'not-enough') {
    return { ...nothing, verdict: 'not-enough', message: 'Too little is known to say from when on the lasting repair pays.' };
  }
  const [cheap, dear] = pair.map((one) => priced(one, level, view));
  if (!cheap || !dear) {
    return { ...nothing, verdict: 'no-price', message: 'Without recorded prices nothing can be said on when the lasting repair pays.' };
  }
  const found = breakEven(cheap, dear, FEWEST_WATCHED);
  const day = (at: number | null) => (at === null ? null : dayAt(facts, at));
  const answer = { ...base, degreeDays: found.at, day: day(found.at), earliest: day(found.earliest), latest: day(found.latest) };
  const names = `${plain(base.permanent)} instead of ${plain(base.temporary)}`;
  if (found.at === 0) return { ...answer, verdict: 'pays-at-once', message: `${names} is not dearer even at once.` };
  if (found.at === null) {
    return {
      ...answer,
      verdict: 'not-seen',
      message: `Within what has been followed (${Math.round(found.knownTo)} degree-days here), ${names} has not paid for itself.`,
    };
  }
  return {
    ...answer,
    verdict: 'pays-from',
    message: `${names} pays for a car that is kept beyond ${answer.day !== null ? dayInWords(answer.day) : `${Math.round(found.at)} degree-days, more than two years from now`}${
      answer.earliest === null
        ? ''
        : ` (between ${dayInWords(answer.earliest)} and ${answer.latest === null ? 'a day not yet known' : dayInWords(answer.latest)})`
    }.`,
  };
}

function mostUsed(estimates: readonly Estimate[]): Estimate | null {
  return [...estimates].sort((a, b) => b.option.ownEpisodes - a.option.ownEpisodes || b.option.episodes - a.option.episodes)[0] ?? null;
}

/** How many repairs had ended, other than by going out of sight, or were still watched at the horizon. */
function knownEnds(spans: readonly RepairSpan[], view: Viewpoint): number {
  const { time, end } = sampleOf(spans, view);
  return time.filter((at, i) => at >= view.horizons[0]! || end[i] !== CENSORED).length;
}

function priced({ option, levels }: Estimate, level: number, view: Viewpoint): RepairOption | null {
  if (option.price === null || option.returnCost === null) return null;
  return {
    name: option.action,
    episodes: sampleOf(levels[level]!, view),
    returns: RETURNED,
    price: option.price,
    returnCost: option.returnCost,
  };
}

/** The day on which so many degree-days have passed here; null beyond the clock's table. */
function dayAt({ clocks, shop, from, now }: HoldingFacts, degreeDays: number): string | null {
  let low = from;
  let high = from + 2 * YEAR_DAYS + Math.min(0, Math.floor(now.getTime() / 86_400_000) - from);
  if (clocks.degreeDays(shop.id, from, high) < degreeDays) return null;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (clocks.degreeDays(shop.id, from, middle) < degreeDays) low = middle + 1;
    else high = middle;
  }
  return dayOf(low);
}

function messageOf(options: readonly HoldingOption[], known: readonly HoldingOption[], paying: BreakEvenDay | null, until: string): string {
  if (options.length === 0) return 'No repair of this fault on such a system is known yet: nothing can be said on how long one would hold.';
  if (known.length === 0) return 'Repairs of this fault are known, but too few were followed long enough to say how long one would hold.';
  const best = known[0]!;
  const others = known.slice(1).map((option) => `${nameOf(option)} ${percent(option.holding!)}`);
  const compared = others.length === 0 ? '' : ` Others: ${others.join(', ')}.`;
  return `By ${dayInWords(until)}, ${nameOf(best)} still holds on ${percent(best.holding!)} (${percent(best.low!)} to ${percent(best.high!)}).${compared}${paying === null ? '' : ` ${paying.message}`}`;
}
