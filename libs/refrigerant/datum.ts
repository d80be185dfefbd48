import type { Fluid } from './fluids.js';
import { saturationAtP, saturationAtT } from './saturation.js';

/**
 * Where tables put the zero of enthalpy and entropy. Values of different datums must never be mixed; differences and COP do not depend on it.
 *
 *   IIR      h = 200 kJ/kg, s = 1 kJ/(kg K) for saturated liquid at 0 °C: what every function here returns
 *   ASHRAE   h = s = 0 for saturated liquid at -40 °C: US tables and textbooks
 *   NBP      h = s = 0 for saturated liquid at 101,325 Pa
 */
export type Datum = 'IIR' | 'ASHRAE' | 'NBP';

/** What to subtract from our h (J/kg) and s (J/(kg K)) to get the values of another datum. R-134a, ASHRAE: 148,144 and 795.61. */
export function datumOffset(fluid: Fluid, datum: Datum): { readonly h: number; readonly s: number } {
  if (datum === 'IIR') {
    const { hL, sL } = saturationAtT(fluid, 273.15);
    return { h: hL - 200_000, s: sL - 1000 };
  }
  const { hL, sL } = datum === 'ASHRAE' ? saturationAtT(fluid, 233.15) : saturationAtP(fluid, 101_325);
  return { h: hL, s: sL };
}
