import type { FindingCode, HypothesisCode } from '../codes.js';
import type { EngineInput } from '../evidence.js';
import type { HypothesisNode } from '../node.js';
import type { Channel } from './channel.js';

type Odds = Partial<Record<HypothesisCode, number>>;

/**
 * How much more often a finding is made with a fault than without it (likelihood ratios). Trade judgement, kept between 1/20 and 60
 * so that no single look decides against several measurements; a cause in a cascade counts as present.
 */
const RATIOS: Record<FindingCode, Odds> = {
  'cartridge-black': {
    'filter-cartridge': 15,
    'compressor-wear': 8,
    moisture: 5,
    'condenser-passages': 3,
    'valve-restricted': 2,
    healthy: 0.2,
  },
  'cartridge-clean': { 'filter-cartridge': 0.05, 'compressor-wear': 0.4, moisture: 0.6, sealant: 0.5 },
  'desiccant-hard': { moisture: 5, 'filter-cartridge': 3, 'liquid-line-restriction': 2 },
  'desiccant-loose': { 'filter-cartridge': 12, moisture: 3, 'orifice-clogged': 4, 'valve-restricted': 3, 'liquid-line-restriction': 3 },
  'metal-fines': {
    'compressor-wear': 25,
    'condenser-passages': 3,
    'filter-cartridge': 2.5,
    'orifice-clogged': 2.5,
    'valve-restricted': 1.8,
    'compressor-leakage': 2,
    healthy: 0.1,
  },
  'metal-fines-magnetic': {
    'compressor-wear': 40,
    'condenser-passages': 3,
    'filter-cartridge': 2.5,
    'orifice-clogged': 2.5,
    'valve-restricted': 1.8,
    'compressor-leakage': 2,
    healthy: 0.05,
  },
  'oil-black': { 'compressor-wear': 8, moisture: 8, 'wrong-refrigerant': 2, 'condenser-passages': 2, 'filter-cartridge': 2, healthy: 0.2 },
  'oil-clean': { 'compressor-wear': 0.2, moisture: 0.4 },
  'oil-at-joint': { undercharge: 5, 'low-oil': 4 },
  'dye-at-joint': { undercharge: 8, 'low-oil': 3 },
  'sealant-positive': { sealant: 60, healthy: 0.2 },
  'sealant-negative': { sealant: 0.05 },
  'orifice-screen-dark': { 'orifice-clogged': 10, 'compressor-wear': 15, healthy: 0.2 },
  'orifice-screen-clean': { 'orifice-clogged': 0.05, 'compressor-wear': 0.25 },
  'orifice-screen-granules': { 'orifice-clogged': 12, moisture: 5, healthy: 0.2 },
  'valve-screen-dark': { 'valve-restricted': 10, 'compressor-wear': 12, healthy: 0.2 },
  'frost-at-valve': { 'valve-restricted': 5, moisture: 4, 'displacement-stuck-high': 1.5, undercharge: 1.3, healthy: 0.5 },
  'frost-at-drier': { 'liquid-line-restriction': 25, healthy: 0.2 },
  'frost-at-line': { 'liquid-line-restriction': 15, 'discharge-line-restriction': 0.5, healthy: 0.2 },
  'condenser-fins-dirty': { 'condenser-dirt': 9, 'condenser-fan': 1 },
  'condenser-fins-clean': { 'condenser-dirt': 0.07 },
  'condenser-fan-stopped': { 'condenser-fan': 50, 'compressor-inhibited': 1.5, healthy: 0.3 },
  'condenser-fan-runs': { 'condenser-fan': 0.08 },
  'condenser-rows-cold': { 'condenser-passages': 25, 'filter-cartridge': 0.7, overcharge: 1.5, sealant: 3, healthy: 0.15 },
  'condenser-even': {
    'condenser-passages': 0.12,
    'filter-cartridge': 0.5,
    'condenser-dirt': 1.4,
    'air-in-system': 1.3,
    'condenser-fan': 1.3,
  },
  'temperature-step-at-condenser': { 'condenser-passages': 15, 'filter-cartridge': 0.6, overcharge: 1.5, sealant: 2, healthy: 0.2 },
  'temperature-step-at-cartridge': { 'filter-cartridge': 20, 'condenser-passages': 0.5, 'liquid-line-restriction': 2, healthy: 0.3 },
  'temperature-drop-at-drier': { 'liquid-line-restriction': 20, 'filter-cartridge': 2, healthy: 0.2 },
  'compressor-noise': {
    'compressor-wear': 6,
    'low-oil': 3,
    overcharge: 1.5,
    'valve-stuck-open': 2,
    'orifice-oversize': 2,
    'clutch-slip': 2,
    healthy: 0.4,
  },
  'compressor-locked': { 'compressor-wear': 40, 'low-oil': 4, 'clutch-slip': 2, healthy: 0.05 },
  'clutch-slips': { 'clutch-slip': 40, 'compressor-wear': 3, healthy: 0.2 },
  'clutch-off': { 'compressor-inhibited': 20, undercharge: 2.5, 'electric-compressor-limited': 2, healthy: 0.2 },
  'hose-collapsed': { 'suction-restriction': 40, 'discharge-line-restriction': 40, healthy: 0.15 },
  'evaporator-iced': { 'evaporator-airflow': 8, 'displacement-stuck-high': 12, 'temperature-sensor-bias': 8, moisture: 1.5, healthy: 0.2 },
  'cabin-filter-blocked': { 'evaporator-airflow': 12, 'evaporator-fouling': 2 },
  'blower-weak': { 'evaporator-airflow': 15 },
  'vents-differ-left-right': { 'air-door': 15, undercharge: 2, 'evaporator-fouling': 1.2 },
  'heater-hose-hot': { 'air-door': 5 },
  'bubbles-in-sight-glass': {
    undercharge: 3,
    'liquid-line-restriction': 2,
    'condenser-passages': 1.5,
    'filter-cartridge': 1.5,
    'air-in-system': 1.3,
  },
  'cold-then-warm': {
    moisture: 15,
    'evaporator-airflow': 2,
    'displacement-stuck-high': 3,
    'clutch-slip': 3,
    'temperature-sensor-bias': 2,
    'condenser-fan': 1.5,
    healthy: 0.2,
  },
  'mist-drops-head': { 'condenser-dirt': 6, 'condenser-fan': 5, 'air-in-system': 1.2, overcharge: 1 },
  'valves-open-on-manifold': { 'manifold-valves-open': 60 },
  'port-core-closed': { 'port-not-opened': 60 },
};

