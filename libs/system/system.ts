import { compress } from './compressor.js';
import { CP_AIR, faceConductance, passSection, type StretchRecord } from './condenser.js';
import { headAt, headShare, suctionControl } from './control.js';
import { evaporate } from './evaporator.js';
import type { HighSidePlace } from './hardware.js';
import { heatFromBay, pressureLoss } from './line.js';
import type { Model } from './model.js';
import { orificeFlow } from './orifice-tube.js';
import { LOWEST_PRESSURE } from './properties.js';
import type { CircuitState } from './state.js';
import { afterDrop } from './stream.js';
import { valveFlow, valveOpening } from './thermostatic-valve.js';
import { levelNeeded, vesselResidual } from './vessel.js';

/** Scales of the residuals: enthalpy 20 kJ/kg, flow as a share of this, level as it is. */
const ENTHALPY_SCALE = 20_000;
const FLOW_SCALE = 0.02;
/** While the clutch is open the expansion device still passes this share of its flow on average: the sides equalise through it. */
const OFF_FLOW = 0.5;

/**
 * The equations of the steady circuit. Three unknowns fix every state:
 *
 *   u    suction coordinate (see control.ts): suction pressure and the compressor's effort
 *   h1   enthalpy at the compressor's suction
 *   v    head coordinate: discharge pressure, or how far the high-pressure switch holds the flow back
 *
 * From them the stream is carried once around: compressor, discharge line, condenser section, restriction, condenser section, receiver and cartridge,
 * subcool pass, liquid line and drier, expansion device, evaporator, suction line. What must hold then:
 *
 *   F1   the enthalpy that comes back to the compressor is h1
 *   F2   the expansion device passes the flow that the compressor moves (mean over a clutch cycle)
 *   F3   the vessel's level (receiver or accumulator) fits the charge and what enters it (vessel.ts)
 *
 * Energy closes by construction in every component and mass by F2 and F3, so the residuals are the closure errors themselves.
 * Writes all states to `s` and the residuals to s.F; `record` receives the condenser's stretches for drawing.
 */
export function evaluateCircuit(m: Model, s: CircuitState, u: number, h1: number, v: number, record: StretchRecord | null = null): void {
  compressorSide(m, s, u, h1, v);
  condenserSide(m, s, record);
  liquidSide(m, s);
  evaporatorSide(m, s);
  closures(m, s);
}

function compressorSide(m: Model, s: CircuitState, u: number, h1: number, v: number): void {
  const { hardware: hw, fluid } = m;
  suctionControl(hw.compressor.kind, hw.control, m.limits, u, s.control);
  s.u = u;
  s.v = v;
  s.pSuction = s.control.pressure;
  s.hSuction = h1;
  s.pDischarge = headAt(m.headLimit, v);
  const electric = hw.compressor.kind === 'electric';
  const speed = electric ? m.speed * s.control.stroke : m.speed;
  const stroke = electric ? 1 : s.control.stroke;
  compress(hw.compressor, m.compressorState, fluid, s.pSuction, h1, s.pDischarge, stroke, speed, s.compression);
  const held = headShare(v);
  s.headShare = held;
  // A cycling clutch fills the high side with the full flow while it is closed; the high-pressure switch is met with its mean flow.
  s.flowHigh = s.compression.flow * held;
  s.flow = s.flowHigh * s.control.onFraction;
  s.speed = speed;
}

