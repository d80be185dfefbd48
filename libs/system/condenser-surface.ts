import { CP_AIR } from './condenser.js';
import type { Model } from './model.js';
import type { CircuitState } from './state.js';
import { evaluateCircuit } from './system.js';

/** Places along the condenser at which its surface temperature is given. */
export const SURFACE_ROWS = 20;

/**
 * Surface temperature of the condenser along the refrigerant's way, inlet (top) first, at the middle of SURFACE_ROWS equal shares of the face, K:
 *
 *   Tm = Tr - K (Tr - Ta)/UA_r        metal between refrigerant and entering air
 *
 * One tube row after another carries the stream, so the share of the way is the share of the height of a condenser fed at the top. Within a pass an
 * imager sees the same temperatures spread over its width. Re-evaluates the circuit at its solved unknowns.
 */
export function condenserSurface(m: Model, s: CircuitState, out: Float64Array): void {
  const n = out.length;
  const airConductance = m.condenserAirConductance;
  const C = m.condenserAirFlow * CP_AIR;
  let at = 0;
  let row = 0;
  let last = m.condenserAirT;
  evaluateCircuit(m, s, s.u, s.hSuction, s.v, (length, tFrom, tTo, K) => {
    const ua = -C * Math.log1p(-K / C);
    const inside = 1 / (1 / ua - 1 / airConductance);
    const share = 1 - K / inside;
    const end = at + length;
    const a = tFrom - m.condenserAirT;
    const b = tTo - m.condenserAirT;
    // Exponential between the ends, as the zone's solution is; straight where the sign changes or nothing does.
    const exponential = a * b > 0 && Math.abs(a - b) > 1e-9;
    while (row < n && (row + 0.5) / n <= end + 1e-12) {
      const f = length > 0 ? Math.min(Math.max(((row + 0.5) / n - at) / length, 0), 1) : 0;
      const above = exponential ? a * (b / a) ** f : a + (b - a) * f;
      last = m.condenserAirT + share * above;
      out[row++] = last;
    }
    at = end;
  });
  while (row < n) out[row++] = last;
}
