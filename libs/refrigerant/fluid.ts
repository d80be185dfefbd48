/** Fluids with an equation of state here. Others come by adding a coefficient record. */
export type FluidName = 'R-134a' | 'R-1234yf' | 'R-152a';

/** n * delta^d * tau^t * (l > 0 ? exp(-delta^l) : 1), one row a term: [n, d, t, l]. */
export type PowerTerm = readonly [n: number, d: number, t: number, l: number];

/** n * delta^d * tau^t * exp(-eta (delta - epsilon)^2 - beta (tau - gamma)^2), one row a term. */
export type GaussianTerm = readonly [n: number, d: number, t: number, eta: number, epsilon: number, beta: number, gamma: number];

/** Ideal-gas part: alpha0 = ln(delta) + a1 + a2 tau + log ln(tau) + sum n tau^t + sum n ln(1 - exp(-t tau)) + the part that comes from cp0. */
export interface IdealPart {
  readonly a1: number;
  readonly a2: number;
  readonly log: number;
  /** [n, t] of n tau^t. */
  readonly power: readonly (readonly [n: number, t: number])[];
  /** [n, t] of n ln(1 - exp(-t tau)) (Planck-Einstein). */
  readonly einstein: readonly (readonly [n: number, t: number])[];
  /** cp0/R = sum c T^t (T in K), integrated from T0. */
  readonly cp0?: { readonly T0: number; readonly terms: readonly (readonly [c: number, t: number])[] };
}

/**
 * A Helmholtz equation of state, alpha(delta, tau) = alpha0 + alphar with delta = rho/rhoReducing, tau = TReducing/T.
 * Gas constant and molar mass belong to the equation: they differ in the last digits between equations and must not be unified.
 */
export interface EquationOfState {
  readonly source: string;
  /** J/(mol K). */
  readonly gasConstant: number;
  /** kg/mol. */
  readonly molarMass: number;
  /** K. */
  readonly TReducing: number;
  /** mol/m3. */
  readonly molarDensityReducing: number;
  readonly ideal: IdealPart;
  readonly power: readonly PowerTerm[];
  readonly gaussian: readonly GaussianTerm[];
  /** Limits stated by the authors: K, Pa. */
  readonly TMin: number;
  readonly TMax: number;
  readonly pMax: number;
}

/** Starting guesses for the saturation solver, fitted to this equation of state (never used as answers). See `ancillary.ts`. */
export interface SaturationGuess {
  /** Chebyshev coefficients in sqrt(1 - T/Tc) over [0, sqrt(1 - TMin/Tc)] of ln(p/pc), rhoL/rhoc, ln(rhoV/rhoc). */
  readonly lnPressure: readonly number[];
  readonly liquid: readonly number[];
  readonly lnVapour: readonly number[];
}

/** One refrigerant: its equation of state, the critical point that equation has, and what the equation does not give. */
export interface FluidRecord {
  readonly name: FluidName;
  readonly cas: string;
  /** ASHRAE 34 safety class. */
  readonly safetyClass: 'A1' | 'A2L' | 'A2';
  readonly equation: EquationOfState;
  /** Where the equation of state itself has dp/drho = d2p/drho2 = 0 (K, kg/m3, Pa). Published critical points differ in the last digits. */
  readonly critical: { readonly T: number; readonly rho: number; readonly p: number };
  readonly guess: SaturationGuess;
}
