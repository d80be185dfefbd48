import { wrongRepairCost } from '#libs/engine/advice/next.js';
import { type EngineResult, HYPOTHESIS_CODES, type HypothesisCode, type Place, type ReadingPhase } from '#libs/engine/index.js';
import type { Case } from './engine-cases.js';

const PSI = 6894.757293168;

/** R-134a service windows by ambient: [°F, high side from, to, low side from, to], psig. US Army TM 5-3805-290-23-1, WP 0018, table 1. */
const WINDOWS = [
  [70, 120, 190, 10, 20],
  [80, 140, 210, 10, 25],
  [90, 170, 240, 15, 30],
  [100, 190, 270, 15, 30],
  [110, 210, 300, 15, 30],
] as const;

function windowAt(fahrenheit: number): readonly number[] {
  const f = Math.min(Math.max(fahrenheit, 70), 110);
  const i = Math.min(Math.floor((f - 70) / 10), 3);
  const t = (f - 70) / 10 - i;
  return WINDOWS[i]!.map((x, k) => x + t * (WINDOWS[i + 1]![k]! - x));
}

/**
 * The plain procedure: gauges against the service window, then recover and weigh when anything is outside, then the usual part for the pattern
 * (common practice). It weighs whenever it wants to and its machine errs by 28 g; the engine gets nothing beyond what was read.
 */
export function plainProcedure(drawn: Case, noise: () => number): HypothesisCode {
  const { input } = drawn;
  const read = (place: Place, phase: ReadingPhase) =>
    input.readings.find((r) => r.quantity === 'pressure' && r.place === place && r.phase === phase)!.value / PSI;
  const low = read('low-side-port', 'running');
  const high = read('high-side-port', 'running');
  const vent = input.readings.find((r) => r.place === 'vent')?.value;
  const [, highFrom, highTo, lowFrom, lowTo] = windowAt((input.conditions.outsideAirK! - 273.15) * 1.8 + 32) as [
    number,
    number,
    number,
    number,
    number,
  ];
  if (high - low < 25) return high > 30 ? 'compressor-inhibited' : 'undercharge';
  const lowSide = low < lowFrom ? -1 : low > lowTo ? 1 : 0;
  const highSide = high < highFrom ? -1 : high > highTo ? 1 : 0;
  // Vents of a sound system stand some 11 K (20 F) below the air that enters (common practice).
  const warm = vent !== undefined && vent > (input.conditions.evaporatorAirK ?? input.conditions.outsideAirK!) - 11;
  if (lowSide === 0 && highSide === 0) return warm ? 'air-door' : 'healthy';
  const { code, size } = drawn.fault;
  const share = code === 'undercharge' ? 1 - size : code === 'overcharge' ? 1 + 0.6 * size : 0.98;
  const weighed = share + (0.028 / input.platform.chargeKg!) * noise();
  if (weighed < 0.9) return 'undercharge';
  if (weighed > 1.1) return 'overcharge';
  const orifice = input.platform.layout === 'orifice-accumulator';
  if (highSide === 1) return lowSide === -1 ? (orifice ? 'orifice-clogged' : 'valve-restricted') : 'condenser-dirt';
  if (lowSide === -1) return orifice ? 'orifice-clogged' : 'valve-restricted';
  if (highSide === -1 && lowSide === 1) return 'compressor-leakage';
  if (lowSide === 1) return orifice ? 'orifice-oversize' : 'valve-stuck-open';
  return 'healthy';
}

/** The engine's decision: the repair whose expected wrong-repair cost is smallest under its probabilities. */
export function cheapestRepair(result: EngineResult): HypothesisCode {
  const p = new Map<HypothesisCode, number>();
  for (const f of result.faults) p.set(f.code, (p.get(f.code) ?? 0) + f.probability);
  let best: HypothesisCode = 'healthy';
  let least = Number.POSITIVE_INFINITY;
  for (const decision of HYPOTHESIS_CODES) {
    let cost = 0;
    for (const [truth, share] of p) cost += share * wrongRepairCost(decision, truth);
    if (cost < least) {
      least = cost;
      best = decision;
    }
  }
  return best;
}

/** Cost of a decision in shares of a full repair, by the truth as drawn. */
export const costOf = (decision: HypothesisCode, drawn: Case): number => wrongRepairCost(decision, drawn.truth);
