import { OutOfRange } from '#libs/numeric/index.js';
import { fluidTables } from '#libs/refrigerant/index.js';
import type { Simulator } from './engine-calibrate.js';
import { generate, type Hardware } from './engine-cycle.js';

/** Inverse of the standard normal distribution, |error| < 1.2e-9 (Acklam's rational approximation, from memory; checked in the tests of the study). */
export function normalQuantile(probability: number): number {
  const a = [-39.69683028665376, 220.9460984245205, -275.9285104469687, 138.357751867269, -30.66479806614716, 2.506628277459239];
  const b = [-54.47609879822406, 161.5858368580409, -155.6989798598866, 66.80131188771972, -13.28068155288572];
  const c = [-0.007784894002430293, -0.3223964580411365, -2.400758277161838, -2.549732539343734, 4.374664141464968, 2.938163982698783];
  const d = [0.007784695709041462, 0.3224671290700398, 2.445134137142996, 3.754408661907416];
  const p = Math.min(Math.max(probability, 1e-9), 1 - 1e-9);
  const poly = (k: readonly number[], x: number) => k.reduce((sum, q) => sum * x + q, 0);
  if (p > 0.5) return -normalQuantile(1 - p);
  if (p < 0.02425) {
    const q = Math.sqrt(-2 * Math.log(p));
    return poly(c, q) / (poly(d, q) * q + 1);
  }
  const q = p - 0.5;
  return (poly(a, q * q) * q) / (poly(b, q * q) * q * q + 1);
}

/**
 * The lumped cycle model as a simulator for the calibration. Hardware from uniform numbers: sizes of exchangers, losses and settings of
 * present-day passenger vehicles (ranges: common practice), centred so that a sound system stands in the published service windows.
 */
export const cycleSimulator: Simulator = (system, u, weather, code, size) => {
  const wide = (middle: number, spread: number, i: number) => middle * Math.exp(spread * normalQuantile(u[i]!));
  const between = (a: number, b: number, i: number) => a + (b - a) * u[i]!;
  const orifice = system.layout === 'orifice-accumulator';
  const hardware: Hardware = {
    ...system,
    displacement: system.compressor === 'electric' ? wide(34e-6, 0.1, 0) : wide(155e-6, 0.11, 0),
    clearance: between(0.03, 0.06, 1),
    isentropic: between(0.58, 0.74, 2),
    condenserUA: wide(600, 0.13, 3),
    condenserAir: wide(0.56, 0.15, 4),
    evaporatorNTU: wide(1.15, 0.13, 5),
    evaporatorAir: wide(0.125, 0.11, 6),
    dropCondenser: wide(0.5e5, 0.3, 7),
    dropSuction: wide(0.16e5, 0.35, 8),
    subcooling: system.layout === 'valve-integral-receiver' ? between(5, 12, 9) : orifice ? between(2, 10, 9) : between(2, 7.5, 9),
    superheat: orifice ? between(0.5, 6, 10) : between(4.5, 10.5, 10),
    reserve: orifice ? between(0.18, 0.38, 11) : between(0.13, 0.28, 11),
    setPoint: between(271, 275, 1),
    cutOut: between(266, 271, 2),
  };
  try {
    const t = generate(hardware, weather, { code, size });
    const f = fluidTables(system.refrigerant);
    if (!t || t.condenserInlet > 0.99 * f.pSaturationMax) return null;
    const dims = Float64Array.of(
      ...[t.compressorSuction, t.evaporatorOutlet, t.compressorDischarge, t.condenserInlet, t.condenserOutlet, t.afterDrier].map((p) =>
        f.tSat(Math.min(p, f.pSaturationMax)),
      ),
      t.suctionK,
      t.liquidK,
      t.lateLiquidK,
      t.dischargeK,
      t.ventK,
      t.coreK,
      t.stroke,
      t.duty,
      t.speedRatio,
    );
    return { dims, capacityW: t.capacityW * t.duty };
  } catch (error) {
    // Outside the property tables there is no vehicle in service.
    if (error instanceof OutOfRange) return null;
    throw error;
  }
};
