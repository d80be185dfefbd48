import { volumetricEfficiency } from './compressor.js';
import { faceConductance } from './condenser.js';
import { surfaceTemperature } from './evaporator.js';
import type { Model } from './model.js';
import { ENTHALPY_UNIT } from './solve.js';

/** How a guess departs from the plain balance: factor on the condensing lift, on the flow, and superheat at the compressor, K. */
export interface GuessVariant {
  readonly lift: number;
  readonly flow: number;
  readonly superheat: number;
}

const face = { vapour: 0, condensing: 0, liquid: 0 };
/** Losses between evaporator and compressor as a share of the pressure, for guessing only. */
const SUCTION_SHARE = 0.93;

/**
 * A first guess from two plain balances: the evaporating temperature at which the compressor takes what the air gives (bisection), and the
 * condensing temperature at which the condenser sheds it, in turn three times. Where suction would fall below what the control holds, the effort is
 * the share of the flow that is needed there. Writes the solver's unknowns to x.
 */
export function firstGuess(m: Model, variant: GuessVariant, x: Float64Array): void {
  const { fluid, hardware: hw, evaporatorAir: air, limits } = m;
  const { tables, pSat } = fluid;
  const { kind } = hw.compressor;
  const boiling = hw.evaporator.boilingConductance * m.evaporatorInside;
  // Suction that the control will not let the running compressor fall below without reducing its effort.
  const threshold = kind === 'fixed-clutch' ? limits.cutOut : limits.setPoint + hw.control.setPointBand;
  const pHigh = Math.min(m.headLimit * 0.97, tables.pMax * 0.97);
  let pCond = Math.min(Math.max(pSat(m.condenserAirT + 15 * variant.lift), 3e5), pHigh);
  let pSuction = 3e5;
  let effort = 1;
  for (let round = 0; round < 3; round++) {
    const hLiquid = tables.hLiquid(pCond);
    const flowAt = (p: number, stroke: number): number =>
      variant.flow *
      volumetricEfficiency(hw.compressor, Math.max(pCond / p, 1.01), m.speed) *
      hw.compressor.displacement *
      m.speed *
      stroke *
      (1 - m.compressorState.leakage) *
      tables.rhoVapour(p);
    const heatAt = (p: number): number => {
      const Te = tables.tSat(Math.min(p / SUCTION_SHARE, tables.pMax));
      return boiling * (surfaceTemperature(air, boiling, Te) - Te);
    };
    const balance = (stroke: number): number => {
      let low = 0.5e5;
      let high = Math.min(pSat(air.T - 1), 0.9 * pCond);
      for (let i = 0; i < 24; i++) {
        const p = Math.sqrt(low * high);
        if (flowAt(p, stroke) * (tables.hVapour(p) - hLiquid) > heatAt(p)) high = p;
        else low = p;
      }
      return Math.sqrt(low * high);
    };
    let stroke = limits.maximumStroke;
    pSuction = balance(stroke);
    effort = 1;
    if (pSuction < threshold) {
      pSuction = threshold;
      effort = heatAt(pSuction) / Math.max(flowAt(pSuction, stroke) * (tables.hVapour(pSuction) - hLiquid), 1);
      if (kind === 'fixed-clutch') effort = Math.min(Math.max(effort, limits.minimumOn + 0.05), 1);
      else if (effort * stroke < limits.minimumStroke) {
        // Even the least stroke is too much: suction falls below the set point.
        stroke = limits.minimumStroke;
        effort = 0;
        pSuction = Math.min(balance(stroke), limits.setPoint);
      } else stroke *= Math.min(effort, 1);
    }
    const flow = flowAt(pSuction, stroke);
    faceConductance(hw.condenser, m.condenserAirFlow, m.condenserAirConductance, m.condenserInside, flow, face);
    const shed = flow * (tables.hVapour(pSuction) - hLiquid) * 1.35;
    const lift = 2 + (variant.lift * shed) / (0.8 * face.condensing);
    pCond = Math.min(Math.max(pSat(m.condenserAirT + lift), 1.3 * pSuction), pHigh);
  }
  if (effort === 1) x[0] = 1 + Math.log(pSuction / threshold);
  else if (kind === 'fixed-clutch') x[0] = effort;
  else x[0] = effort > 0 ? Math.min(effort, 1) : Math.log(pSuction / limits.setPoint);
  x[1] = (tables.hVapour(pSuction) + 900 * variant.superheat) / ENTHALPY_UNIT;
  x[2] = Math.log(Math.min(pCond * 1.04 + m.airPressure, m.headLimit * 0.98) / m.headLimit);
}
