export type { EquationOfState, FluidName, FluidRecord, GaussianTerm, IdealPart, PowerTerm, SaturationGuess } from './fluid.js';
export type { FluidTables } from './fluid-tables.js';
