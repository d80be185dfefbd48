import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '#libs/engine/index.js';
import { type FluidTables, fluidTables } from '#libs/refrigerant/index.js';

/**
 * A second, simpler vehicle air-conditioning model, kept apart from the engine and from the system model it is calibrated with: other
 * equations, other constants, other parameter draws. It exists to judge the engine on systems it was not built from.
 *
 * Two unknowns, evaporating and condensing temperature, from two heat balances:
 *   evaporator  ma (1 - exp(-NTU)) (h_air - h_sat(Te)) = m (h1 - h4)
 *   condenser   (1 - exp(-UA/(ma cp))) ma cp (Tc - Ta) + subcooling = m (h2 - h3)
 * with m from displacement, speed and a clearance-volume efficiency. Lumped, steady, no inventory: charge acts through subcooling and flash.
 */
export interface Hardware {
  readonly layout: Layout;
  readonly compressor: CompressorKind;
  readonly refrigerant: RefrigerantName;
  /** Swept volume, m3 a revolution. */
  readonly displacement: number;
  readonly clearance: number;
  readonly isentropic: number;
  /** W/K and kg/s. */
  readonly condenserUA: number;
  readonly condenserAir: number;
  readonly evaporatorNTU: number;
  readonly evaporatorAir: number;
  /** Healthy pressure losses at 0.035 kg/s, Pa. */
  readonly dropCondenser: number;
  readonly dropSuction: number;
  readonly subcooling: number;
  readonly superheat: number;
  /** Share of the charge that can be lost before readings move. */
  readonly reserve: number;
  /** Evaporating temperature a variable compressor holds, K. */
  readonly setPoint: number;
  /** Condition of the thermostat or pressure switch of a fixed clutch, K. */
  readonly cutOut: number;
}

export interface Surroundings {
  readonly condenserAirK: number;
  readonly evaporatorAirK: number;
  readonly relativeHumidity: number;
  /** Compressor speed, 1/s. */
  readonly speed: number;
  readonly blower: number;
  readonly barometerPa: number;
}

export interface Fault {
  readonly code: FaultCode;
  /** 0 to 1. */
  readonly size: number;
}

/** What would be read on this system, absolute pressures in Pa, temperatures in K. */
export interface Truth {
  readonly compressorSuction: number;
  readonly evaporatorOutlet: number;
  readonly compressorDischarge: number;
  readonly condenserInlet: number;
  readonly condenserOutlet: number;
  readonly afterDrier: number;
  readonly suctionK: number;
  readonly liquidK: number;
  readonly lateLiquidK: number;
  readonly dischargeK: number;
  readonly ventK: number;
  readonly coreK: number;
  readonly stroke: number;
  readonly duty: number;
  readonly speedRatio: number;
  readonly capacityW: number;
  readonly runs: boolean;
}

/** Humid-air enthalpy, J per kg dry air: 1006 t + w (2.501e6 + 1860 t), t in C; w from a Magnus saturation pressure. */
function airEnthalpy(T: number, rh: number, p: number): number {
  const t = T - 273.15;
  const ps = 611.2 * Math.exp((17.62 * t) / (243.12 + t));
  const w = (0.622 * rh * ps) / (p - rh * ps);
  return 1006 * t + w * (2.501e6 + 1860 * t);
}

interface State {
  mass: number;
  h1: number;
  h2: number;
  p1: number;
  pe: number;
  pc: number;
  evaporatorDuty: number;
  condenserBalance: number;
  evaporatorBalance: number;
  liquidK: number;
  superheat: number;
}

interface Settings {
  air: number;
  ua: number;
  recirculationK: number;
  inert: number;
  evaporatorAir: number;
  ntu: number;
  leak: number;
  heat: number;
  speed: number;
  stroke: number;
  subcooling: number;
  superheat: number;
  flash: number;
  inside: number;
  cartridge: number;
  line: number;
  hose: number;
  suction: number;
}

const bar = 1e5;

