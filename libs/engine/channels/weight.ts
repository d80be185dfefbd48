import type { CanonicalReading } from '../canonical.js';
import type { HypothesisCode } from '../codes.js';
import type { EngineInput } from '../evidence.js';
import { logDensity1 } from '../gaussian.js';
import type { HypothesisNode } from '../node.js';
import type { Channel, Heard } from './channel.js';

/** Error of a recovery machine, kg (one ounce; trade), and of oil and gas left behind, share of the charge. */
const MACHINE_KG = 0.028;
const LEFT_BEHIND = 0.035;

/** Recovered mass against specification: the one direct proof of charge. */
export function weightChannels(input: EngineInput, readings: readonly CanonicalReading[]): Channel[] {
  const charge = input.platform.chargeKg;
  const weighed = readings.filter((r) => r.meaning === 'recovered-charge');
  if (!charge || weighed.length === 0) return [];
  const kg = weighed.reduce((sum, r) => sum + r.value, 0) / weighed.length;
  const share = kg / charge;
  const machine = Math.hypot(MACHINE_KG / charge, LEFT_BEHIND);
  return [
    {
      observation: 'charge-share',
      label: 'Recovered mass as a share of the specified charge',
      readings: weighed.map((r) => r.id),
      seen: share,
      expectedHealthy: 0.98,
      tolerance: Math.hypot(machine, 0.03),
      unit: '1',
      logLikelihood: (node) => {
        const { mean, width } = expectedShare(node);
        return logDensity1(share - mean, Math.hypot(machine, width), 30);
      },
    },
  ];
}

/**
 * A recovered mass is the charge to within 3 to 5 hundredths (common practice); a fiftieth stays in the system. Narrower than MACHINE_KG and LEFT_BEHIND, which
 * keep a poor machine from deciding what the fault is; set by how often intervals hold the charge on the tempering seeds.
 */
const WEIGHED_SIGMA = 0.032;
const STAYS = 0.02;

/** Share of the charge missing or too much as weighed, with one standard deviation; null where it was not weighed or the fault is not one of charge. */
export function weighedSize(code: HypothesisCode, channels: readonly Heard[]): { readonly value: number; readonly sigma: number } | null {
  if (code !== 'undercharge' && code !== 'overcharge') return null;
  const share = channels.find(({ observation }) => observation === 'charge-share')?.seen;
  if (share === undefined || share === null) return null;
  const missing = 1 - STAYS - share;
  return { value: Math.max(code === 'undercharge' ? missing : -missing, 0), sigma: WEIGHED_SIGMA };
}

function expectedShare(node: HypothesisNode): { mean: number; width: number } {
  if (node.cascade === 'undercharge') return { mean: 0.6, width: 0.25 };
  switch (node.code) {
    case 'undercharge':
      return { mean: 1 - Math.max(node.severity, 0.14), width: 0.07 };
    case 'overcharge':
      return { mean: 1 + Math.max(node.severity, 0.12), width: 0.08 };
    case 'wrong-refrigerant':
      return { mean: 0.98, width: 0.18 };
    case 'second-circuit':
      return { mean: 0.98, width: 0.12 };
    default:
      return { mean: 0.98, width: 0.03 };
  }
}
