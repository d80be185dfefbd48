import { applies, entryOf } from './catalogue/entries.js';
import { type FaultCode, HYPOTHESIS_CODES, type HypothesisCode } from './codes.js';
import type { EngineInput } from './evidence.js';

/** Start values for how often a car that comes in cooling poorly has each fault: trade judgement, to be shrunk towards proved faults. */
const BASE: Record<HypothesisCode, number> = {
  healthy: 0.32,
  undercharge: 0.19,
  overcharge: 0.05,
  'air-in-system': 0.04,
  'wrong-refrigerant': 0.012,
  moisture: 0.015,
  'excess-oil': 0.01,
  'low-oil': 0.012,
  'condenser-dirt': 0.045,
  'condenser-fan': 0.045,
  'condenser-passages': 0.03,
  'filter-cartridge': 0.025,
  'liquid-line-restriction': 0.015,
  'discharge-line-restriction': 0.005,
  'valve-restricted': 0.03,
  'valve-stuck-open': 0.018,
  'orifice-clogged': 0.045,
  'orifice-oversize': 0.008,
  'suction-restriction': 0.01,
  'compressor-leakage': 0.03,
  'compressor-wear': 0.025,
  'displacement-stuck-low': 0.04,
  'displacement-stuck-high': 0.008,
  'clutch-slip': 0.02,
  'electric-compressor-limited': 0.035,
  'evaporator-airflow': 0.035,
  'evaporator-fouling': 0.012,
  'air-door': 0.04,
  'pressure-sensor-bias': 0.015,
  'temperature-sensor-bias': 0.012,
  'compressor-inhibited': 0.045,
  sealant: 0.008,
  'second-circuit': 0.01,
  'manifold-valves-open': 0.008,
  'port-not-opened': 0.01,
  'gauge-bias': 0.012,
  'transducer-bias': 0.012,
  'sample-unsettled': 0.02,
};

/** Proved faults needed on a platform before its own record weighs as much as the start values. */
const START_COUNT = 25;

