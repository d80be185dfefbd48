import { fastSaturationHumidity } from '#libs/air/index.js';
import { SURFACE_ROWS } from './condenser-surface.js';
import type { HighSidePlace, LowSidePlace } from './hardware.js';
import type { Model } from './model.js';
import { HEATER_AIR } from './readings.js';
import { restState } from './rest-state.js';
import type { SystemResult } from './result.js';

/**
 * Readings with the compressor standing still while fans run: the sides equalise at the saturation pressure of the coldest part that holds liquid, the
 * colder of the two air streams; the vent blows air that has met no cold metal.
 */
export function compressorOff(m: Model): SystemResult {
  const { hardware: hw, effects, evaporatorAir: air } = m;
  const T = Math.min(m.condenserAirT, air.T);
  const rest = restState(hw, Math.min(Math.max(T, 240), 345), effects);
  const p = rest.pressure;
  const high: Record<HighSidePlace, number> = {
    'compressor-discharge': p,
    'condenser-inlet': p,
    'condenser-outlet': p,
    'liquid-line-before-drier': p,
    'liquid-line-after-drier': p,
    'valve-inlet': p,
  };
  const low: Record<LowSidePlace, number> = { 'evaporator-outlet': p, accumulator: p, 'compressor-suction': p };
  const { tables } = m.fluid;
  const saturated = Math.min(Math.max(rest.refrigerantPressure, tables.pMin), tables.pSaturationMax);
  const wet = air.W > fastSaturationHumidity(T, air.pressure);
  return {
    verdict: 'no-steady-state',
    reason: 'compressor-off',
    regimes: {
      clutchCycling: false,
      highPressureCycling: false,
      fullStroke: false,
      leastStroke: false,
      valveFullyOpen: false,
      valveHeldOpen: false,
      flashGas: false,
      vessel: 'partial',
      floodback: false,
      condenserBelowAir: false,
      evaporatorFreezing: false,
      evaporatorWet: wet,
      vacuum: p < m.conditions.barometricPressure,
      beyondTables: false,
    },
    readings: {
      highSide: high,
      lowSide: low,
      evaporatorInlet: p,
      highSidePort: p,
      lowSidePort: p,
      highSideTransducer: p + effects.transducerBias,
      highSideDrop: 0,
      suctionTemperature: m.condenserAirT,
      evaporatorOutletTemperature: air.T,
      dischargeTemperature: m.condenserAirT,
      condenserInletTemperature: m.condenserAirT,
      condenserOutletTemperature: m.condenserAirT,
      liquidBeforeDrierTemperature: m.condenserAirT,
      liquidAfterDrierTemperature: m.condenserAirT,
      evaporatingTemperature: T,
      condensingTemperature: T,
      evaporatorSurfaceTemperature: air.T,
      evaporatorAirOutTemperature: air.T,
      ventTemperature: air.T + effects.ventReheat * (HEATER_AIR - air.T),
      superheat: m.condenserAirT - tables.tSat(saturated),
      subcooling: tables.tSat(saturated) - m.condenserAirT,
      evaporatorSuperheat: air.T - tables.tSat(saturated),
      trueSubcooling: 0,
      flashShare: 0,
      condenserSurface: new Float64Array(SURFACE_ROWS).fill(m.condenserAirT),
      massFlow: 0,
      compressorSpeed: 0,
      stroke: 0,
      onFraction: 0,
      valveOpening: 0,
      capacity: 0,
      compressorPower: 0,
      cop: 0,
      condenserHeat: 0,
      condensateFlow: 0,
      vesselLevel: 0,
      charge: m.charge,
    },
    cycle: [],
    closure: { energy: 0, mass: 0, flow: 0 },
    evaluations: 0,
    residual: 0,
    point: { x: Float64Array.of(1, 20, -1), jacobian: new Float64Array(9) },
  };
}
