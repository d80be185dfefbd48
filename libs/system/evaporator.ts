import { fastSaturationHumidity, fastVapourPressure } from '#libs/air/index.js';
import { meanTwoPhaseDensity } from './charge-inventory.js';
import { CP_AIR } from './condenser.js';
import { type EvaporatorHardware, RATED_FLOW } from './hardware.js';
import type { Properties } from './properties.js';

/** Heat given up by a kilogram of water vapour condensing on the core, J/kg, near 10 °C. */
const H_CONDENSATION = 2_478_000;

/** The air entering the evaporator and what of the core it meets. */
export interface EvaporatorAir {
  /** Dry air, kg/s. */
  flow: number;
  T: number;
  /** Humidity ratio, kg/kg, and its saturation temperature bound. */
  W: number;
  pressure: number;
  /** 1 - bypass factor at this flow. */
  contact: number;
}

export interface EvaporatorOutcome {
  /** Enthalpy of the refrigerant leaving, J/kg. */
  hOut: number;
  /** Heat taken from the air, W, from air-side states. */
  heat: number;
  /** Temperature of the wetted or dry metal where refrigerant boils, K. */
  tSurface: number;
  /** Air leaving the core, mixed, K and kg/kg. */
  tAirOut: number;
  humidityOut: number;
  mass: number;
}

/**
 * Metal temperature of a core in which refrigerant boils at Te: the air gives what the refrigerant side takes,
 *
 *   ma contact (cp (Ta - Ts) + r max(0, W - Wsat(Ts))) = UA_r (Ts - Te)
 *
 * the enthalpy method: a share `contact` of the air leaves saturated at Ts, the rest (bypass factor) untouched; dry where Ts is above the dew
 * point. Left side minus right falls with Ts, so Newton from the dry solution, held between Te and Ta, converges in a few steps.
 */
export function surfaceTemperature(air: EvaporatorAir, boiling: number, Te: number): number {
  const contactFlow = air.flow * air.contact;
  const dry = contactFlow * CP_AIR;
  let Ts = (dry * air.T + boiling * Te) / (dry + boiling);
  if (Ts < 213.2 || Ts > 373 || air.W <= fastSaturationHumidity(Ts, air.pressure)) return Ts;
  for (let i = 0; i < 30; i++) {
    const pws = fastVapourPressure(Ts);
    const Wsat = (0.621945 * pws) / (air.pressure - pws);
    const slope = (Wsat * air.pressure * (Ts > 273.16 ? 2_478_000 : 2_836_000)) / ((air.pressure - pws) * 461.5 * Ts * Ts);
    const f = contactFlow * (CP_AIR * (air.T - Ts) + H_CONDENSATION * (air.W - Wsat)) - boiling * (Ts - Te);
    const df = -contactFlow * (CP_AIR + H_CONDENSATION * slope) - boiling;
    const step = f / df;
    Ts -= step;
    if (Math.abs(step) < 1e-10) break;
  }
  return Ts;
}

/**
 * Evaporator: refrigerant boils over the share z of the core that it needs and superheats over the rest.
 *
 *   boiling      heat per unit of the core q = UA_r (Ts - Te);  z = m (hV - h1)/q
 *   superheat    T2 = Ta - (Ta - Te) exp(-Kv (1 - z)/(m cp)),  Kv = Ca (1 - exp(-UA/Ca)), dry
 *   z >= 1       it leaves wet: h2 = h1 + q/m
 *
 * p, Te        mean pressure of boiling and its temperature     pOut   at the outlet     h1   entering
 * conductance  share of the hardware's refrigerant-side conductance (oil film); the air side is in `air.contact`
 * source       bypass-factor form of the wet coil (ASHRAE Fundamentals); dry superheat zone by us.
 */
export function evaporate(
  e: EvaporatorHardware,
  fluid: Properties,
  air: EvaporatorAir,
  conductance: number,
  flow: number,
  p: number,
  pOut: number,
  h1: number,
  volume: number,
  out: EvaporatorOutcome,
): void {
  const t = fluid.tables;
  const strength = conductance * (Math.max(flow, 1e-5) / RATED_FLOW) ** 0.8;
  const Te = t.tSat(p);
  const hV = t.hVapour(pOut);
  const hL = t.hLiquid(p);
  // Boiling hardly slackens with flow; half the exponent of single-phase flow is usual for nucleate and convective boiling together.
  const boiling = e.boilingConductance * conductance * Math.sqrt(Math.max(flow, 1e-5) / RATED_FLOW);
  const Ts = surfaceTemperature(air, boiling, Te);
  const q = boiling * (Ts - Te);
  const rhoL = t.rhoLiquid(p);
  const rhoV = t.rhoVapour(p);
  const x1 = (h1 - hL) / (hV - hL);
  const need = q > 0 ? (flow * (hV - h1)) / q : Number.POSITIVE_INFINITY;
  const Wsat = fastSaturationHumidity(Math.min(Math.max(Ts, 213.2), 373), air.pressure);
  const Wleft = air.W - air.contact * Math.max(0, air.W - Wsat);
  const tLeft = air.T - air.contact * (air.T - Ts);
  out.tSurface = Ts;
  if (need >= 1) {
    out.hOut = h1 + q / flow;
    out.heat = q;
    out.tAirOut = tLeft;
    out.humidityOut = Wleft;
    out.mass = volume * meanTwoPhaseDensity(Math.min(x1, 1), Math.min((out.hOut - hL) / (hV - hL), 1), rhoL, rhoV);
    return;
  }
  const z = need > 0 ? need : 0;
  const rest = 1 - z;
  const Ca = air.flow * CP_AIR;
  const uaAir = -Ca * Math.log1p(-air.contact);
  const Kv = -Ca * Math.expm1(-1 / (Ca * (1 / uaAir + 1 / (e.vapourConductance * strength))));
  const cp = t.cpVapour(pOut);
  // A stream that enters as vapour starts from its own temperature.
  const tStart = need > 0 ? t.tSat(pOut) : fluid.T(pOut, h1);
  const hStart = need > 0 ? hV : h1;
  const tEnd = air.T - (air.T - tStart) * Math.exp((-Kv * rest) / (flow * cp));
  const qv = flow * cp * (tEnd - tStart);
  out.hOut = hStart + cp * (tEnd - tStart);
  out.heat = q * z + qv;
  out.tAirOut = z * tLeft + rest * (air.T - qv / (rest * Ca));
  out.humidityOut = z * Wleft + rest * air.W;
  out.mass = volume * (z * meanTwoPhaseDensity(Math.min(x1, 1), 1, rhoL, rhoV) + rest * fluid.rho(pOut, 0.5 * (hStart + out.hOut)));
}
