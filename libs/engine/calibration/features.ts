import type { RefrigerantName } from '../codes.js';
import type { Weather } from '../weather.js';

/** Conditions in the order the calibration is fitted: air at the condenser, air and humidity at the evaporator, speed, blower, barometer, refrigerant. */
export const CONDITIONS = 7;

/** Weather and refrigerant as scaled conditions; the refrigerant is 0 for R-134a and 1 for R-1234yf. */
export function scaled(w: Weather, refrigerant: RefrigerantName): Float64Array {
  return Float64Array.of(
    (w.condenserAir.value - 303) / 8,
    (w.evaporatorAir.value - 301) / 6,
    (w.humidity.value - 0.45) / 0.2,
    Math.log(Math.max(w.speed.value, 4) / 28) / 0.45,
    (w.blower.value - 0.85) / 0.2,
    (w.barometerPa - 97_000) / 8_000,
    refrigerant === 'R-1234yf' ? 1 : 0,
  );
}

/** One standard deviation of each scaled condition. */
export function scaledSigma(w: Weather): Float64Array {
  return Float64Array.of(
    w.condenserAir.sigma / 8,
    w.evaporatorAir.sigma / 6,
    w.humidity.sigma / 0.2,
    w.speed.sigma / Math.max(w.speed.value, 4) / 0.45,
    w.blower.sigma / 0.2,
    0,
    0,
  );
}

/** Terms of the regression: constant, the seven conditions, and the products and squares that matter for a vapour-compression cycle. */
export const TERMS = 15;

/** Regression terms at scaled conditions c, written to `out`. */
export function terms(c: Float64Array, out: Float64Array): Float64Array {
  const [a, e, h, s, b, z, r] = c as unknown as [number, number, number, number, number, number, number];
  out[0] = 1;
  out[1] = a;
  out[2] = e;
  out[3] = h;
  out[4] = s;
  out[5] = b;
  out[6] = z;
  out[7] = a * a;
  out[8] = e * e;
  out[9] = a * e;
  out[10] = e * h;
  out[11] = s * s;
  out[12] = a * s;
  out[13] = e * s;
  out[14] = r;
  return out;
}

/** Scaled conditions held inside the box the calibration was fitted on; outside it the edge answers. */
export function clamped(c: Float64Array): Float64Array {
  return c.map((x, i) => Math.min(Math.max(x, BOX[i]![0]), BOX[i]![1]));
}

/** Box of the simulated conditions, in scaled units: 14 to 48 C, 14 to 46 C, 10 to 95 %, 12 to 65 rev/s, 0.35 to 1, 72 to 104 kPa. */
export const BOX: readonly (readonly [number, number])[] = [
  [-2, 2.3],
  [-2.3, 3],
  [-1.75, 2.5],
  [-1.9, 1.9],
  [-2.5, 0.75],
  [-3.1, 0.9],
  [0, 1],
];
