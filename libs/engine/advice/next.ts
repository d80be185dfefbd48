import { entryOf } from '../catalogue/entries.js';
import { HYPOTHESIS_CODES, type HypothesisCode } from '../codes.js';
import { toMillionths } from '../digits.js';
import type { EngineInput } from '../evidence.js';
import type { NextTest } from '../result.js';
import type { TestKind } from './test-kind.js';
import { TESTS } from './tests.js';

/** Price of the repair a verdict leads to, in shares of a full repair (compressor, condenser, drier, valve). Trade judgement. */
const REPAIR: Partial<Record<HypothesisCode, number>> = {
  healthy: 0,
  undercharge: 0.3,
  overcharge: 0.15,
  'air-in-system': 0.15,
  'wrong-refrigerant': 0.35,
  moisture: 0.3,
  'excess-oil': 0.3,
  'low-oil': 0.25,
  'condenser-dirt': 0.1,
  'condenser-fan': 0.3,
  'condenser-passages': 0.7,
  'filter-cartridge': 0.2,
  'liquid-line-restriction': 0.25,
  'discharge-line-restriction': 0.25,
  'valve-restricted': 0.35,
  'valve-stuck-open': 0.35,
  'orifice-clogged': 0.3,
  'orifice-oversize': 0.25,
  'suction-restriction': 0.25,
  'compressor-leakage': 0.8,
  'compressor-wear': 1,
  'displacement-stuck-low': 0.6,
  'displacement-stuck-high': 0.6,
  'clutch-slip': 0.4,
  'electric-compressor-limited': 0.9,
  'evaporator-airflow': 0.1,
  'evaporator-fouling': 0.25,
  'air-door': 0.3,
  'pressure-sensor-bias': 0.12,
  'temperature-sensor-bias': 0.12,
  'compressor-inhibited': 0.2,
  sealant: 1,
  'second-circuit': 0.35,
};
const repairCost = (code: HypothesisCode) => REPAIR[code] ?? 0.02;
/** A fault left in place brings the car back: labour, goodwill, and what the fault damages meanwhile. */
const missCost = (code: HypothesisCode) => (code === 'healthy' || entryOf(code).kind === 'measurement' ? 0 : 0.3);
/** Evacuation with a weighed charge cures these together. */
const RECHARGE = new Set<HypothesisCode>(['overcharge', 'air-in-system']);

/** Cost of a decision when the truth is another: the part fitted in vain and the fault left in place; nothing when the decision cures it. */
export function wrongRepairCost(decision: HypothesisCode, truth: HypothesisCode): number {
  if (decision === truth || (RECHARGE.has(decision) && RECHARGE.has(truth))) return 0;
  return repairCost(decision) + missCost(truth);
}

/** Prices of the hypotheses still in question, in their order. */
interface Prices {
  readonly repair: Float64Array;
  readonly miss: Float64Array;
  readonly recharge: readonly boolean[];
}

/** Chance of a positive outcome of each test under every hypothesis, in the order of the catalogue: a case looks some hundreds of them up. */
const CHANCES: readonly Float64Array[] = TESTS.map(({ positive, other }) =>
  Float64Array.from(HYPOTHESIS_CODES, (code) => positive[code] ?? other),
);

const PLACE: ReadonlyMap<HypothesisCode, number> = new Map(HYPOTHESIS_CODES.map((code, i) => [code, i]));

/** Smallest expected cost over the decisions: price x (1 - what it cures) + cost of what it leaves, summed over the truths in one pass. */
function smallestLoss(p: Float64Array, prices: Prices): number {
  const { repair, miss, recharge } = prices;
  let all = 0;
  let left = 0;
  let curedAll = 0;
  let curedLeft = 0;
  for (let i = 0; i < p.length; i++) {
    all += p[i]!;
    left += p[i]! * miss[i]!;
    if (recharge[i]) {
      curedAll += p[i]!;
      curedLeft += p[i]! * miss[i]!;
    }
  }
  let best = Number.POSITIVE_INFINITY;
  for (let d = 0; d < p.length; d++) {
    const cured = recharge[d] ? curedAll : p[d]!;
    const curedCost = recharge[d] ? curedLeft : p[d]! * miss[d]!;
    best = Math.min(best, repair[d]! * (all - cured) + left - curedCost);
  }
  return best;
}

/** A minute of waiting costs the shop a fifth of a minute of work; hours of standing cost little more than the first half hour. */
const minutes = (t: TestKind) => t.handsOnMinutes + 0.2 * Math.min(t.waitMinutes, 30) + 0.02 * Math.max(t.waitMinutes - 30, 0);

/**
 * Tests still open, by the expected lowering of wrong-repair cost per minute.
 * Value of a test = smallest expected loss now - expectation over its outcomes of the smallest expected loss afterwards (value of information).
 */
export function rankTests(
  input: EngineInput,
  codes: ReadonlyMap<HypothesisCode, number>,
  answered: ReadonlySet<string>,
  limit = 6,
): NextTest[] {
  const names = [...codes.keys()].filter((c) => (codes.get(c) ?? 0) > 2e-3);
  const n = names.length;
  const p = Float64Array.from(names, (c) => codes.get(c)!);
  const places = names.map((code) => PLACE.get(code)!);
  const prices: Prices = {
    repair: Float64Array.from(names, repairCost),
    miss: Float64Array.from(names, missCost),
    recharge: names.map((code) => RECHARGE.has(code)),
  };
  const now = smallestLoss(p, prices);
  const yes = new Float64Array(n);
  const no = new Float64Array(n);

  const ranked: NextTest[] = [];
  for (let k = 0; k < TESTS.length; k++) {
    const test = TESTS[k]!;
    const chances = CHANCES[k]!;
    if (test.fits && !test.fits(input.platform)) continue;
    if (test.answeredBy.some((o) => answered.has(o))) continue;
    if (input.equipment && test.needs.some((e) => !input.equipment!.includes(e))) continue;
    let pYes = 0;
    for (let i = 0; i < n; i++) {
      const chance = chances[places[i]!]!;
      yes[i] = p[i]! * chance;
      no[i] = p[i]! * (1 - chance);
      pYes += yes[i]!;
    }
    const after = smallestLoss(yes, prices) + smallestLoss(no, prices);
    const saving = Math.max(now - after, 0);
    // Recovery destroys evidence: what it would settle is discounted while other readings are still to be had.
    const perMinute = (saving / minutes(test)) * (test.destroysEvidence ? 0.7 : 1);
    if (saving < 1e-4 || pYes === 0) continue;
    const separates = names.filter((_, i) => p[i]! > 0.03 && Math.abs(chances[places[i]!]! - test.other) > 0.25);
    ranked.push({
      code: test.code,
      name: test.name,
      why: test.why,
      how: test.how,
      handsOnMinutes: test.handsOnMinutes,
      waitMinutes: test.waitMinutes,
      separates,
      savingPerMinute: toMillionths(perMinute),
      destroysEvidence: test.destroysEvidence,
    });
  }
  ranked.sort((a, b) => b.savingPerMinute - a.savingPerMinute || (a.code < b.code ? -1 : 1));
  return ranked.slice(0, limit);
}