function condenserSide(m: Model, s: CircuitState, record: StretchRecord | null): void {
  const { hardware: hw, fluid, airPressure } = m;
  const { tables } = fluid;
  const x = s.stream;
  const flow = s.flowHigh;
  const floor = LOWEST_PRESSURE;
  // The refrigerant's own pressure: what air adds does not condense.
  x.p = Math.max(s.pDischarge - airPressure, LOWEST_PRESSURE * 2);
  x.h = s.compression.hDischarge;
  s.condenser.mass = 0;
  s.condenser.heat = 0;

  s.tDischarge = fluid.T(x.p, x.h);
  s.dischargeHeat = -heatFromBay(hw.dischargeLine, m.tBay, s.tDischarge);
  const rho = fluid.rho(x.p, x.h);
  s.massDischargeLine = hw.dischargeLine.volume * rho;
  x.h -= s.dischargeHeat / Math.max(flow, 1e-4);
  x.p = afterDrop(x.p, pressureLoss(m.dischargeResistance, flow, rho), floor);
  s.pCondenserIn = x.p;
  s.hCondenserIn = x.h;

  const K = s.face;
  faceConductance(hw.condenser, m.condenserAirFlow, m.condenserAirConductance, m.condenserInside, flow, K);
  const condensing = m.firstShare + m.secondShare;
  section(m.firstShare);
  s.pBeforeRestriction = x.p;
  x.p = afterDrop(x.p, pressureLoss(m.restriction, flow, fluid.rhoFlow(x.p, x.h)), floor);
  s.pAfterRestriction = x.p;
  s.hRestriction = x.h;
  section(m.secondShare);
  s.hReceiverIn = x.h;
  s.pReceiver = x.p;
  s.levelMassLiquid = tables.rhoLiquid(x.p);
  s.levelMassVapour = tables.rhoVapour(x.p);
  if (m.subcoolShare > 0) {
    x.p = afterDrop(x.p, pressureLoss(m.cartridge, flow, fluid.rhoFlow(x.p, x.h)), floor);
    s.pAfterCartridge = x.p;
    section(m.subcoolShare);
  } else s.pAfterCartridge = x.p;
  s.pCondenserOut = x.p;
  s.hCondenserOut = x.h;

  /** A stretch of the face and the friction of its own passages, with the mean of the specific volumes at its ends. */
  function section(share: number): void {
    const before = 1 / fluid.rhoFlow(x.p, x.h);
    passSection(fluid, x, flow, K, share, m.condenserAirT, m.condenserVolume * share, s.condenser, record);
    const volume = 0.5 * (before + 1 / fluid.rhoFlow(x.p, x.h));
    x.p = afterDrop(x.p, m.passageResistance * (share / condensing) * flow * flow * volume, floor);
  }
}

function liquidSide(m: Model, s: CircuitState): void {
  const { hardware: hw, fluid } = m;
  const x = s.stream;
  const flow = s.flowHigh;
  const rho = fluid.rhoFlow(x.p, x.h);
  s.massLiquidLine = hw.liquidLine.volume * rho;
  const half = 0.5 * pressureLoss(m.liquidResistance, flow, rho);
  x.p = afterDrop(x.p, half, LOWEST_PRESSURE);
  s.pBeforeDrier = x.p;
  if (hw.layout === 'valve-receiver') {
    s.hReceiverIn = x.h;
    s.pReceiver = x.p;
    s.levelMassLiquid = fluid.tables.rhoLiquid(x.p);
    s.levelMassVapour = fluid.tables.rhoVapour(x.p);
  }
  x.p = afterDrop(x.p, pressureLoss(m.drierResistance, flow, rho), LOWEST_PRESSURE);
  s.pAfterDrier = x.p;
  x.p = afterDrop(x.p, half, LOWEST_PRESSURE);
  s.pValveIn = x.p;
  s.hLiquid = x.h;
  s.exchangerHeat = 0;
}

