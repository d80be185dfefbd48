import { condenserSurface, SURFACE_ROWS } from './condenser-surface.js';
import type { HighSidePlace, LowSidePlace } from './hardware.js';
import type { Model } from './model.js';
import { propertiesOf } from './properties.js';
import type { Closure, CyclePoint, Regimes, SystemReadings } from './result.js';
import type { CircuitState } from './state.js';
import { highSidePressure } from './system.js';

/** Air behind a hot heater core, K. common practice: about 70 °C. */
export const HEATER_AIR = 343.15;

/** Quality at the compressor below which liquid counts as flooding it: what an accumulator's oil hole lets through is normal. */
const FLOODBACK = 0.96;

const HIGH_PLACES: readonly HighSidePlace[] = [
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  'valve-inlet',
];

/** Everything readable at the solved state `s`. */
export function readingsOf(m: Model, s: CircuitState): SystemReadings {
  const { hardware: hw, fluid, effects } = m;
  const { tables } = fluid;
  const surface = new Float64Array(SURFACE_ROWS);
  condenserSurface(m, s, surface);
  const highSide = {} as Record<HighSidePlace, number>;
  for (const place of HIGH_PLACES) highSide[place] = highSidePressure(s, place, m.airPressure);
  const cycling = s.control.onFraction < 1;
  // At the end of the on-time suction stands at the cut-out; the line's loss comes on top of it.
  const atCompressor = cycling ? Math.min(m.limits.cutOut, s.pSuction) : s.pSuction;
  const evaporatorOutlet = atCompressor + (s.pEvaporatorOut - s.pSuction);
  const lowSide: Record<LowSidePlace, number> = {
    'evaporator-outlet': evaporatorOutlet,
    // The accumulator sits at the evaporator's end of the suction line.
    accumulator: evaporatorOutlet,
    'compressor-suction': atCompressor,
  };
  const nominal = propertiesOf(hw.refrigerant).tables;
  const saturation = (p: number): number => nominal.tSat(Math.min(Math.max(p, nominal.pMin), nominal.pSaturationMax));
  const tLiquid = fluid.T(s.pCondenserOut, s.hCondenserOut);
  const quality = tables.quality(s.pValveIn, s.hValveIn);
  const on = s.control.onFraction;
  const power = s.compression.power * s.headShare * on;
  const airOut = s.evaporator.tAirOut;
  return {
    highSide,
    lowSide,
    evaporatorInlet: atCompressor + (s.pEvaporatorIn - s.pSuction),
    highSidePort: highSide[hw.highSidePort],
    lowSidePort: lowSide[hw.lowSidePort],
    highSideTransducer: highSide[hw.highSideTransducer] + effects.transducerBias,
    highSideDrop: highSide['compressor-discharge'] - highSide['liquid-line-before-drier'],
    suctionTemperature: s.tSuction,
    evaporatorOutletTemperature: fluid.T(s.pEvaporatorOut, s.hEvaporatorNeeded),
    dischargeTemperature: s.tDischarge,
    condenserInletTemperature: fluid.T(s.pCondenserIn, s.hCondenserIn),
    condenserOutletTemperature: tLiquid,
    liquidBeforeDrierTemperature: fluid.T(s.pBeforeDrier, s.hLiquid),
    liquidAfterDrierTemperature: fluid.T(s.pAfterDrier, s.hLiquid),
    evaporatingTemperature: s.tEvaporator,
    condensingTemperature: tables.tSat(s.pCondenserIn),
    evaporatorSurfaceTemperature: s.evaporator.tSurface,
    evaporatorAirOutTemperature: airOut,
    ventTemperature: airOut + effects.ventReheat * (HEATER_AIR - airOut),
    superheat: s.tSuction - saturation(s.pSuction),
    subcooling: saturation(highSide['condenser-outlet']) - tLiquid,
    evaporatorSuperheat: s.superheat,
    trueSubcooling: tables.tSat(s.pCondenserOut) - tLiquid,
    flashShare: Math.min(Math.max(quality, 0), 1),
    condenserSurface: surface,
    massFlow: s.flow,
    compressorSpeed: s.speed,
    stroke: s.control.stroke,
    onFraction: on * s.headShare,
    valveOpening: s.opening,
    capacity: s.capacity,
    compressorPower: power,
    cop: power > 1 ? s.capacity / power : 0,
    condenserHeat: s.condenser.heat * on,
    condensateFlow: m.evaporatorAir.flow * Math.max(0, m.evaporatorAir.W - s.evaporator.humidityOut),
    vesselLevel: Math.min(Math.max(s.level, 0), 1),
    charge: m.charge,
  };
}

