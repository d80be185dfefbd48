import { meanTwoPhaseDensity } from './charge-inventory.js';
import { type CondenserHardware, RATED_FLOW } from './hardware.js';
import type { Properties } from './properties.js';
import type { Stream } from './stream.js';

/** Heat capacity of moist air, J/(kg K). */
export const CP_AIR = 1_010;

/** Conductance between refrigerant and entering air for the whole face, W/K, by the refrigerant's phase. */
export interface FaceConductance {
  vapour: number;
  condensing: number;
  liquid: number;
}

/** Records what leaves a stretch: for drawing the surface; `null` while solving. */
export type StretchRecord = (length: number, tFrom: number, tTo: number, conductance: number) => void;

/** What the sections hold and give off; added up over them. */
export interface CondenserTally {
  /** kg */
  mass: number;
  /** Heat to the air, W, from temperatures and conductances (not from the refrigerant's enthalpies). */
  heat: number;
}

/**
 * Conductance between refrigerant and the entering air, all over the face, for each phase: the effectiveness-NTU relation of a cross-flow with
 * mixed refrigerant and unmixed air, K = C (1 - exp(-UA/C)), with 1/UA = 1/UA_air + 1/UA_refrigerant.
 *
 * airFlow        kg/s          airConductance   UA of the air side at this flow, W/K
 * flow           refrigerant, kg/s: its side follows (flow/RATED_FLOW)^0.8
 */
export function faceConductance(
  c: CondenserHardware,
  airFlow: number,
  airConductance: number,
  share: number,
  flow: number,
  out: FaceConductance,
): void {
  const C = airFlow * CP_AIR;
  const strength = share * (Math.max(flow, 1e-5) / RATED_FLOW) ** 0.8;
  const rAir = 1 / airConductance;
  out.vapour = -C * Math.expm1(-1 / (C * (rAir + 1 / (c.vapourConductance * strength))));
  out.condensing = -C * Math.expm1(-1 / (C * (rAir + 1 / (c.condensingConductance * strength))));
  out.liquid = -C * Math.expm1(-1 / (C * (rAir + 1 / (c.liquidConductance * strength))));
}

/**
 * Carries the stream through a section of the face at its own pressure, zone by zone in flow order: every zone is the exact solution for its
 * length dz of the face,
 *
 *   single phase   T(z) = Ta + (T1 - Ta) exp(-K z/(m cp))         two-phase   dh/dz = -K (Tsat - Ta)/m
 *   wet desuperheating (wall below saturation)                    dh/dz as two-phase, from where it exceeds the dry rate
 *
 * so desuperheating, condensing and subcooling each take the length they need. Where the section's saturation temperature lies BELOW the air (a
 * severe restriction upstream), the same equations run the other way: liquid warms and flashes, vapour superheats, and the air is cooled.
 *
 * share    length of the section as a share of the whole face     Ta   entering air, K     volume   of the section, m3
 */
export function passSection(
  fluid: Properties,
  stream: Stream,
  flow: number,
  K: FaceConductance,
  share: number,
  Ta: number,
  volume: number,
  tally: CondenserTally,
  record: StretchRecord | null,
): void {
  if (share <= 0) return;
  const t = fluid.tables;
  const p = stream.p;
  const tSat = t.tSat(p);
  const hL = t.hLiquid(p);
  const hV = t.hVapour(p);
  const density = volume / share;
  let h = stream.h;
  let left = share;
  // At most dry gas, wet gas, mixture and liquid follow one another.
  for (let zone = 0; zone < 5 && left > 0; zone++) {
    const warmer = tSat > Ta;
    if (h > hV || (h === hV && !warmer)) {
      const T = h > hV ? fluid.T(p, h) : tSat;
      const above = T - tSat;
      const cp = above > 0.05 ? (h - hV) / above : t.cpVapour(p);
      const C = flow * cp;
      // Gas against a wall colder than saturation condenses on it already: from there on the rate is that of condensing.
      const tWet = Ta + (K.condensing / K.vapour) * (tSat - Ta);
      let hOut: number;
      let z: number;
      if (warmer && T <= tWet) {
        const rate = (K.condensing * (tSat - Ta)) / flow;
        const needed = (h - hV) / rate;
        z = needed < left ? needed : left;
        hOut = needed <= left ? hV : h - rate * z;
        tally.heat += K.condensing * (tSat - Ta) * z;
        record?.(z, tSat, tSat, K.condensing);
      } else {
        const needed = warmer ? (C / K.vapour) * Math.log((T - Ta) / (tWet - Ta)) : Number.POSITIVE_INFINITY;
        z = needed < left ? needed : left;
        const tOut = needed <= left ? tWet : Ta + (T - Ta) * Math.exp((-K.vapour * z) / C);
        hOut = h + cp * (tOut - T);
        tally.heat += C * (T - tOut);
        record?.(z, T, tOut, K.vapour);
      }
      tally.mass += density * z * fluid.rho(p, 0.5 * (h + hOut));
      h = hOut;
      left -= z;
    } else if (h > hL || (h === hL && !warmer)) {
      const rate = (K.condensing * (tSat - Ta)) / flow;
      const needed = rate > 0 ? (h - hL) / rate : rate < 0 ? (hV - h) / -rate : Number.POSITIVE_INFINITY;
      const z = needed < left ? needed : left;
      const hOut = needed <= left ? (rate > 0 ? hL : hV) : h - rate * z;
      const span = hV - hL;
      tally.heat += K.condensing * (tSat - Ta) * z;
      tally.mass += density * z * meanTwoPhaseDensity((h - hL) / span, (hOut - hL) / span, t.rhoLiquid(p), t.rhoVapour(p));
      record?.(z, tSat, tSat, K.condensing);
      h = hOut;
      left -= z;
    } else {
      const T = h < hL ? fluid.T(p, h) : tSat;
      const below = tSat - T;
      const cp = below > 0.05 ? (hL - h) / below : t.cpLiquid(p);
      const C = flow * cp;
      const needed = warmer ? Number.POSITIVE_INFINITY : (C / K.liquid) * Math.log((Ta - T) / Math.max(Ta - tSat, 1e-9));
      const z = needed < left ? needed : left;
      const tOut = needed <= left ? tSat : Ta + (T - Ta) * Math.exp((-K.liquid * z) / C);
      const hOut = needed <= left ? hL : hL - cp * (tSat - tOut);
      tally.heat += C * (T - tOut);
      tally.mass += density * z * fluid.rho(p, 0.5 * (h + hOut));
      record?.(z, T, tOut, K.liquid);
      h = hOut;
      left -= z;
    }
  }
  stream.h = h;
}