function evaporatorSide(m: Model, s: CircuitState): void {
  const { hardware: hw, fluid, conditions } = m;
  const { tables } = fluid;
  const flow = Math.max(s.flow, 1e-5);
  const tSuction = fluid.T(s.pSuction, s.hSuction);
  s.tSuction = tSuction;
  const rhoSuction = fluid.rho(s.pSuction, s.hSuction);
  s.massSuctionLine = hw.suctionLine.volume * rhoSuction;
  s.pEvaporatorOut = Math.min(s.pSuction + pressureLoss(m.suctionResistance, flow, rhoSuction), 0.95 * tables.pMax);
  s.suctionHeat = heatFromBay(hw.suctionLine, m.tBay, tSuction);
  // The enthalpy that must leave evaporator and accumulator for h1 to arrive at the compressor.
  let hNeeded = s.hSuction - s.suctionHeat / flow;
  if (hw.internalExchanger > 0) {
    const tLiquid = fluid.T(s.pValveIn, s.hLiquid);
    const q = hw.internalExchanger * tables.cpVapour(s.pEvaporatorOut) * (tLiquid - tables.tSat(s.pEvaporatorOut));
    s.exchangerHeat = q * flow;
    hNeeded -= q;
    s.hValveIn = s.hLiquid - q;
  } else s.hValveIn = s.hLiquid;
  s.hEvaporatorNeeded = hNeeded;

  const loss = pressureLoss(hw.evaporator.resistance, flow, fluid.rho(s.pEvaporatorOut, 0.5 * (s.hValveIn + hNeeded)));
  s.pEvaporatorIn = Math.min(s.pEvaporatorOut + loss, 0.97 * tables.pMax);
  const pMean = 0.5 * (s.pEvaporatorIn + s.pEvaporatorOut);
  const hV = tables.hVapour(s.pEvaporatorOut);
  s.superheat =
    hNeeded > hV ? fluid.T(s.pEvaporatorOut, hNeeded) - tables.tSat(s.pEvaporatorOut) : (hNeeded - hV) / tables.cpVapour(s.pEvaporatorOut);

  secondBranch(m, s, flow, pMean, hV);
  const front = Math.max(flow - s.secondFlow, 0.05 * flow);
  s.frontFlow = front;
  evaporate(
    hw.evaporator,
    fluid,
    m.evaporatorAir,
    m.evaporatorInside,
    front,
    pMean,
    s.pEvaporatorOut,
    s.hValveIn,
    m.evaporatorVolume,
    s.evaporator,
  );
  s.hEvaporatorOut =
    s.secondFlow > 0 ? (front * s.evaporator.hOut + s.secondFlow * s.hSecondOut) / (front + s.secondFlow) : s.evaporator.hOut;

  const pTotal = s.pValveIn + m.airPressure;
  if (hw.expansion.kind === 'orifice-tube') {
    s.opening = 1;
    s.expansionFlow = m.effects.orificeFlow * orificeFlow(hw.expansion, fluid, s.pValveIn, s.hValveIn, pTotal, s.pEvaporatorIn);
  } else {
    const normal = valveOpening(hw.expansion, frontSuperheat(s, hV, tables.cpVapour(s.pEvaporatorOut)));
    const held = m.effects.valveHeldOpen;
    s.opening = held === null ? normal : Math.max(held, normal);
    s.expansionFlow = valveFlow(
      hw.expansion.flowArea * m.effects.valveFlow,
      s.opening,
      fluid.rhoFlow(s.pValveIn, s.hValveIn),
      pTotal - s.pEvaporatorIn,
    );
  }
  const on = s.control.onFraction;
  s.expansionFlow *= on + OFF_FLOW * (1 - on);
  s.capacity = s.evaporator.heat + s.secondHeat;
  s.condenserAirRise = s.condenser.heat / (m.condenserAirFlow * CP_AIR);
  s.tEvaporator = tables.tSat(pMean);
  s.barometer = conditions.barometricPressure;
}

/** Superheat at the front evaporator's own bulb: that of the mixture while one evaporator runs. */
function frontSuperheat(s: CircuitState, hV: number, cp: number): number {
  return s.secondFlow > 0 ? (s.evaporator.hOut - hV) / cp : s.superheat;
}

/**
 * The second evaporator in parallel: its own valve passes what its air can boil to its superheat, Q = m_a contact (h_a - h_sat(Te)) taken dry,
 * m2 = Q/(h_out - h_in); held open it passes m = C sqrt(rho dP) besides, leaving wet.
 */