export function regimesOf(m: Model, s: CircuitState, readings: SystemReadings): Regimes {
  const { hardware: hw, limits } = m;
  const { tables } = m.fluid;
  const variable = hw.compressor.kind !== 'fixed-clutch';
  let coldest = Number.POSITIVE_INFINITY;
  for (const T of readings.condenserSurface) coldest = Math.min(coldest, T);
  return {
    clutchCycling: s.control.onFraction < 1,
    highPressureCycling: s.headShare < 1,
    fullStroke: variable && s.control.stroke >= limits.maximumStroke,
    leastStroke: variable && s.control.stroke <= limits.minimumStroke,
    valveFullyOpen: hw.expansion.kind === 'thermostatic-valve' && s.opening >= 1,
    valveHeldOpen: m.effects.valveHeldOpen !== null && s.opening <= m.effects.valveHeldOpen,
    flashGas: readings.flashShare > 0.005,
    vessel: s.level < 0.01 ? 'empty' : s.level > 0.99 ? 'full' : 'partial',
    floodback: tables.quality(s.pSuction, s.hSuction) < FLOODBACK,
    condenserBelowAir: coldest < m.condenserAirT - 0.01,
    evaporatorFreezing: s.evaporator.tSurface < 273.15 && readings.condensateFlow > 0,
    evaporatorWet: readings.condensateFlow > 0,
    vacuum: s.pSuction < m.conditions.barometricPressure,
    beyondTables: s.compression.hDischarge > tables.hMax,
  };
}

/** How well energy, mass and flow close, from air-side heats and the sum of the parts. */
export function closureOf(m: Model, s: CircuitState): Closure {
  const on = s.control.onFraction;
  const { vessel } = m.hardware;
  // What the vessel's own condition says it holds; the charge says s.level.
  const level = s.level - (s.F[2] ?? 0);
  const held = vessel.volume * (s.levelMassVapour + level * vessel.usableShare * (s.levelMassLiquid - s.levelMassVapour));
  const heatIn = s.capacity + s.suctionHeat + s.compression.power * s.headShare * on;
  const heatOut = (s.condenser.heat + s.dischargeHeat) * on;
  return {
    energy: (heatIn - heatOut) / Math.max(s.capacity, 200),
    mass: (s.massElsewhere + held - m.charge) / m.charge,
    flow: (s.expansionFlow - s.frontFlow) / Math.max(s.frontFlow, 1e-3),
  };
}

export function cycleOf(m: Model, s: CircuitState): readonly CyclePoint[] {
  const { fluid, airPressure } = m;
  const point = (place: CyclePoint['place'], pressure: number, enthalpy: number): CyclePoint => ({
    place,
    pressure,
    enthalpy,
    temperature: fluid.T(pressure, enthalpy),
  });
  const h2 = s.compression.hDischarge;
  return [
    point('compressor-suction', s.pSuction, s.hSuction),
    point('compressor-discharge', Math.max(s.pDischarge - airPressure, fluid.tables.pMin), h2),
    point('condenser-inlet', s.pCondenserIn, s.hCondenserIn),
    point('condenser-before-restriction', s.pBeforeRestriction, s.hRestriction),
    point('condenser-after-restriction', s.pAfterRestriction, s.hRestriction),
    point('receiver', s.pReceiver, s.hReceiverIn),
    point('condenser-outlet', s.pCondenserOut, s.hCondenserOut),
    point('valve-inlet', s.pValveIn, s.hValveIn),
    point('evaporator-inlet', s.pEvaporatorIn, s.hValveIn),
    point('evaporator-outlet', s.pEvaporatorOut, s.hEvaporatorNeeded),
  ];
}
