import { type FluidTables, fluidTables } from '#libs/refrigerant/index.js';
import { bar, type Cause, causeOf } from './engine-causes.js';
import type { Fault, Hardware, Surroundings, Truth } from './engine-vehicle.js';

/**
 * The judging model: vehicle air conditioning by other equations than the system model the engine is calibrated with (`libs/system`).
 *
 *   valve       m = C A(SH) sqrt(2 rho_L dp), A = (SH - SH0)/SHmax: superheat is a result, not an input
 *   tube        m = K sqrt(2 rho_L (p_liquid - 0.85 p_e)) (0.8 + 0.02 SC): subcooling is a result
 *   evaporator  bypass factor BF = exp(-NTU), sensible and latent heat apart
 *   condenser   two sections in series, each with its own pressure and air, UA ~ air^0.55
 *   compressor  volumetric efficiency linear in pressure ratio and speed, isentropic efficiency with a best ratio
 *
 * Other fault laws, constants and draws as well. The same hand wrote both, from the same catalogue: it judges against structural error, not against vehicles.
 */
/** Humidity ratio of saturated air, Magnus formula. */
function saturatedHumidity(T: number, p: number): number {
  const t = T - 273.15;
  const ps = 611.2 * Math.exp((17.62 * t) / (243.12 + t));
  return (0.622 * ps) / Math.max(p - ps, 1000);
}

interface Point {
  readonly mass: number;
  readonly p1: number;
  readonly pe: number;
  readonly pc: number;
  readonly pLiquid: number;
  readonly h2: number;
  /** Work on a kilogram, J/kg. */
  readonly work: number;
  readonly liquidK: number;
  readonly capacity: number;
  readonly airOutK: number;
  readonly evaporator: number;
  readonly condenser: number;
}