/** One evaluation of the two balances at (Te, Tc). */
function evaluate(f: FluidTables, hw: Hardware, air: Surroundings, s: Settings, Te: number, Tc: number): State {
  const pe = f.pSat(Te);
  const pc = f.pSat(Math.min(Tc, f.tSaturationMax - 1));
  const superheat = Math.min(Math.max(s.superheat, 0.2), Math.max(air.evaporatorAirK - Te - 1, 0.2));
  // Suction losses grow with the square of flow; two passes are enough because the loss is small.
  let p1 = pe;
  let mass = 0;
  let h1 = 0;
  for (let i = 0; i < 3; i++) {
    h1 = f.hPT(p1, Math.max(Te + superheat, f.tSat(p1) + 0.2));
    const rho = f.rho(p1, h1);
    const ratio = Math.max(pc / p1, 1);
    const efficiency = Math.max(0.97 - hw.clearance * (ratio ** (1 / 1.12) - 1) - 0.0011 * (s.speed - 20), 0.15) * (1 - s.leak);
    mass = hw.displacement * s.stroke * s.speed * efficiency * rho;
    const loss = hw.dropSuction * (1 + s.suction) * (mass / 0.035) ** 2 * (12 / Math.max(rho, 4));
    p1 = Math.max(pe - Math.min(loss, 0.6 * pe), 0.4 * bar);
  }
  const s1 = f.s(p1, h1);
  const discharge = Math.min(pc * 1.01, f.pMax * 0.99);
  const ideal = f.hPS(discharge, s1) - h1;
  const h2 = h1 + ideal / (hw.isentropic * (1 - s.heat));
  const pLiquid = Math.max(pc - hw.dropCondenser * (mass / 0.035) ** 2 - (s.inside + s.cartridge) * (mass / 0.035) ** 2, 2 * bar);
  const cold = air.condenserAirK + s.recirculationK;
  const saturated = f.tSat(pLiquid);
  const liquidK = Math.max(saturated - s.subcooling, Math.min(cold + 1, saturated));
  const h4 = f.hLiquid(f.pSat(liquidK)) + s.flash * 150e3;
  const evaporatorAir = hw.evaporatorAir * s.evaporatorAir * air.blower;
  const epsilon = 1 - Math.exp(-hw.evaporatorNTU * s.ntu * (evaporatorAir / hw.evaporatorAir) ** -0.4);
  // Where superheat takes area, less of the coil boils.
  const wetted = Math.max(1 - Math.max(superheat - 5, 0) / 45, 0.15);
  const inlet = airEnthalpy(air.evaporatorAirK, air.relativeHumidity, air.barometerPa);
  const coil = airEnthalpy(Te + 2.5, 1, air.barometerPa);
  const dry = 1006 * (air.evaporatorAirK - Te - 2.5);
  const evaporatorDuty = evaporatorAir * epsilon * wetted * Math.max(inlet - coil, dry, 0);
  const condenserAir = hw.condenserAir * s.air * (air.barometerPa / 101_325);
  const capacity = condenserAir * 1006;
  const epsilonC = 1 - Math.exp((-hw.condenserUA * s.ua) / capacity);
  // Past a restriction the condenser works at the lower pressure: the mean of both ends drives the heat.
  const drive = 0.7 * Tc + 0.3 * f.tSat(pLiquid + s.cartridge * (mass / 0.035) ** 2) - cold;
  const condenserDuty = epsilonC * capacity * Math.max(drive, 0) * 1.04;
  return {
    mass,
    h1,
    h2,
    p1,
    pe,
    pc,
    evaporatorDuty,
    evaporatorBalance: evaporatorDuty - mass * (h1 - h4),
    condenserBalance: condenserDuty - mass * (h2 - h4),
    liquidK,
    superheat,
  };
}

/** Evaporating and condensing temperature by damped Newton with differences; null when it does not settle. */
function balance(f: FluidTables, hw: Hardware, air: Surroundings, s: Settings): { state: State; Te: number; Tc: number } | null {
  let Te = 274;
  let Tc = air.condenserAirK + 18;
  for (let i = 0; i < 60; i++) {
    const at = evaluate(f, hw, air, s, Te, Tc);
    const scale = Math.max(at.evaporatorDuty, 300);
    if (Math.abs(at.evaporatorBalance) < 1e-4 * scale && Math.abs(at.condenserBalance) < 1e-4 * scale) return { state: at, Te, Tc };
    const e = evaluate(f, hw, air, s, Te + 0.05, Tc);
    const c = evaluate(f, hw, air, s, Te, Tc + 0.05);
    const a11 = (e.evaporatorBalance - at.evaporatorBalance) / 0.05;
    const a21 = (e.condenserBalance - at.condenserBalance) / 0.05;
    const a12 = (c.evaporatorBalance - at.evaporatorBalance) / 0.05;
    const a22 = (c.condenserBalance - at.condenserBalance) / 0.05;
    const det = a11 * a22 - a12 * a21;
    if (Math.abs(det) < 1e-9) return null;
    const clip = (x: number) => Math.min(Math.max(x, -6), 6);
    Te += clip(-(a22 * at.evaporatorBalance - a12 * at.condenserBalance) / det);
    Tc += clip(-(a11 * at.condenserBalance - a21 * at.evaporatorBalance) / det);
    Te = Math.min(Math.max(Te, 236), air.evaporatorAirK - 2);
    Tc = Math.min(Math.max(Tc, air.condenserAirK + 1), f.tSaturationMax - 4);
  }
  return null;
}

