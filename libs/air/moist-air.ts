import psychrolib from 'psychrolib';
import { OutOfRange } from '#libs/numeric/index.js';

// The library keeps its unit system in a global variable. This is the only place that sets it, and nothing else may import the library.
psychrolib.SetUnitSystem(psychrolib.SI);

const ZERO_CELSIUS = 273.15;
/** The library's formulas hold from -100 to 200 °C. */
const T_MIN = 173.15;
const T_MAX = 473.15;

/**
 * Moist air as a mixture of ideal gases (ASHRAE Handbook Fundamentals 2017, chapter 1), through psychrolib behind SI units.
 *
 *   T    dry-bulb temperature, K, 173.15 to 473.15 (OutOfRange outside)
 *   p    absolute pressure, Pa: always given, because altitude matters (at 1,500 m saturated air holds a fifth more water per kg)
 *   W    humidity ratio, kg water per kg dry air
 *   RH   relative humidity, 0 to 1
 *   h    J per kg dry air, zero for dry air and liquid water at 0 °C
 *
 * Accuracy: without the real-gas enhancement factor saturation humidity is up to 0.5 % low between -5 and 25 °C, 0.6 % at 50 °C.
 */
function celsius(T: number): number {
  if (!(T >= T_MIN && T <= T_MAX)) throw new OutOfRange('air temperature', T, T_MIN, T_MAX, 'K');
  return T - ZERO_CELSIUS;
}

function checkPressure(p: number): void {
  if (!(p >= 10_000 && p <= 200_000)) throw new OutOfRange('air pressure', p, 10_000, 200_000, 'Pa');
}

function checkHumidity(W: number): void {
  if (!(W >= 0 && W <= 1)) throw new OutOfRange('humidity ratio', W, 0, 1, 'kg/kg');
}

/** Saturation pressure of water vapour over ice (below 0.01 °C) or liquid water, Pa. */
export function saturationVapourPressure(T: number): number {
  return psychrolib.GetSatVapPres(celsius(T));
}

/** Humidity ratio of saturated air. */
export function saturationHumidityRatio(T: number, p: number): number {
  checkPressure(p);
  return psychrolib.GetSatHumRatio(celsius(T), p);
}

/** Humidity ratio from relative humidity (0 to 1, OutOfRange outside: 50 is not 50 %). */
export function humidityRatio(T: number, RH: number, p: number): number {
  checkPressure(p);
  if (!(RH >= 0 && RH <= 1)) throw new OutOfRange('relative humidity', RH, 0, 1, '1');
  return psychrolib.GetHumRatioFromRelHum(celsius(T), RH, p);
}

/** Humidity ratio from the thermodynamic wet-bulb temperature, which cannot exceed T. */
export function humidityRatioFromWetBulb(T: number, wetBulb: number, p: number): number {
  checkPressure(p);
  if (!(wetBulb <= T)) throw new OutOfRange('wet-bulb temperature', wetBulb, T_MIN, T, 'K');
  return psychrolib.GetHumRatioFromTWetBulb(celsius(T), celsius(wetBulb), p);
}

/** Humidity ratio from the dew point. */
export function humidityRatioFromDewPoint(dewPoint: number, p: number): number {
  checkPressure(p);
  return psychrolib.GetHumRatioFromTDewPoint(celsius(dewPoint), p);
}

/** Relative humidity, 0 to 1 (more than 1 for a mist). */
export function relativeHumidity(T: number, W: number, p: number): number {
  checkPressure(p);
  checkHumidity(W);
  return psychrolib.GetRelHumFromHumRatio(celsius(T), W, p);
}

/** Thermodynamic wet-bulb temperature, K; solved to 0.001 K. */
export function wetBulb(T: number, W: number, p: number): number {
  checkPressure(p);
  checkHumidity(W);
  return psychrolib.GetTWetBulbFromHumRatio(celsius(T), W, p) + ZERO_CELSIUS;
}

/** Dew (or frost) point, K; solved to 0.001 K. Air drier than 1e-7 kg/kg counts as that dry. */
export function dewPoint(T: number, W: number, p: number): number {
  checkPressure(p);
  checkHumidity(W);
  return psychrolib.GetTDewPointFromHumRatio(celsius(T), W, p) + ZERO_CELSIUS;
}

/** Enthalpy, J per kg dry air: h = 1006 t + W (2501000 + 1860 t), t in °C. */
export function moistAirEnthalpy(T: number, W: number): number {
  checkHumidity(W);
  return psychrolib.GetMoistAirEnthalpy(celsius(T), W);
}

/** Dry-bulb temperature, K, of air with enthalpy h and humidity ratio W. */
export function temperatureFromEnthalpy(h: number, W: number): number {
  checkHumidity(W);
  return psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(h, W) + ZERO_CELSIUS;
}

/** Specific volume, m3 per kg dry air. */
export function moistAirVolume(T: number, W: number, p: number): number {
  checkPressure(p);
  checkHumidity(W);
  return psychrolib.GetMoistAirVolume(celsius(T), W, p);
}
