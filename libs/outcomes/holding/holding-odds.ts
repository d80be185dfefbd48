import { BadSample } from '#libs/numeric/index.js';
import { exactBinomial } from '../intervals/binomial.js';
import { aalenJohansen, type IncidenceCurve } from '../survival/aalen-johansen.js';
import { returnProbability } from '../survival/return-probability.js';
import { numbersAtRisk, stepAt } from '../survival/risk-sets.js';
import type { Sample } from '../survival/sample.js';

/**
 * Holding odds: for each way to repair a fault, the share that will not have come back by a horizon, and what it will have cost.
 *
 * holding(h) = 1 - F(h), F the Aalen-Johansen probability of a return, limits turned round
 * expected cost(h) = price + F(h) x cost of a return
 *
 * episodes on one clock (the heat clock), `returns` the ends that count as a return; price now and what one return costs, in one currency: the
 * shop's own prices (the next repair, unpaid hours, refrigerant). horizon in that clock: the reading from today to `endOfHotSeason`.
 * Only the first return is priced. With fewer than 5 episodes, or fewer than `fewest` (10) of them watched as long as the horizon, the
 * verdict is not-enough and the odds are null: a guess is not offered. The curve is not read where fewer than `fewest` are watched
 * (Pocock, Clayton and Altman 2002, Lancet 359:1686).
 */
export interface RepairOption {
  readonly name: string;
  readonly episodes: Sample;
  readonly returns: number | readonly number[];
  readonly price: number;
  readonly returnCost: number;
}

export interface HoldingOdds {
  readonly name: string;
  readonly n: number;
  readonly events: number;
  readonly atRisk: number;
  readonly holding: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly expectedCost: number | null;
  readonly costLower: number | null;
  readonly costUpper: number | null;
  readonly verdict: 'estimated' | 'not-enough';
}

const FEWEST_EPISODES = 5;
const FEWEST_WATCHED = 10;

export function holdingOdds(options: readonly RepairOption[], horizon: number, fewest = FEWEST_WATCHED): readonly HoldingOdds[] {
  options.forEach(checkOption);
  return Object.freeze(options.map((option) => oddsOf(option, horizon, fewest)));
}

function oddsOf({ name, episodes, returns, price, returnCost }: RepairOption, horizon: number, fewest: number): HoldingOdds {
  const { n, events, atRisk, probability, lower, upper } = returnProbability(episodes, returns, horizon);
  const known = n >= FEWEST_EPISODES && atRisk >= fewest;
  const cost = (f: number) => (known ? price + f * returnCost : null);
  return Object.freeze({
    name,
    n,
    events,
    atRisk,
    holding: known ? 1 - probability : null,
    lower: known ? 1 - upper : null,
    upper: known ? 1 - lower : null,
    expectedCost: cost(probability),
    costLower: cost(lower),
    costUpper: cost(upper),
    verdict: known ? 'estimated' : 'not-enough',
  });
}

/**
 * The horizon from which the dearer repair pays: the least clock reading at which the cheaper one has cost as much.
 *
 * price_a + F_a(t) cost_a >= price_b + F_b(t) cost_b
 *
 * `at` null: not within the time for which both curves are known (`knownTo`, where `fewest` are still watched on both), which may mean never.
 * at 0: the dearer one is not dearer. Reading the interval of this date from the two curves' limits would need their joint law: the range given by
 * crossing the limits (earliest: cheap option's upper against the dear one's lower; latest: the other way) is wide and holds it.
 */
export interface BreakEven {
  readonly at: number | null;
  readonly earliest: number | null;
  readonly latest: number | null;
  readonly knownTo: number;
}

export function breakEven(cheap: RepairOption, dear: RepairOption, fewest = FEWEST_WATCHED): BreakEven {
  checkOption(cheap);
  checkOption(dear);
  const [a, b] = [cheap, dear].map((o) => aalenJohansen(o.episodes, o.returns)) as [IncidenceCurve, IncidenceCurve];
  const times = [...new Set([0, ...a.times, ...b.times])].sort((x, y) => x - y);
  const [watchedA, watchedB] = [numbersAtRisk(cheap.episodes, times), numbersAtRisk(dear.episodes, times)];
  const known = times.map((_, i) => i).filter((i) => watchedA[i]! >= fewest && watchedB[i]! >= fewest);
  const first = (of: Side, against: Side): number | null => {
    const found = known.find((i) => {
      const cheapCost = cheap.price + read(a, of, times[i]!, watchedA[i]!) * cheap.returnCost;
      return cheapCost >= dear.price + read(b, against, times[i]!, watchedB[i]!) * dear.returnCost;
    });
    return found === undefined ? null : times[found]!;
  };
  return Object.freeze({
    at: first('incidence', 'incidence'),
    earliest: first('upper', 'lower'),
    latest: first('lower', 'upper'),
    knownTo: times[known.at(-1) ?? 0]!,
  });
}

type Side = 'incidence' | 'lower' | 'upper';

/** The curve at t; its upper limit where nothing has returned yet is the exact binomial one of those still watched. */
function read(curve: IncidenceCurve, side: Side, t: number, watched: number): number {
  const step = stepAt(curve.times, t);
  const f = step < 0 ? 0 : curve.incidence[step]!;
  if (f === 0) return side === 'upper' && t > 0 ? exactBinomial(0, watched, curve.level)[1] : 0;
  return curve[side][step]!;
}

function checkOption({ name, price, returnCost }: RepairOption): void {
  if (!(price >= 0 && returnCost >= 0 && Number.isFinite(price + returnCost))) {
    throw new BadSample(`${name}: price ${price} and cost of a return ${returnCost} must be finite and >= 0`);
  }
}