function pointAt(
  f: FluidTables,
  hw: Hardware,
  air: Surroundings,
  c: Cause,
  Te: number,
  Tc: number,
  superheat: number,
  subcooling: number,
): Point {
  const pe = f.pSat(Te);
  const pc = f.pSat(Tc);
  const T1 = Math.min(Te + superheat, air.evaporatorAirK + 3);
  let p1 = pe;
  let mass = 0;
  let h1 = 0;
  for (let i = 0; i < 2; i++) {
    h1 = f.hPT(p1, Math.max(T1, f.tSat(p1) + 0.15));
    const rho = f.rho(p1, h1);
    const ratio = Math.max((pc + c.inert) / p1, 1.05);
    const filling = Math.max(0.9 - 0.043 * (ratio - 1) - 0.0009 * (c.speed - 25) - c.leak * (0.6 + 0.1 * ratio), 0.05);
    mass = hw.displacement * c.stroke * c.speed * filling * rho;
    const loss = (hw.dropSuction * c.suction * (mass / 0.035) ** 2 * 12) / Math.max(rho, 4);
    p1 = Math.max(pe - Math.min(loss, 0.55 * pe), 0.45 * bar);
  }
  const ratio = (pc + c.inert) / p1;
  // At short stroke friction weighs more: about a quarter is lost at 30 % stroke (component ranges).
  const strokeLoss = hw.compressor === 'fixed-clutch' ? 1 : 1 - 0.35 * (1 - c.stroke);
  const best = Math.max((hw.isentropic + 0.03 - 0.007 * (ratio - 4) ** 2 - c.friction - 0.25 * c.leak) * strokeLoss, 0.3);
  const pDischarge = Math.min(pc + c.inert + 0.1 * bar, f.pMax * 0.98);
  const h2 = h1 + (f.hPS(pDischarge, f.s(p1, h1)) - h1) / best;

  const flow = (mass / 0.035) ** 2;
  const healthyDrop = hw.dropCondenser * (hw.variant === 'oil' ? 1.25 : 1) * flow;
  const split = hw.variant === 'condenser-split';
  const p2 = Math.max(pc - (split ? 0.45 : 0.6) * healthyDrop - c.inside * flow, 2 * bar);
  const pLiquid = Math.max(p2 - (split ? 0.55 : 0.4) * healthyDrop - c.cartridge * flow, 1.6 * bar);
  const cold = air.condenserAirK + c.warmAir;
  const airFlow = hw.condenserAir * c.condenserAir * (air.barometerPa / 101_325);
  const capacityRate = airFlow * 1006;
  const inertLoss = 1 - (0.06 * c.inert) / bar;
  // Without a pass of its own, liquid that is subcooled stands where gas would condense.
  const liquidArea = hw.layout === 'valve-integral-receiver' ? 0.008 * subcooling : 0.022 * subcooling;
  const oil = hw.variant === 'oil';
  const conductance =
    hw.condenserUA * (oil ? 0.92 : 1) * c.condenserAir ** 0.55 * inertLoss * (1 - 0.4 * c.surplus) * Math.max(1 - liquidArea, 0.35);
  const epsilon = 1 - Math.exp(-conductance / capacityRate);
  const second = (split ? 0.42 : 0.25) * (1 - c.blockedTubes);
  const T2 = f.tSat(p2);
  const liquidK = Math.max(Math.min(T2, f.tSat(pLiquid)) - subcooling, cold + 0.8);
  const heat = epsilon * capacityRate * ((split ? 0.58 : 0.75) * (1 - 0.4 * c.blockedTubes) * (Tc - cold) + second * (T2 - cold));

  const cabin = hw.evaporatorAir * c.cabinAir * air.blower;
  const dryShare = Math.min((0.55 * Math.max(superheat - 4, 0)) / Math.max(air.evaporatorAirK - Te, 4), 0.85);
  const bypass = Math.exp(-hw.evaporatorNTU * (oil ? 1.03 : 1.12) * c.film * (1 - dryShare) * (c.cabinAir * air.blower) ** -0.35);
  const coil = Te + 2.2;
  const airOutK = air.evaporatorAirK - (1 - bypass) * (air.evaporatorAirK - coil);
  const wIn = saturatedHumidity(air.evaporatorAirK, air.barometerPa) * air.relativeHumidity;
  const wCoil = saturatedHumidity(coil, air.barometerPa);
  const capacity = cabin * (1006 * (air.evaporatorAirK - airOutK) + 2.48e6 * (1 - bypass) * Math.max(wIn - wCoil, 0));
  const h4 = f.hLiquid(f.pSat(liquidK)) + Math.min(Math.max(c.missing - 0.1, 0) * 0.8, 0.3) * 140e3;
  return {
    mass,
    p1,
    pe,
    pc,
    pLiquid,
    h2,
    work: h2 - h1,
    liquidK,
    capacity,
    airOutK,
    // Oil carries liquid through the evaporator: four hundredths of the flow do not evaporate there.
    evaporator: capacity - mass * (oil ? 0.96 : 1) * (h1 - h4),
    condenser: heat - mass * (h2 - h4),
  };
}

interface Balanced {
  readonly point: Point;
  readonly Te: number;
  readonly Tc: number;
}

function balance(
  f: FluidTables,
  hw: Hardware,
  air: Surroundings,
  c: Cause,
  superheat: number,
  subcooling: number,
  from: Balanced | null,
): Balanced | null {
  let Te = from?.Te ?? 274;
  let Tc = from?.Tc ?? air.condenserAirK + 18;
  const top = f.tSaturationMax - 4;
  for (let i = 0; i < 50; i++) {
    const at = pointAt(f, hw, air, c, Te, Tc, superheat, subcooling);
    const scale = Math.max(at.capacity, 300);
    if (Math.abs(at.evaporator) < 2e-4 * scale && Math.abs(at.condenser) < 2e-4 * scale) return { point: at, Te, Tc };
    const e = pointAt(f, hw, air, c, Te + 0.05, Tc, superheat, subcooling);
    const k = pointAt(f, hw, air, c, Te, Tc + 0.05, superheat, subcooling);
    const a = (e.evaporator - at.evaporator) / 0.05;
    const b = (k.evaporator - at.evaporator) / 0.05;
    const d = (e.condenser - at.condenser) / 0.05;
    const g = (k.condenser - at.condenser) / 0.05;
    const det = a * g - b * d;
    if (!(Math.abs(det) > 1e-9)) return null;
    const clip = (x: number) => Math.min(Math.max(x, -5), 5);
    Te = Math.min(Math.max(Te + clip(-(g * at.evaporator - b * at.condenser) / det), 238), air.evaporatorAirK - 2);
    Tc = Math.min(Math.max(Tc + clip(-(a * at.condenser - d * at.evaporator) / det), air.condenserAirK + 1), top);
  }
  return null;
}

