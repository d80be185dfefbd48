import type { CompressorHardware } from './hardware.js';
import type { Properties } from './properties.js';

/** How a fault has changed the compressor. */
export interface CompressorState {
  /** Share of the compressed gas that leaks back inside. */
  leakage: number;
  isentropicShare: number;
}

export interface Compression {
  /** Net flow delivered while it runs, kg/s. */
  flow: number;
  /** Enthalpy at discharge, J/kg, and shaft power while it runs, W. */
  hDischarge: number;
  power: number;
}

/** Below these the fitted lines are held: they come from pressure ratios up to about 8. */
const LEAST_VOLUMETRIC = 0.15;
const LEAST_ISENTROPIC = 0.2;
const RATED_SPEED = 25;
const LEAK_LOSS = 0.35;

/**
 * Volumetric efficiency: eta_v = base - a (PR - 1) - b (n - 25/s).
 *
 * PR   pressure ratio        n   revolutions, 1/s
 * source   linear form in pressure ratio and speed for vehicle piston compressors; from memory: 0.75-0.8 at PR 3, 0.55-0.65 at PR 5 and 4,000 rpm.
 */
export function volumetricEfficiency(c: CompressorHardware, ratio: number, speed: number): number {
  const eta = c.volumetricBase - c.volumetricPerRatio * (ratio - 1) - c.volumetricPerSpeed * (speed - RATED_SPEED);
  return eta > LEAST_VOLUMETRIC ? eta : LEAST_VOLUMETRIC * Math.exp((eta - LEAST_VOLUMETRIC) / LEAST_VOLUMETRIC);
}

/** Isentropic shaft efficiency: falls with speed, and towards zero stroke by a share. source   from memory: 0.55-0.70; 0.75-0.8 of that at 30 % stroke. */
export function isentropicEfficiency(c: CompressorHardware, stroke: number, speed: number): number {
  const eta = (c.isentropicBase - c.isentropicPerSpeed * (speed - RATED_SPEED)) * (1 - c.isentropicStrokeLoss * (1 - stroke) ** 2);
  return Math.max(eta, LEAST_ISENTROPIC);
}

/**
 * Compression from suction (p1, h1) to p2 at a stroke (share of the displacement) and speed n (1/s).
 *
 *   gross flow   m_g = eta_v V n stroke rho1
 *   net flow     m = m_g (1 - leakage)
 *   discharge    h2 = h1 + (h2s - h1)/eta_is (1 + c leakage/(1 - leakage)),   h2s = h(p2, s1)
 *   power        W = m (h2 - h1)                  (the shell loses no heat)
 *
 * c = 0.35: the share of the work put into leaking gas that is lost as heat; the rest comes back as it expands in the chamber. Measured signs of the
 * discharge temperature under leakage disagree, so this effect deserves little weight.
 */
export function compress(
  c: CompressorHardware,
  state: CompressorState,
  fluid: Properties,
  p1: number,
  h1: number,
  p2: number,
  stroke: number,
  speed: number,
  out: Compression,
): void {
  const ratio = p2 > p1 * 1.01 ? p2 / p1 : 1.01;
  const gross = volumetricEfficiency(c, ratio, speed) * c.displacement * speed * stroke * fluid.rho(p1, h1);
  const rise = fluid.hPS(p1 * ratio, fluid.s(p1, h1)) - h1;
  out.flow = gross * (1 - state.leakage);
  const eta = isentropicEfficiency(c, stroke, speed) * state.isentropicShare;
  out.hDischarge = h1 + (rise / eta) * (1 + (LEAK_LOSS * state.leakage) / (1 - state.leakage));
  out.power = out.flow * (out.hDischarge - h1);
}