function settingsOf(hw: Hardware, fault: Fault, air: Surroundings): Settings {
  const z = fault.size;
  const s: Settings = {
    air: 1,
    ua: 1,
    recirculationK: 0,
    inert: 0,
    evaporatorAir: 1,
    ntu: 1,
    leak: 0,
    heat: 0,
    speed: air.speed,
    stroke: 1,
    subcooling: hw.subcooling,
    superheat: hw.superheat,
    flash: 0,
    inside: 0,
    cartridge: 0,
    line: 0,
    hose: 0,
    suction: 0,
  };
  const orifice = hw.layout === 'orifice-accumulator';
  switch (fault.code) {
    case 'undercharge': {
      // Past the reserve: first subcooling goes, then vapour reaches the valve, then the evaporator starves.
      const beyond = Math.max(z - hw.reserve, 0);
      s.subcooling = hw.subcooling * Math.max(1 - beyond / 0.1, 0);
      s.flash = Math.min(Math.max(beyond - 0.12, 0) * 0.9, 0.35);
      s.superheat = hw.superheat + Math.max(beyond - (orifice ? 0.05 : 0.14), 0) * 75;
      break;
    }
    case 'overcharge': {
      const beyond = Math.max(z - 0.16, 0);
      s.subcooling += beyond * 26;
      s.ua = 1 - Math.min(beyond * 0.9, 0.5);
      break;
    }
    case 'air-in-system':
      s.inert = (0.5 + 2.8 * z) * bar;
      s.ua = 1 - 0.05 * (s.inert / bar);
      break;
    case 'condenser-dirt':
      s.air = 1 - 0.65 * z;
      s.ua = 1 - 0.4 * z;
      break;
    case 'condenser-fan':
      s.air = 1 - 0.72 * z;
      s.recirculationK = 6 * z;
      break;
    case 'condenser-passages':
      s.inside = (0.8 + 7.5 * z) * bar;
      s.ua = 1 - 0.4 * z;
      s.subcooling *= 1 - 0.7 * z;
      break;
    case 'filter-cartridge':
      s.cartridge = (0.7 + 5.5 * z) * bar;
      s.subcooling *= 1 - 0.4 * z;
      break;
    case 'liquid-line-restriction':
      s.line = (1 + 5 * z) * bar;
      s.superheat += 14 * Math.max(z - 0.4, 0);
      if (orifice) s.subcooling += 14 * z;
      break;
    case 'discharge-line-restriction':
      s.hose = (0.8 + 5 * z) * bar;
      break;
    case 'valve-restricted':
      s.superheat += 34 * z;
      break;
    case 'valve-stuck-open':
      s.superheat = Math.max(hw.superheat * (1 - 1.6 * z), 0.2);
      s.subcooling *= 1 - 0.5 * z;
      break;
    case 'orifice-clogged':
      s.subcooling += 20 * z;
      s.superheat += 26 * Math.max(z - 0.35, 0);
      s.ua = 1 - 0.15 * z;
      break;
    case 'orifice-oversize':
      s.subcooling *= 1 - z;
      s.superheat = 0.2;
      s.flash = 0.06 * z;
      break;
    case 'suction-restriction':
      s.suction = 2 + 26 * z;
      break;
    case 'compressor-leakage':
      s.leak = 0.12 + 0.55 * z;
      s.heat = 0.12 * z;
      break;
    case 'compressor-wear':
      s.heat = 0.15 + 0.3 * z;
      s.leak = 0.1 * z;
      break;
    case 'displacement-stuck-low':
      s.stroke = 0.55 - 0.4 * z;
      break;
    case 'clutch-slip':
      s.speed = air.speed * (0.8 - 0.55 * z);
      break;
    case 'electric-compressor-limited':
      s.speed = air.speed * (0.75 - 0.6 * z);
      break;
    case 'evaporator-airflow':
      s.evaporatorAir = 0.8 - 0.5 * z;
      break;
    case 'evaporator-fouling':
      s.ntu = 0.85 - 0.35 * z;
      break;
    default:
      break;
  }
  return s;
}