/** The ratios were set on the cautious side: on the tempering seeds answers with findings kept more than they said (docs/validation.md). */
const TEMPER = 1.3;

const LABELS: Partial<Record<FindingCode, string>> = {
  'mist-drops-head': 'Water mist on the condenser lowers the high side',
  'cold-then-warm': 'Cold first, then warm, then cold again after a stop',
};

function ratio(odds: Odds, node: HypothesisNode): number {
  const own = odds[node.code] ?? 1;
  if (node.cascade === null) return own;
  const cause = odds[node.cascade] ?? 1;
  return own >= 1 && cause >= 1 ? Math.max(own, cause) : own * cause;
}

/** A finding says the same of every severity of a hypothesis, and they follow one another. */
function onceAHypothesis(of: (node: HypothesisNode) => number): (node: HypothesisNode) => number {
  let last: HypothesisNode | null = null;
  let held = 0;
  return (node) => {
    if (last === null || last.code !== node.code || last.cascade !== node.cascade) held = of(node);
    last = node;
    return held;
  };
}

/** Findings of the stage, each once. */
export function findingChannels(input: EngineInput): Channel[] {
  const stage = input.stage ?? 'before';
  const byCode = new Map<FindingCode, string[]>();
  for (const f of input.findings) {
    if ((f.stage ?? 'before') !== stage) continue;
    byCode.set(f.code, [...(byCode.get(f.code) ?? []), ...(f.id === undefined ? [] : [f.id])]);
  }
  return [...byCode.keys()].sort().map((code) => ({
    observation: code,
    label: LABELS[code] ?? sentence(code),
    readings: byCode.get(code)!.sort().slice(0, 1),
    seen: null,
    expectedHealthy: null,
    tolerance: null,
    unit: null,
    logLikelihood: onceAHypothesis((node) => TEMPER * Math.log(ratio(RATIOS[code], node))),
  }));
}

function sentence(code: string): string {
  const words = code.replaceAll('-', ' ');
  return words[0]!.toUpperCase() + words.slice(1);
}
