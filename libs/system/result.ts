import type { HighSidePlace, LowSidePlace } from './hardware.js';
import type { SolverPoint } from './solve.js';

/** How the solve ended. */
export type Verdict = 'converged' | 'at-bound' | 'no-steady-state' | 'not-converged';

/** Why there is no steady state, or which bound the solution lies on. */
export type VerdictReason =
  | 'suction-below-low-cut-out'
  | 'suction-below-clutch-cut-out'
  | 'head-above-cut-out'
  | 'head-above-relief'
  | 'head-above-model-range'
  | 'suction-below-model-range'
  | 'compressor-off';

export const REASON_TEXT: Readonly<Record<VerdictReason, string>> = {
  'suction-below-low-cut-out': 'Suction falls below the low-pressure cut-out: the compressor is locked out.',
  'suction-below-clutch-cut-out': 'Suction falls below the clutch cut-out even with the clutch closed an eighth of the time.',
  'head-above-cut-out': 'The high-pressure switch holds the compressor off nearly all the time.',
  'head-above-relief': 'Head rises to the relief valve.',
  'head-above-model-range': 'Head rises to the end of the property tables; pressures are held there.',
  'suction-below-model-range': 'Suction falls below the lowest pressure the model follows.',
  'compressor-off': 'The compressor does not run; pressures are those of the coldest part that holds liquid.',
};

/** Which of the circuit's regimes the solution is in. */
export interface Regimes {
  readonly clutchCycling: boolean;
  readonly highPressureCycling: boolean;
  readonly fullStroke: boolean;
  readonly leastStroke: boolean;
  readonly valveFullyOpen: boolean;
  readonly valveHeldOpen: boolean;
  /** Vapour reaches the expansion device. */
  readonly flashGas: boolean;
  readonly vessel: 'empty' | 'partial' | 'full';
  /** Liquid reaches the compressor. */
  readonly floodback: boolean;
  /** Part of the condenser is colder than the entering air. */
  readonly condenserBelowAir: boolean;
  readonly evaporatorFreezing: boolean;
  readonly evaporatorWet: boolean;
  readonly vacuum: boolean;
  /** A state lies beyond the property tables' enthalpy range. */
  readonly beyondTables: boolean;
}

/**
 * What a technician could read, absolute pressures in Pa and temperatures in K; no instrument errors except a biased transducer's own. On a cycling
 * clutch pressures are those at the end of the on-time, temperatures and flows of the low side means over a cycle.
 */
export interface SystemReadings {
  readonly highSide: Readonly<Record<HighSidePlace, number>>;
  readonly lowSide: Readonly<Record<LowSidePlace, number>>;
  readonly evaporatorInlet: number;
  /** At the places where this platform has them. */
  readonly highSidePort: number;
  readonly lowSidePort: number;
  /** As shown, bias included. */
  readonly highSideTransducer: number;
  /** Discharge minus liquid line before the drier, Pa. */
  readonly highSideDrop: number;
  readonly suctionTemperature: number;
  readonly evaporatorOutletTemperature: number;
  readonly dischargeTemperature: number;
  readonly condenserInletTemperature: number;
  readonly condenserOutletTemperature: number;
  readonly liquidBeforeDrierTemperature: number;
  readonly liquidAfterDrierTemperature: number;
  readonly evaporatingTemperature: number;
  readonly condensingTemperature: number;
  readonly evaporatorSurfaceTemperature: number;
  readonly evaporatorAirOutTemperature: number;
  readonly ventTemperature: number;
  /** As a technician works them out, with the specified refrigerant's saturation at the pressures read: at the compressor and the condenser outlet. */
  readonly superheat: number;
  readonly subcooling: number;
  /** Of the refrigerant itself: at the evaporator outlet (negative: wet, as cp K) and the condenser outlet. */
  readonly evaporatorSuperheat: number;
  readonly trueSubcooling: number;
  /** Vapour share at the expansion device's inlet, 0 when liquid. */
  readonly flashShare: number;
  /** Surface of the condenser along the refrigerant's way, inlet first, K. */
  readonly condenserSurface: Float64Array;
  /** Mean flow, kg/s; compressor speed after slip or limit, 1/s. */
  readonly massFlow: number;
  readonly compressorSpeed: number;
  readonly stroke: number;
  /** Share of the time the clutch is closed: by the suction switch and by the high-pressure switch together. */
  readonly onFraction: number;
  readonly valveOpening: number;
  /** Mean heat taken from the air and mean shaft power, W; their ratio. */
  readonly capacity: number;
  readonly compressorPower: number;
  readonly cop: number;
  readonly condenserHeat: number;
  readonly condensateFlow: number;
  /** Liquid level of the receiver or accumulator, 0..1 of its usable volume. */
  readonly vesselLevel: number;
  /** Charge in the circuit, kg. */
  readonly charge: number;
}

/** The states around the circuit, for the diagrams: pressure of the refrigerant (Pa) and enthalpy (J/kg), in flow order. */
export interface CyclePoint {
  readonly place:
    | 'compressor-suction'
    | 'compressor-discharge'
    | 'condenser-inlet'
    | 'condenser-before-restriction'
    | 'condenser-after-restriction'
    | 'receiver'
    | 'condenser-outlet'
    | 'valve-inlet'
    | 'evaporator-inlet'
    | 'evaporator-outlet';
  readonly pressure: number;
  readonly enthalpy: number;
  readonly temperature: number;
}

export interface Closure {
  /** (heat in + work - heat out)/capacity. */
  readonly energy: number;
  /** Mass accounted for minus charge, as a share of the charge. */
  readonly mass: number;
  /** Flow of the expansion device minus that of the compressor, as a share. */
  readonly flow: number;
}

export interface SystemResult {
  readonly verdict: Verdict;
  readonly reason: VerdictReason | null;
  readonly regimes: Regimes;
  readonly readings: SystemReadings;
  readonly cycle: readonly CyclePoint[];
  readonly closure: Closure;
  readonly evaluations: number;
  readonly residual: number;
  /** Where a neighbouring solve may start. */
  readonly point: SolverPoint;
}