/** The readings of one system with one fault; null when no steady state exists there. */
export function generate(hw: Hardware, air: Surroundings, fault: Fault): Truth | null {
  const f = fluidTables(hw.refrigerant);
  const stopped = fault.code === 'compressor-inhibited' || (fault.code === 'undercharge' && fault.size > 0.9);
  if (stopped) {
    const T = air.condenserAirK + 1;
    const p = fault.code === 'undercharge' ? (1.05 + 1.6 * (1 - fault.size) * 10) * bar : f.pSat(T);
    return {
      compressorSuction: p,
      evaporatorOutlet: p,
      compressorDischarge: p,
      condenserInlet: p,
      condenserOutlet: p,
      afterDrier: p,
      suctionK: T,
      liquidK: T,
      lateLiquidK: T,
      dischargeK: T + 4,
      ventK: air.evaporatorAirK,
      coreK: air.evaporatorAirK,
      stroke: 1,
      duty: 0,
      speedRatio: 1,
      capacityW: 0,
      runs: false,
    };
  }
  const s = settingsOf(hw, fault, air);
  const variable = hw.compressor === 'variable' || hw.compressor === 'variable-commanded';
  let solved = balance(f, hw, air, s);
  let stroke = s.stroke;
  let duty = 1;
  const controls = variable && fault.code !== 'displacement-stuck-low' && fault.code !== 'displacement-stuck-high';
  const reach = (target: number): void => {
    let low = 0.04;
    let high = s.stroke;
    for (let i = 0; i < 22; i++) {
      stroke = (low + high) / 2;
      const trial = balance(f, hw, air, { ...s, stroke });
      if (!trial || trial.Te < target) high = stroke;
      else low = stroke;
      if (trial) solved = trial;
    }
  };
  if (!solved) return null;
  if ((controls || hw.compressor === 'electric') && solved.Te < hw.setPoint) reach(hw.setPoint);
  else if (hw.compressor === 'fixed-clutch' && solved.Te < hw.cutOut) {
    // The clutch cycles: at the end of the on-time the low side stands at cut-out; the on-share is what the load asks.
    const free = solved.state.evaporatorDuty;
    reach(hw.cutOut);
    duty = Math.min(Math.max(stroke, 0.08), 1);
    const held = solved!.state.evaporatorDuty;
    if (free <= 0 || held <= 0) return null;
  }
  const { state, Te } = solved;
  const flow = (state.mass / 0.035) ** 2;
  const inert = s.inert;
  const condenserInlet = state.pc + inert;
  const condenserOutlet = Math.max(condenserInlet - (hw.dropCondenser + s.inside + s.cartridge) * flow, 1.5 * bar);
  const afterDrier = Math.max(condenserOutlet - (0.08 * bar + s.line) * flow, 1.2 * bar);
  const saturatedLate = f.tSat(Math.min(afterDrier, f.pSaturationMax));
  const evaporatorAir = hw.evaporatorAir * s.evaporatorAir * air.blower;
  const sensible = 0.68 - 0.35 * (air.relativeHumidity - 0.4);
  const coreK = Math.max(Te + 1.5, air.evaporatorAirK - (state.evaporatorDuty * sensible) / (evaporatorAir * 1006));
  const reheat = fault.code === 'air-door' ? 4 + 15 * fault.size : 1.5;
  const limit = fault.code === 'electric-compressor-limited' ? s.speed / air.speed : fault.code === 'clutch-slip' ? s.speed / air.speed : 1;
  return {
    compressorSuction: state.p1,
    evaporatorOutlet: state.pe,
    compressorDischarge: condenserInlet + (0.15 * bar + s.hose) * flow,
    condenserInlet,
    condenserOutlet,
    afterDrier,
    suctionK: Math.min(Te + state.superheat, air.evaporatorAirK + 5),
    liquidK: state.liquidK,
    lateLiquidK: Math.min(state.liquidK - 0.3, saturatedLate),
    dischargeK: f.T(Math.min(state.pc, f.pMax * 0.99), state.h2) - 6,
    ventK: coreK + reheat,
    coreK,
    stroke: controls ? stroke : fault.code === 'displacement-stuck-low' ? 1 : stroke,
    duty,
    speedRatio: limit,
    capacityW: state.evaporatorDuty * duty,
    runs: true,
  };
}
