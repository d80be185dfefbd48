import { alikeOf, analyse } from '#libs/engine/analysis.js';
import type { EngineInput, HypothesisCode, Place } from '#libs/engine/index.js';
import type { Fault, Truth } from './engine-vehicle.js';

/** What was looked at, as far as it decides which faults can be told apart. */
export interface Given {
  readonly weighed: boolean;
  readonly soaked: boolean;
  readonly compared: boolean;
  readonly told: boolean;
  readonly command: boolean;
  readonly speeds: boolean;
  readonly read: ReadonlySet<Place | undefined>;
}

/** Graded by impact: a fault that changes nothing read, was not seen by eye and costs less than 3 % of capacity counts as healthy. */
export function visible(fault: Fault, truth: Truth, sound: Truth, given: Given): boolean {
  if (fault.code === 'healthy') return false;
  if (given.told) return true;
  if (given.weighed && (fault.code === 'undercharge' || fault.code === 'overcharge')) return true;
  if (given.soaked && fault.code === 'air-in-system') return true;
  if (given.speeds && fault.code === 'electric-compressor-limited') return true;
  if (fault.code === 'pressure-sensor-bias') return given.compared;
  const lost = 1 - truth.capacityW / Math.max(sound.capacityW, 1);
  const moved = (a: number, b: number, by: number) => Math.abs(a - b) > by;
  return (
    lost > 0.03 ||
    moved(truth.condenserInlet, sound.condenserInlet, 0.9e5) ||
    moved(truth.condenserOutlet, sound.condenserOutlet, 0.9e5) ||
    moved(truth.compressorSuction, sound.compressorSuction, 0.25e5) ||
    moved(truth.ventK, sound.ventK, 3) ||
    (given.command && moved(truth.stroke, sound.stroke, 0.2)) ||
    (given.read.has('condenser-outlet') &&
      moved(truth.condenserOutlet - truth.liquidK * 1e4, sound.condenserOutlet - sound.liquidK * 1e4, 4e4)) ||
    (given.read.has('compressor-suction') && moved(truth.suctionK, sound.suctionK, 6)) ||
    (given.read.has('liquid-line-after-drier') && moved(truth.liquidK - truth.lateLiquidK, sound.liquidK - sound.lateLiquidK, 4))
  );
}

/** Names of the classes of faults that these readings cannot tell apart: the engine's own table (`libs/engine/alike.ts`), which no judged case has shaped. */
export function classes(input: EngineInput): (code: HypothesisCode) => string {
  const names = new Map<HypothesisCode, string>();
  for (const codes of alikeOf(analyse(input))) for (const code of codes) names.set(code, codes.join(' or '));
  return (code) => names.get(code) ?? code;
}

/** What a fault costs: capacity, efficiency (capacity a watt of shaft power), and cooling at the vents, shares lost against the sound system in the same air. */
export function impactOf(fault: Fault, truth: Truth, sound: Truth, cabinK: number): { impact: number; capacityLost: number } {
  if (fault.code === 'healthy') return { impact: 0, capacityLost: 0 };
  const capacityLost = 1 - truth.capacityW / Math.max(sound.capacityW, 1);
  const efficiency = (t: Truth) => (t.runs ? t.capacityW / Math.max(t.powerW, 1) : 0);
  const delivered = (t: Truth) => Math.max(cabinK - t.ventK, 0);
  const impact = Math.max(capacityLost, 1 - efficiency(truth) / efficiency(sound), 1 - delivered(truth) / Math.max(delivered(sound), 1));
  return { impact, capacityLost };
}
