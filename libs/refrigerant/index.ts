export { type Datum, datumOffset } from './datum.js';
export { type FlashLimits, stateAtPH, stateAtPS, stateAtTP } from './flash.js';
export type { EquationOfState, FluidName, FluidRecord, GaussianTerm, IdealPart, PowerTerm, SaturationGuess } from './fluid.js';
export type { FluidTables } from './fluid-tables.js';
export { FLUID_NAMES, type Fluid, fluid, fluidOf } from './fluids.js';
export { CRITICAL_MARGIN, type Saturation, saturationAtP, saturationAtT, saturationTMax } from './saturation.js';
export { saturationCurve } from './saturation-curve.js';
export { pressureAt, type State, stateAtTRho } from './state.js';
export { buildFluidTables, fluidTables } from './tables.js';
