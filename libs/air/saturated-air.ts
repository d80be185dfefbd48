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
/** Specific gas constant of water vapour, J/(kg K). */
const VAPOUR_GAS_CONSTANT = 461.5;
/** Saturated air is looked for up to this share of the boiling pressure. */
const BOILING_SHARE = 0.97;

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
 * Temperature at which saturated air has enthalpy h, K: the wet surface that matches an air stream. To 1e-4 J/kg, about 0.3 µs.
 *
 * Newton inside a bracket; the slope takes d(ln pws)/dT = L/(Rv T^2) from Clausius-Clapeyron, within 1 % of the tabulated curve's own.
 * h between that of saturated air at -60 °C and that where the vapour pressure is 0.97 p (or 100 °C); OutOfRange outside.
 */
export function saturationTemperatureFromEnthalpy(h: number, p: number): number {
  let lo = T_MIN;
  let hi = T_MAX;
  let T = 285;
  for (let i = 0; i < 60 && hi - lo > 1e-9; i++) {
    const pws = fastVapourPressure(T);
    let next = Number.NaN;
    if (pws > BOILING_SHARE * p) hi = T;
    else {
      const W = (MOLAR_MASS_RATIO * pws) / (p - pws);
      const t = T - ZERO_CELSIUS;
      const f = fastEnthalpy(T, W) - h;
      if (Math.abs(f) < 1e-4) return T;
      if (f > 0) hi = T;
      else lo = T;
      const latent = T <= T_TRIPLE ? 2_836_000 : H_EVAPORATION - 2_400 * t;
      const dW = ((W * p) / (p - pws)) * (latent / (VAPOUR_GAS_CONSTANT * T * T));
      next = T - f / (CP_AIR + W * CP_VAPOUR + (H_EVAPORATION + CP_VAPOUR * t) * dW);
    }
    T = next > lo && next < hi ? next : 0.5 * (lo + hi);
  }
  // The bracket has closed on one of its ends: there is no such saturated air.
  const low = fastSaturationEnthalpy(T_MIN, p);
  throw new OutOfRange(
    'enthalpy of saturated air',
    h,
    low,
    h > low ? fastSaturationEnthalpy(lo, p) : fastSaturationEnthalpy(273.15, p),
    'J/kg',
  );
}
