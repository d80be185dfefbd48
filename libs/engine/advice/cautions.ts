import type { HypothesisCode } from '../codes.js';
import type { EngineInput } from '../evidence.js';
import type { Caution } from '../result.js';

const TEXTS: Record<string, string> = {
  'recover-never-vent':
    'Refrigerant is recovered, never vented, by certified people with approved equipment (in the United States: Clean Air Act section 609, 40 CFR 82 subpart B; elsewhere the local code).',
  'no-compressed-air':
    'Never leak-test with compressed air or oxygen. Open nothing that stands above the pressure of the air. Eye and hand protection.',
  'identify-first': 'Identify the gas and test for sealant before recovery: recovery mixes what should stay apart and destroys evidence.',
  'charge-by-weight': 'Never charge to pressures: charge by weight to the label.',
  'moving-parts': 'Belts and fans move, and fans can start by themselves.',
  'mildly-flammable': 'R-1234yf is mildly flammable (A2L): ventilate, no ignition sources, equipment made for it.',
  'high-voltage': 'Electric compressors carry high voltage: qualified persons only, isolated and verified; POE oil only.',
  'contaminated-gas':
    'Suspect gas goes into a bottle for contaminated refrigerant, never into the shop’s clean tank; hydrocarbons are highly flammable.',
  'low-at-rest': 'Do not force the compressor to run with less than about 2 bar at rest.',
  'hot-surface': 'Discharge line and compressor burn; relief valves discharge without warning when head is high.',
  'licensed-practice': 'This is advice: licensed practice and the vehicle maker’s procedure decide.',
};

/** Cautions every answer carries, and those its leaders and its platform add. */
export function cautionsFor(input: EngineInput, leaders: readonly HypothesisCode[]): Caution[] {
  const codes = ['recover-never-vent', 'no-compressed-air', 'identify-first', 'charge-by-weight', 'moving-parts'];
  if (input.platform.refrigerant === 'R-1234yf') codes.push('mildly-flammable');
  if (input.platform.compressor === 'electric') codes.push('high-voltage');
  if (leaders.some((c) => c === 'wrong-refrigerant' || c === 'sealant')) codes.push('contaminated-gas');
  if (leaders.some((c) => c === 'undercharge' || c === 'compressor-inhibited')) codes.push('low-at-rest');
  if (
    leaders.some((c) => c === 'condenser-passages' || c === 'condenser-fan' || c === 'condenser-dirt' || c === 'discharge-line-restriction')
  )
    codes.push('hot-surface');
  codes.push('licensed-practice');
  return codes.map((code) => ({ code, text: TEXTS[code]! }));
}