function secondBranch(m: Model, s: CircuitState, flow: number, pMean: number, hV: number): void {
  s.secondFlow = 0;
  s.secondHeat = 0;
  s.hSecondOut = hV;
  const second = m.hardware.secondEvaporator;
  if (!second) return;
  const { tables } = m.fluid;
  const Te = tables.tSat(pMean);
  const heat = Math.max(0, m.secondContactFlow * CP_AIR * (m.evaporatorAir.T - Te));
  const hOut = hV + tables.cpVapour(s.pEvaporatorOut) * second.superheat;
  let branch = heat / Math.max(hOut - s.hValveIn, 5e4);
  if (m.secondOpenArea > 0) {
    const open = valveFlow(m.secondOpenArea, 1, m.fluid.rhoFlow(s.pValveIn, s.hValveIn), s.pValveIn - s.pEvaporatorIn);
    branch = Math.max(branch, open);
  }
  const most = 0.7 * flow;
  if (branch > most) branch = most;
  if (branch <= 0) return;
  s.secondFlow = branch;
  s.secondHeat = Math.min(heat, branch * (hOut - s.hValveIn));
  s.hSecondOut = s.hValveIn + s.secondHeat / branch;
}

function closures(m: Model, s: CircuitState): void {
  const { hardware: hw, fluid } = m;
  const { tables } = fluid;
  const vessel = hw.vessel;
  const elsewhere =
    s.condenser.mass +
    s.massDischargeLine +
    s.massLiquidLine +
    s.massSuctionLine +
    s.evaporator.mass +
    hw.compressor.volume * fluid.rho(s.pSuction, s.hSuction) +
    (hw.secondEvaporator ? (s.evaporator.mass * hw.secondEvaporator.volume) / m.evaporatorVolume : 0);
  let hLeaving: number;
  let hEntering: number;
  if (hw.layout === 'orifice-accumulator') {
    const hV = tables.hVapour(s.pEvaporatorOut);
    hLeaving = hV - vessel.bleed * (hV - tables.hLiquid(s.pEvaporatorOut));
    hEntering = s.hEvaporatorNeeded;
    s.levelMassLiquid = tables.rhoLiquid(s.pEvaporatorOut);
    s.levelMassVapour = hEntering > hV ? fluid.rho(s.pEvaporatorOut, hEntering) : tables.rhoVapour(s.pEvaporatorOut);
  } else {
    hLeaving = tables.hLiquid(s.pReceiver);
    hEntering = s.hReceiverIn;
  }
  s.massElsewhere = elsewhere;
  s.level = levelNeeded(vessel.volume, vessel.usableShare, m.charge - elsewhere, s.levelMassLiquid, s.levelMassVapour);
  s.wetness = hLeaving - hEntering;
  const F = s.F;
  F[0] = (s.hEvaporatorOut - s.hEvaporatorNeeded) / ENTHALPY_SCALE;
  F[1] = (s.expansionFlow - s.frontFlow) / FLOW_SCALE;
  F[2] = m.onPlateau ? (hLeaving - hEntering) / ENTHALPY_SCALE : vesselResidual(s.level, hLeaving, hEntering);
}

/** Pressure of the refrigerant at a place of the high side; total pressure there is this plus the air's. */
export function highSidePressure(s: CircuitState, place: HighSidePlace, airPressure: number): number {
  switch (place) {
    case 'compressor-discharge':
      return s.pDischarge;
    case 'condenser-inlet':
      return s.pCondenserIn + airPressure;
    case 'condenser-outlet':
      return s.pCondenserOut + airPressure;
    case 'liquid-line-before-drier':
      return s.pBeforeDrier + airPressure;
    case 'liquid-line-after-drier':
      return s.pAfterDrier + airPressure;
    case 'valve-inlet':
      return s.pValveIn + airPressure;
  }
}
