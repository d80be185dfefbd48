import type { OrificeTubeHardware } from './hardware.js';
import type { Properties } from './properties.js';

/**
 * Coefficients of the short-tube correlation.
 *
 * source   W. V. Payne, D. L. O'Neal: A mass flow rate correlation for refrigerants and refrigerant mixtures flowing through short tubes (citation from memory),
 *          HVAC&R Research 10 (2004) 73-87; coefficients as coded in an open heat-pump model. Fitted to more than 1,200 points: L 9.5-25.4 mm,
 *          D 1.09-1.94 mm, R-12, R-134a, R-502, R-22, R-407C, R-410A. A vehicle's tube of 38 mm is a mild extrapolation in length.
 */
export const SHORT_TUBE_SINGLE_PHASE = [0.38811, 11.427, -14.194, 1.0703, -0.091928, 21.425, -581.95] as const;
export const SHORT_TUBE_TWO_PHASE = [1.1831, -1.468, -0.15285, -14.639, 9.8401, -0.019798, -1.5348, -2.0533, -17.195] as const;

/** Below this share of the upstream pressure the flow is no longer choked and follows the root of the difference. */
const CHOKED_SHARE = 0.35;
const CORNER = 0.03;

/**
 * Flow of an orifice tube, kg/s, choked, by Payne and O'Neal.
 *
 *   m = A sqrt(rho_f Pc) (a1 + a2 (Pup - Psat)/Pc + a3 Tsub/Tc + a4 rho_g/rho_f + a5 ln(L/D)) / (1 + a6 (Pup - Psat)/Pc + a7 (Tsub/Tc)^2)
 *   two-phase inlet: Tsub = 0, Psat = Pup, and times Ctp <= 1 with r = rho_m/rho_f
 *
 * pUp, hUp   state before the tube     pTotal   pressure pushing it there (more than pUp when air is in the system)
 * pDown      pressure behind it: where less than 35 % of pTotal is lost, the flow falls with the root of the difference (our continuation)
 */
export function orificeFlow(tube: OrificeTubeHardware, fluid: Properties, pUp: number, hUp: number, pTotal: number, pDown: number): number {
  const t = fluid.tables;
  const [a1, a2, a3, a4, a5, a6, a7] = SHORT_TUBE_SINGLE_PHASE;
  const pc = t.pCritical;
  const area = 0.25 * Math.PI * tube.diameter * tube.diameter;
  const slender = Math.log(tube.length / tube.diameter);
  const hL = t.hLiquid(pUp);
  const subcooled = hUp < hL;
  const T = subcooled ? fluid.T(pUp, hUp) : t.tSat(pUp);
  const pSat = subcooled ? Math.max(fluid.pSat(T), t.pMin) : pUp;
  const rhoL = t.rhoLiquid(pSat);
  const rhoV = t.rhoVapour(pSat);
  const push = (pTotal - pSat) / pc;
  const below = subcooled ? (t.tSat(pUp) - T) / t.tCritical : 0;
  const numerator = a1 + a2 * push + a3 * below + a4 * (rhoV / rhoL) + a5 * slender;
  // The fit's denominator falls towards zero beyond about 25 K of subcooling without a matching push; it is held above a fifth there.
  const denominator = Math.max(1 + a6 * push + a7 * below * below, 0.2);
  let flow = area * Math.sqrt(rhoL * pc) * Math.max(numerator / denominator, 0.02);
  if (!subcooled) flow *= twoPhaseFactor(slender, pUp / pc, rhoL, rhoV, (hUp - hL) / (t.hVapour(pUp) - hL));
  const loss = (pTotal - pDown) / (CHOKED_SHARE * pTotal);
  return loss >= 1 ? flow : loss <= 0 ? flow * loss : flow * Math.sqrt(loss * (2 - loss));
}

/**
 * Ctp, relative to its value at the first bubble: the fit comes out up to a per cent under 1 there at some pressures, and the flow would step.
 */
function twoPhaseFactor(slender: number, reduced: number, rhoL: number, rhoV: number, quality: number): number {
  const x = quality < 0.95 ? quality : 0.95;
  const lnp = Math.log(1 - reduced);
  const constant = (SHORT_TUBE_TWO_PHASE[3] + SHORT_TUBE_TWO_PHASE[4]) * lnp * lnp + SHORT_TUBE_TWO_PHASE[5] * slender * slender;
  const cubed = SHORT_TUBE_TWO_PHASE[8] * reduced ** 3;
  return ctp(constant, cubed, rhoL, rhoV, x) / ctp(constant, cubed, rhoL, rhoV, 0);
}

function ctp(constant: number, cubed: number, rhoL: number, rhoV: number, x: number): number {
  const [b1, b2, b3, , , , b7, b8] = SHORT_TUBE_TWO_PHASE;
  const r = 1 / (1 + x * (rhoL / rhoV - 1));
  const lnr = Math.log(r);
  const factor = (b1 * r + b2 * r * r + b3 * lnr * lnr + constant) / (1 + b7 * r + b8 * (x / (1 - x)) * Math.sqrt(rhoL / rhoV) + cubed);
  // Held to 1 with a rounded corner, so that the flow has a slope where the first bubbles begin to count.
  if (factor >= 1 + CORNER) return 1;
  const held = factor > 1 - CORNER ? factor - (factor - 1 + CORNER) ** 2 / (4 * CORNER) : factor;
  return held < 0.03 ? 0.03 : held;
}