interface Cycle extends Balanced {
  readonly superheat: number;
}

/** Shares of the superheat a valve is set to at which it begins to open and at which it is fully open. */
const VALVE_OPENS = 0.5;
const VALVE_TRAVEL = 1.12;

/** Superheat (valve) or subcooling (tube) at which the expansion device passes what the compressor moves. */
function cycle(f: FluidTables, hw: Hardware, air: Surroundings, c: Cause): Cycle | null {
  const orifice = hw.layout === 'orifice-accumulator';
  // Expansion devices are chosen for the compressor they serve.
  const sizing = (hw.displacement * (hw.compressor === 'electric' ? 65 : 27)) / 3.75e-3;
  const valveFlow = (b: Balanced, superheat: number): number => {
    const { point } = b;
    const late = Math.max(point.pLiquid - (0.06 * bar + c.late) * (point.mass / 0.035) ** 2, point.pe + 0.1 * bar);
    const flashing = late < f.pSat(point.liquidK) ? 0.72 : 1;
    const starved = Math.max(1 - 1.9 * Math.max(c.missing - 0.1, 0), 0.15);
    const open =
      c.stuckOpen > 0
        ? c.stuckOpen
        : Math.min(Math.max((superheat - VALVE_OPENS * hw.superheat) / ((VALVE_TRAVEL - VALVE_OPENS) * hw.superheat), 0.02), 1) * c.opening;
    return 0.95e-6 * sizing * open * flashing * starved * Math.sqrt(2 * f.rhoLiquid(late) * (late - point.pe));
  };
  if (!orifice) {
    const subcooling = hw.subcooling * Math.max(1 - c.missing / 0.12, 0) * (1 - 0.35 * Math.min(c.stuckOpen, 1)) + 22 * c.surplus;
    let low = 0.2;
    let high = 45;
    let best: Balanced | null = null;
    let superheat = hw.superheat;
    for (let i = 0; i < 16; i++) {
      const b = balance(f, hw, air, c, superheat, subcooling, best);
      if (!b) return null;
      best = b;
      if (valveFlow(b, superheat) > b.point.mass) high = superheat;
      else low = superheat;
      superheat = (low + high) / 2;
      if (high - low < 0.05) break;
    }
    return best && { ...best, superheat };
  }
  const starve = Math.max(c.missing - 0.04, 0);
  const superheat = Math.min(Math.max(hw.superheat * 0.6, 0.3) + 68 * starve + 30 * Math.max(0.55 - c.opening, 0), 40);
  const most = c.missing > 0 ? hw.subcooling * Math.max(1 - c.missing / 0.15, 0) : 28 + 25 * c.surplus;
  const least = 18 * c.surplus;
  let low = 0;
  let high = 40;
  let subcooling = hw.subcooling;
  let best: Balanced | null = null;
  for (let i = 0; i < 14; i++) {
    const b = balance(f, hw, air, c, superheat, Math.min(Math.max(subcooling, least), most), best);
    if (!b) return null;
    best = b;
    const { point } = b;
    const late = Math.max(point.pLiquid - c.late * (point.mass / 0.035) ** 2, point.pe);
    // The other law: flow chokes at nine tenths of the liquid's own saturation, whatever the evaporator does.
    const back = hw.variant === 'tube-law' ? Math.max(0.9 * f.pSat(point.liquidK), point.pe) : 0.85 * point.pe;
    const opening = hw.variant === 'tube-law' ? 1.02e-6 * (0.85 + 0.018 * subcooling) : 0.6e-6 * (0.7 + 0.05 * subcooling);
    const flow = opening * sizing * c.opening * Math.sqrt(2 * f.rhoLiquid(point.pLiquid) * Math.max(late - back, 1e4));
    if (flow > point.mass) high = subcooling;
    else low = subcooling;
    subcooling = (low + high) / 2;
  }
  return best && { ...best, superheat };
}

/**
 * A cycling clutch is read at the end of its on-time: the low side stands at cut-out and the condenser carries the full flow that is drawn there;
 * air and capacity stay the means over a cycle.
 */