/** Words of a complaint and what they make likelier (trade judgement, factors). */
const WORDS: readonly { readonly pattern: RegExp; readonly odds: Partial<Record<HypothesisCode, number>> }[] = [
  { pattern: /\b(nois|grind|rattl|squeal|knock)/, odds: { 'compressor-wear': 3, 'clutch-slip': 2, 'low-oil': 2 } },
  { pattern: /\b(smell|odou?r|musty)/, odds: { 'evaporator-fouling': 6 } },
  { pattern: /\b(one side|left side|right side|passenger side|driver side|driver's side)/, odds: { 'air-door': 4, undercharge: 1.3 } },
  {
    pattern: /\b(idle|standing|traffic|stopped|stop and go)/,
    odds: { 'condenser-fan': 3, 'condenser-dirt': 2, 'condenser-passages': 1.3 },
  },
  {
    pattern: /\b(intermittent|comes and goes|after a while|sometimes)/,
    odds: { moisture: 3, 'clutch-slip': 2, 'condenser-fan': 1.3, 'temperature-sensor-bias': 1.5 },
  },
  { pattern: /\b(leak|recharg|top.?up|topped)/, odds: { undercharge: 2, sealant: 2, overcharge: 1.5, 'low-oil': 2 } },
  {
    pattern: /\b(freez|frozen|ice|iced|icing)\b/,
    odds: { 'evaporator-airflow': 3, 'displacement-stuck-high': 3, 'temperature-sensor-bias': 3, moisture: 2 },
  },
  { pattern: /\b(rear|battery|chiller)\b/, odds: { 'second-circuit': 5 } },
  { pattern: /\b(weak air|no air|little air|airflow|air flow|blower)/, odds: { 'evaporator-airflow': 5 } },
  { pattern: /\b(accident|collision|stone)/, odds: { undercharge: 1.5, 'condenser-dirt': 2, 'liquid-line-restriction': 2 } },
  {
    pattern: /\b(new compressor|compressor replaced|replaced compressor)/,
    odds: { 'condenser-passages': 3, 'filter-cartridge': 3, overcharge: 1.5, 'excess-oil': 2, 'air-in-system': 2, 'orifice-clogged': 2 },
  },
  { pattern: /\b(sealer|sealant|stop.?leak|can\b)/, odds: { sealant: 6, overcharge: 1.5, 'air-in-system': 1.5, 'wrong-refrigerant': 2 } },
];

/** Prior probability of every hypothesis on this hardware; sums to 1. */
export function priorOf(input: EngineInput): Map<HypothesisCode, number> {
  const { platform } = input;
  const weights = new Map<HypothesisCode, number>();
  let total = 0;
  for (const code of HYPOTHESIS_CODES) {
    if (!applies(code, platform)) continue;
    weights.set(code, BASE[code]);
    total += BASE[code];
  }
  for (const [code, w] of weights) weights.set(code, w / total);

  // Dirichlet shrinkage over what has been proved on the platform. Health is never "proved", so it keeps its start value.
  const proved = (input.prior?.platformProved ?? []).filter((p) => p.code !== 'healthy' && weights.has(p.code) && p.count > 0);
  const n = proved.reduce((sum, p) => sum + p.count, 0);
  if (n > 0) {
    const counts = new Map<string, number>();
    for (const p of proved) counts.set(p.code, (counts.get(p.code) ?? 0) + p.count);
    const mistakes = [...weights].filter(([code]) => entryOf(code).kind === 'measurement' || code === 'healthy');
    const kept = mistakes.reduce((sum, [, w]) => sum + w, 0);
    for (const [code, w] of weights) {
      if (entryOf(code).kind === 'measurement' || code === 'healthy') continue;
      const start = w / (1 - kept);
      weights.set(code, ((1 - kept) * (START_COUNT * start + (counts.get(code) ?? 0))) / (START_COUNT + n));
    }
  }

  // This vehicle's own proved faults: the same again, or what they lead to, likelier the more recent (half-life two years).
  for (const past of input.prior?.vehicleProved ?? []) {
    const fresh = 0.5 ** (Math.max(past.ageDays, 0) / 730);
    const lift = (code: FaultCode, factor: number) => {
      const w = weights.get(code);
      if (w !== undefined) weights.set(code, w * (1 + (factor - 1) * fresh));
    };
    if (past.code === 'healthy') continue;
    lift(past.code, 2);
    for (const next of entryOf(past.code).leadsTo) lift(next, 3);
  }

  const complaint = (input.complaint ?? '').toLowerCase();
  for (const { pattern, odds } of WORDS) {
    if (!pattern.test(complaint)) continue;
    for (const [code, factor] of Object.entries(odds)) {
      const w = weights.get(code as HypothesisCode);
      if (w !== undefined) weights.set(code as HypothesisCode, w * factor);
    }
  }

  const unsettled = weights.get('sample-unsettled') ?? 0;
  const minutes = input.conditions.runningS === undefined ? null : input.conditions.runningS / 60;
  if (minutes !== null) weights.set('sample-unsettled', unsettled * (minutes < 3 ? 25 : minutes < 5 ? 5 : minutes < 8 ? 1 : 0.3));
  const twice = input.platform.dualEvaporator;
  if (twice === true) weights.set('second-circuit', (weights.get('second-circuit') ?? 0) * 3);
  else if (twice === undefined || twice === null) weights.set('second-circuit', (weights.get('second-circuit') ?? 0) * 0.3);

  const sum = [...weights.values()].reduce((a, b) => a + b, 0);
  for (const [code, w] of weights) weights.set(code, w / sum);
  return weights;
}

/** Share of a fault's prior that goes to "its source is still running", by source; a proved source in the vehicle's history weighs double. */
export function cascadeShare(cause: FaultCode, input: EngineInput): number {
  const base = cause === 'compressor-wear' ? 0.12 : cause === 'moisture' ? 0.06 : cause === 'sealant' ? 0.04 : 0.05;
  const seen = (input.prior?.vehicleProved ?? []).some((p) => p.code === cause);
  return seen ? Math.min(base * 2.5, 0.4) : base;
}
