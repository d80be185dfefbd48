import { normalTwoSided, twoSidedZ } from '../special/normal.js';
import { checkForecasts, type Forecasts } from './scores.js';

/**
 * Cox's calibration line and Spiegelhalter's test of calibration.
 *
 * logit P(y = 1) = a + b logit p, fitted by maximum likelihood; a = 0, b = 1 for calibrated forecasts, b < 1 when too extreme
 * z = sum (y - p)(1 - 2p)/sqrt(sum (1 - 2p)^2 p (1 - p)), standard normal when calibrated
 *
 * p is kept within 1e-6..1 - 1e-6 for the logit. Slope and intercept are null when they do not exist: all outcomes alike, all forecasts
 * alike, or forecasts that separate the outcomes completely. Unweighted.
 * Sources: Cox (1958), Biometrika 45:562; Spiegelhalter (1986), Stat. Med. 5:421.
 */
export interface CalibrationLine {
  readonly intercept: number | null;
  readonly slope: number | null;
  readonly slopeError: number | null;
  readonly slopeLower: number | null;
  readonly slopeUpper: number | null;
  readonly z: number | null;
  readonly pValue: number | null;
}

const NEAREST = 1e-6;

export function calibrationLine({ probability, outcome }: Omit<Forecasts, 'weight'>, level = 0.95): CalibrationLine {
  checkForecasts({ probability, outcome });
  let top = 0;
  let bottom = 0;
  probability.forEach((p, i) => {
    top += (outcome[i]! - p) * (1 - 2 * p);
    bottom += (1 - 2 * p) ** 2 * p * (1 - p);
  });
  const z = bottom > 0 ? top / Math.sqrt(bottom) : null;
  const fit = logistic(
    probability.map((p) => {
      const kept = Math.min(1 - NEAREST, Math.max(NEAREST, p));
      return Math.log(kept / (1 - kept));
    }),
    outcome,
  );
  const half = fit === null ? 0 : twoSidedZ(level) * fit.slopeError;
  return Object.freeze({
    intercept: fit?.intercept ?? null,
    slope: fit?.slope ?? null,
    slopeError: fit?.slopeError ?? null,
    slopeLower: fit === null ? null : fit.slope - half,
    slopeUpper: fit === null ? null : fit.slope + half,
    z,
    pValue: z === null ? null : normalTwoSided(z),
  });
}

// A slope beyond this on the logit scale means complete separation: the likelihood has no maximum.
const STEEPEST = 50;

/** Newton's method on two coefficients, step halved while the likelihood falls. */
function logistic(x: readonly number[], y: readonly number[]) {
  const likelihood = (a: number, b: number) =>
    x.reduce((sum, v, i) => {
      const eta = (y[i] === 1 ? 1 : -1) * (a + b * v);
      return sum - (eta > 0 ? Math.log1p(Math.exp(-eta)) : Math.log1p(Math.exp(eta)) - eta);
    }, 0);
  let a = 0;
  let b = 0;
  let value = likelihood(a, b);
  for (let iteration = 0; iteration < 100; iteration++) {
    const s = { a: 0, b: 0, aa: 0, ab: 0, bb: 0 };
    x.forEach((v, i) => {
      const p = 1 / (1 + Math.exp(-(a + b * v)));
      const w = p * (1 - p);
      s.a += y[i]! - p;
      s.b += (y[i]! - p) * v;
      s.aa += w;
      s.ab += w * v;
      s.bb += w * v * v;
    });
    const determinant = s.aa * s.bb - s.ab ** 2;
    if (!(determinant > 1e-12 * s.aa * s.bb)) return null;
    const da = (s.bb * s.a - s.ab * s.b) / determinant;
    const db = (s.aa * s.b - s.ab * s.a) / determinant;
    let factor = 1;
    while (factor > 1e-6 && likelihood(a + factor * da, b + factor * db) < value) factor /= 2;
    a += factor * da;
    b += factor * db;
    value = likelihood(a, b);
    if (Math.abs(a) > STEEPEST || Math.abs(b) > STEEPEST) return null;
    if (Math.abs(da) + Math.abs(db) < 1e-12 * (1 + Math.abs(a) + Math.abs(b))) {
      return { intercept: a, slope: b, slopeError: Math.sqrt(s.aa / determinant) };
    }
  }
  return null;
}
