export { evaporatorAirAt } from './air-setting.js';
export { type CircuitOptions, circuitDiagram, type RestrictedPart } from './draw/circuit.js';
export type { DisplayUnits } from './draw/display-units.js';
export { type DrawnCycle, type PressureEnthalpyOptions, pressureEnthalpyDiagram } from './draw/pressure-enthalpy.js';
export type { FaultEffects } from './fault-effects.js';
export { combineEffects, NO_EFFECTS } from './fault-effects.js';
export { effectsOf, type Fault, faultApplies, SIMULATED_FAULTS, type SimulatedFault } from './faults.js';
export type {
  AirSetting,
  CompressorHardware,
  CompressorKind,
  CondenserAir,
  CondenserHardware,
  Conditions,
  ControlHardware,
  EvaporatorHardware,
  HighSidePlace,
  Layout,
  LineHardware,
  LowSidePlace,
  OrificeTubeHardware,
  PlatformHardware,
  SecondEvaporatorHardware,
  ThermostaticValveHardware,
  VesselHardware,
} from './hardware.js';
export { CONDENSER_AIR_SHARE, RATED_FLOW } from './hardware.js';
export { isBuilt, randomHardware, typicalHardware, withSecondEvaporator } from './platforms.js';
export { circuitVolume, type RestState, restState } from './rest-state.js';
export type {
  Closure,
  CyclePoint,
  Regimes,
  SystemReadings,
  SystemResult,
  Verdict,
  VerdictReason,
} from './result.js';
export { REASON_TEXT } from './result.js';
export { DESIGN_CONDITIONS, fitCharge, type Reserve, TYPICAL_RESERVE } from './sizing.js';
export type { SolverPoint } from './solve.js';
export { healthyReadings, solveSystem } from './solve-system.js';