function endOfOnTime(f: FluidTables, hw: Hardware, air: Surroundings, c: Cause, mean: Cycle): Cycle {
  const subcooling = Math.max(f.tSat(mean.point.pLiquid) - mean.point.liquidK, 0);
  let low = air.condenserAirK + 1;
  let high = f.tSaturationMax - 4;
  for (let i = 0; i < 18; i++) {
    const Tc = (low + high) / 2;
    if (pointAt(f, hw, air, c, mean.Te, Tc, mean.superheat, subcooling).condenser < 0) low = Tc;
    else high = Tc;
  }
  const point = pointAt(f, hw, air, c, mean.Te, (low + high) / 2, mean.superheat, subcooling);
  return { ...mean, Tc: (low + high) / 2, point: { ...point, capacity: mean.point.capacity, airOutK: mean.point.airOutK } };
}

/** The readings of one system with one fault; null when no steady state exists there. */
export function generate(hw: Hardware, air: Surroundings, fault: Fault): Truth | null {
  const f = fluidTables(hw.refrigerant);
  const empty = fault.code === 'undercharge' && fault.size > 0.9;
  if (empty || fault.code === 'compressor-inhibited') {
    const T = air.condenserAirK + 0.5;
    const p = empty ? (1 + 18 * (1 - fault.size)) * bar : f.pSat(T);
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
      dischargeK: T + 6,
      ventK: air.evaporatorAirK + 1,
      coreK: air.evaporatorAirK,
      stroke: 1,
      duty: 0,
      speedRatio: 1,
      capacityW: 0,
      powerW: 0,
      runs: false,
      valveOpen: false,
    };
  }
  const c = causeOf(hw, fault, air.speed);
  const full = c.stroke;
  let solved = cycle(f, hw, air, c);
  if (!solved) return null;
  let stroke = full;
  const variable = hw.compressor === 'variable' || hw.compressor === 'variable-commanded';
  const controls = (variable && fault.code !== 'displacement-stuck-low') || hw.compressor === 'electric';
  // The other control law: a valve with droop, whose suction rises with the load and sinks with the speed.
  const droop = hw.variant === 'control-law' ? 0.22 * (air.evaporatorAirK - 299) - 1.5 * (air.speed / 28 - 1) : 0;
  const floor = controls ? hw.setPoint + droop : hw.compressor === 'fixed-clutch' ? hw.cutOut + 0.6 * droop : 0;
  if (solved.Te < floor) {
    let low = 0.05;
    let high = full;
    for (let i = 0; i < 12; i++) {
      stroke = (low + high) / 2;
      const trial = cycle(f, hw, air, { ...c, stroke });
      if (trial) solved = trial;
      if (!trial || trial.Te < floor) high = stroke;
      else low = stroke;
    }
  }
  const duty = hw.compressor === 'fixed-clutch' ? Math.min(stroke / full, 1) : 1;
  if (duty < 1) solved = endOfOnTime(f, hw, air, c, solved);
  const { point, Te, superheat } = solved;
  const flow = (point.mass / 0.035) ** 2;
  const condenserInlet = point.pc + c.inert;
  const condenserOutlet = point.pLiquid + c.inert;
  const afterDrier = Math.max(condenserOutlet - (0.06 * bar + c.late) * flow, 1.2 * bar);
  const reheat = fault.code === 'air-door' ? 3 + 17 * fault.size : 1.8;
  const coreK = point.airOutK;
  return {
    compressorSuction: point.p1,
    evaporatorOutlet: point.pe,
    compressorDischarge: condenserInlet + (0.12 * bar + c.hose) * flow,
    condenserInlet,
    condenserOutlet,
    afterDrier,
    suctionK: Math.min(Te + superheat + 0.5, air.evaporatorAirK + 3),
    liquidK: point.liquidK,
    lateLiquidK: Math.min(point.liquidK - 0.4, f.tSat(Math.min(afterDrier, f.pSaturationMax))),
    dischargeK: f.T(Math.min(point.pc, f.pMax * 0.98), point.h2) - 5,
    ventK: coreK + reheat,
    coreK,
    stroke: controls && variable ? stroke : 1,
    duty,
    speedRatio: c.speed / air.speed,
    capacityW: point.capacity,
    powerW: point.mass * point.work * duty,
    runs: true,
    valveOpen: hw.layout !== 'orifice-accumulator' && superheat >= VALVE_TRAVEL * hw.superheat,
  };
}
