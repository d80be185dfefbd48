import type { FaultCode, FindingCode } from '#libs/engine/index.js';

/** How often a case has each fault here; own figures, not the engine's. */
export const FREQUENCY: readonly (readonly [FaultCode, number])[] = [
  ['healthy', 0.22],
  ['undercharge', 0.18],
  ['overcharge', 0.05],
  ['air-in-system', 0.04],
  ['condenser-dirt', 0.05],
  ['condenser-fan', 0.05],
  ['condenser-passages', 0.045],
  ['filter-cartridge', 0.03],
  ['liquid-line-restriction', 0.02],
  ['discharge-line-restriction', 0.01],
  ['valve-restricted', 0.03],
  ['valve-stuck-open', 0.02],
  ['orifice-clogged', 0.04],
  ['orifice-oversize', 0.01],
  ['suction-restriction', 0.015],
  ['compressor-leakage', 0.03],
  ['displacement-stuck-low', 0.035],
  ['clutch-slip', 0.02],
  ['electric-compressor-limited', 0.03],
  ['evaporator-airflow', 0.03],
  ['air-door', 0.035],
  ['pressure-sensor-bias', 0.02],
  ['compressor-inhibited', 0.035],
];

/** Chance that a technician who looks reports a finding, by fault; own judgement. */
export const FINDINGS: Partial<Record<FaultCode, readonly (readonly [FindingCode, number])[]>> = {
  undercharge: [
    ['oil-at-joint', 0.35],
    ['bubbles-in-sight-glass', 0.2],
  ],
  'condenser-dirt': [
    ['condenser-fins-dirty', 0.7],
    ['mist-drops-head', 0.4],
  ],
  'condenser-fan': [
    ['condenser-fan-stopped', 0.7],
    ['mist-drops-head', 0.3],
  ],
  'condenser-passages': [
    ['condenser-rows-cold', 0.5],
    ['temperature-step-at-condenser', 0.3],
  ],
  'filter-cartridge': [['temperature-step-at-cartridge', 0.55]],
  'liquid-line-restriction': [
    ['temperature-drop-at-drier', 0.45],
    ['frost-at-line', 0.2],
  ],
  'discharge-line-restriction': [['hose-collapsed', 0.3]],
  'valve-restricted': [
    ['frost-at-valve', 0.3],
    ['valve-screen-dark', 0.2],
  ],
  'orifice-clogged': [
    ['orifice-screen-dark', 0.25],
    ['orifice-screen-granules', 0.2],
  ],
  'suction-restriction': [['hose-collapsed', 0.4]],
  'compressor-leakage': [['compressor-noise', 0.25]],
  'clutch-slip': [['clutch-slips', 0.6]],
  'evaporator-airflow': [
    ['cabin-filter-blocked', 0.5],
    ['blower-weak', 0.3],
  ],
  'air-door': [
    ['vents-differ-left-right', 0.45],
    ['heater-hose-hot', 0.3],
  ],
  'compressor-inhibited': [['clutch-off', 0.7]],
};
export const STRAY: readonly FindingCode[] = [
  'condenser-fins-dirty',
  'oil-at-joint',
  'bubbles-in-sight-glass',
  'compressor-noise',
  'cabin-filter-blocked',
];
