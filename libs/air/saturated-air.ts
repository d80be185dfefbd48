import { hermiteCubic, OutOfRange, splineSlopes } from '#libs/numeric/index.js';
import { saturationVapourPressure } from './moist-air.js';

/**
 * Saturated air for inner loops: the logarithm of the vapour pressure as a cubic spline, one piece over ice and one over water because the curve
 * bends sharply at the triple point. Built when first used, in well under a millisecond; a call costs about 0.05 µs and allocates nothing.
 *
 * Range     -60 to 100 °C, OutOfRange outside.
 * Accuracy  vapour pressure within 2e-7 relative of `saturationVapourPressure` (test).
 */
const T_MIN = 213.15;
const T_TRIPLE = 273.16;
const T_MAX = 373.15;
const CELLS = 64;
/** Ratio of the molar masses of water and dry air, as psychrolib has it. */
const MOLAR_MASS_RATIO = 0.621945;
const CP_AIR = 1006;
const CP_VAPOUR = 1860;
const H_EVAPORATION = 2_501_000;
const ZERO_CELSIUS = 273.15;

let cubics: Float64Array | undefined;

function build(): Float64Array {
  const out = new Float64Array(2 * CELLS * 4);
  const pieces = [
    [T_MIN, T_TRIPLE],
    [T_TRIPLE, T_MAX],
  ] as const;
  pieces.forEach(([a, b], piece) => {
    const values = Float64Array.from({ length: CELLS + 1 }, (_, i) => {
      // A hair above the triple point at the first node of the water piece: at the point itself the source switches to ice.
      const T = a + ((b - a) * i) / CELLS + (piece === 1 && i === 0 ? 1e-9 : 0);
      return Math.log(saturationVapourPressure(T));
    });
    const slopes = splineSlopes(values);
    for (let i = 0; i < CELLS; i++) hermiteCubic(values[i]!, values[i + 1]!, slopes[i]!, slopes[i + 1]!, out, (piece * CELLS + i) * 4);
  });
  return out;
}

/** Saturation pressure of water vapour, Pa, at T in K. */
export function fastVapourPressure(T: number): number {
  if (!(T >= T_MIN && T <= T_MAX)) throw new OutOfRange('air temperature', T, T_MIN, T_MAX, 'K');
  cubics ??= build();
  const ice = T <= T_TRIPLE;
  const position = ice ? ((T - T_MIN) * CELLS) / (T_TRIPLE - T_MIN) : ((T - T_TRIPLE) * CELLS) / (T_MAX - T_TRIPLE);
  const cell = position >= CELLS ? CELLS - 1 : position | 0;
  const v = position - cell;
  const at = (ice ? cell : CELLS + cell) * 4;
  return Math.exp(((cubics[at + 3]! * v + cubics[at + 2]!) * v + cubics[at + 1]!) * v + cubics[at]!);
}

/** Humidity ratio of saturated air, kg/kg: 0.621945 pws/(p - pws). Positive infinity where water would boil (pws >= p). */
export function fastSaturationHumidity(T: number, p: number): number {
  const pws = fastVapourPressure(T);
  return pws < p ? (MOLAR_MASS_RATIO * pws) / (p - pws) : Number.POSITIVE_INFINITY;
}

/** Enthalpy of moist air, J per kg dry air, without checks. */
export function fastEnthalpy(T: number, W: number): number {
  const t = T - ZERO_CELSIUS;
  return CP_AIR * t + W * (H_EVAPORATION + CP_VAPOUR * t);
}

/** Enthalpy of saturated air at T and p, J per kg dry air. */
export function fastSaturationEnthalpy(T: number, p: number): number {
  return fastEnthalpy(T, fastSaturationHumidity(T, p));
}

/**
 * Temperature at which saturated air has enthalpy h, K: the wet surface that matches an air stream (to 1e-4 J/kg).
 * h between those of saturated air at -60 °C and at 1 K below boiling, OutOfRange outside.
 */
export function saturationTemperatureFromEnthalpy(h: number, p: number): number {
  let lo = T_MIN;
  let hi = T_MAX;
  // Below the boiling temperature at p, where humidity runs to infinity.
  while (fastVapourPressure(hi) > 0.96 * p) hi -= 1;
  let flo = fastSaturationEnthalpy(lo, p) - h;
  let fhi = fastSaturationEnthalpy(hi, p) - h;
  if (!(flo <= 0 && fhi >= 0)) throw new OutOfRange('enthalpy of saturated air', h, flo + h, fhi + h, 'J/kg');
  for (let i = 0; i < 60 && hi - lo > 1e-7; i++) {
    const T = lo - (flo * (hi - lo)) / (fhi - flo);
    const f = fastSaturationEnthalpy(T, p) - h;
    if (Math.abs(f) < 1e-4) return T;
    // Illinois variant of regula falsi: enthalpy is convex, so that the plain secant would move one end only.
    if (f > 0) {
      hi = T;
      fhi = f;
      flo *= 0.5;
    } else {
      lo = T;
      flo = f;
      fhi *= 0.5;
    }
  }
  return 0.5 * (lo + hi);
}
