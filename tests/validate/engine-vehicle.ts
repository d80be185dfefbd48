import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '#libs/engine/index.js';

/**
 * Structures the calibration never saw: another tube law (choked at a share of the liquid's own saturation), a control that lets the suction
 * rise with the load, oil in the circuit, a condenser divided elsewhere.
 */
export type Variant = 'none' | 'tube-law' | 'control-law' | 'oil' | 'condenser-split';
export const VARIANTS: readonly Variant[] = ['tube-law', 'control-law', 'oil', 'condenser-split'];

/** A vehicle of the judging model. */
export interface Hardware {
  readonly layout: Layout;
  readonly compressor: CompressorKind;
  readonly refrigerant: RefrigerantName;
  /** Swept volume, m3 a revolution. */
  readonly displacement: number;
  readonly clearance: number;
  readonly isentropic: number;
  /** W/K and kg/s. */
  readonly condenserUA: number;
  readonly condenserAir: number;
  readonly evaporatorNTU: number;
  readonly evaporatorAir: number;
  /** Healthy pressure losses at 0.035 kg/s, Pa. */
  readonly dropCondenser: number;
  readonly dropSuction: number;
  readonly subcooling: number;
  readonly superheat: number;
  /** Share of the charge that can be lost before readings move. */
  readonly reserve: number;
  /** Evaporating temperature a variable compressor holds, K. */
  readonly setPoint: number;
  /** Condition of the thermostat or pressure switch of a fixed clutch, K. */
  readonly cutOut: number;
  readonly variant: Variant;
}

export interface Surroundings {
  readonly condenserAirK: number;
  readonly evaporatorAirK: number;
  readonly relativeHumidity: number;
  /** Compressor speed, 1/s. */
  readonly speed: number;
  readonly blower: number;
  readonly barometerPa: number;
}

export interface Fault {
  readonly code: FaultCode;
  /** 0 to 1. */
  readonly size: number;
}

/** What would be read on this system, absolute pressures in Pa, temperatures in K. */
export interface Truth {
  readonly compressorSuction: number;
  readonly evaporatorOutlet: number;
  readonly compressorDischarge: number;
  readonly condenserInlet: number;
  readonly condenserOutlet: number;
  readonly afterDrier: number;
  readonly suctionK: number;
  readonly liquidK: number;
  readonly lateLiquidK: number;
  readonly dischargeK: number;
  readonly ventK: number;
  readonly coreK: number;
  readonly stroke: number;
  readonly duty: number;
  readonly speedRatio: number;
  readonly capacityW: number;
  /** Shaft power, W, mean over a clutch cycle. */
  readonly powerW: number;
  readonly runs: boolean;
  /** The expansion valve is at the end of its travel: it passes less than the compressor moves. */
  readonly valveOpen: boolean;
}
