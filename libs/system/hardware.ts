import type { FluidName } from '#libs/refrigerant/index.js';
import type { CompressorKind, Layout } from '#libs/vocabulary/index.js';

export type { CompressorKind, Layout };

/** Where a high-side pressure may be taken, in flow order. */
export type HighSidePlace =
  | 'compressor-discharge'
  | 'condenser-inlet'
  | 'condenser-outlet'
  | 'liquid-line-before-drier'
  | 'liquid-line-after-drier'
  | 'valve-inlet';
/** Where a low-side pressure may be taken, in flow order. */
export type LowSidePlace = 'evaporator-outlet' | 'accumulator' | 'compressor-suction';

/**
 * Flow at which conductances and resistances are stated, kg/s: about what a family car's circuit moves in a service test.
 * source   component ranges from memory (pressure losses at about 0.035 kg/s).
 */
export const RATED_FLOW = 0.035;

export interface CompressorHardware {
  readonly kind: CompressorKind;
  /** Swept volume of a revolution at full stroke, m3. */
  readonly displacement: number;
  /** Smallest stroke (or smallest share of the requested speed of an electric one); 1 for a fixed compressor. */
  readonly minimumStroke: number;
  /** Volumetric efficiency: base - perRatio (PR - 1) - perSpeed (n - 25/s). */
  readonly volumetricBase: number;
  readonly volumetricPerRatio: number;
  /** Per 1/s. */
  readonly volumetricPerSpeed: number;
  /** Isentropic (shaft) efficiency at 25/s and full stroke, what it loses per 1/s, and the share it loses at zero stroke. */
  readonly isentropicBase: number;
  readonly isentropicPerSpeed: number;
  readonly isentropicStrokeLoss: number;
  /** Gas volume of shell and chambers, m3. */
  readonly volume: number;
}

export interface CondenserHardware {
  /** Air through the face with the fan at full speed, standing, m3/s. */
  readonly airflow: number;
  /** Air-side conductance of the whole face at that flow and sea-level density, W/K. */
  readonly airConductance: number;
  /** Refrigerant-side conductance of the whole face at RATED_FLOW for vapour, condensing and liquid, W/K; all follow m^0.8. */
  readonly vapourConductance: number;
  readonly condensingConductance: number;
  readonly liquidConductance: number;
  /** Flow resistance of the condensing passes, k in dP = k m^2/rho, 1/m4. */
  readonly resistance: number;
  /** Internal volume, m3. */
  readonly volume: number;
  /** Share of the face behind an integral receiver, used for subcooling; 0 in the other layouts. */
  readonly subcoolShare: number;
  /** Resistance of the filter cartridge between receiver and subcool pass, 1/m4. */
  readonly cartridgeResistance: number;
  /** Where along the condensing passes a blockage sits, 0 inlet to 1 outlet, unless the fault says it. */
  readonly blockagePlace: number;
  readonly passes: number;
}

/** The vessel that buffers the charge: an accumulator on the low side or a receiver on the high side. */
export interface VesselHardware {
  readonly volume: number;
  /** Share of the volume that can fill with liquid before the vessel passes it on. */
  readonly usableShare: number;
  /** Accumulator: liquid share that its oil return hole lets through with the vapour, kg/kg. */
  readonly bleed: number;
}

export interface OrificeTubeHardware {
  readonly kind: 'orifice-tube';
  /** m */
  readonly diameter: number;
  readonly length: number;
}

export interface ThermostaticValveHardware {
  readonly kind: 'thermostatic-valve';
  /** m2: m = flowArea (2A - A^2) sqrt(rho dP). */
  readonly flowArea: number;
  /** Superheat at which the valve begins to open, and the further superheat that opens it fully, K. */
  readonly staticSuperheat: number;
  readonly openingSuperheat: number;
}

export interface EvaporatorHardware {
  /** Air with the blower on its highest step, m3/s. */
  readonly airflow: number;
  /** Share of the air that passes untouched at that flow. */
  readonly bypassFactor: number;
  /** Refrigerant-side conductance of the whole core at RATED_FLOW, boiling and vapour, W/K. */
  readonly boilingConductance: number;
  readonly vapourConductance: number;
  /** 1/m4 and m3. */
  readonly resistance: number;
  readonly volume: number;
}

/** A second evaporator or chiller with a valve of its own that holds its superheat. */
export interface SecondEvaporatorHardware {
  /** Air (or air-equivalent) capacity flow, kg/s, and its contact factor. */
  readonly airFlow: number;
  readonly contactFactor: number;
  readonly superheat: number;
  /** Flow area of its valve fully open, m2. */
  readonly flowArea: number;
  readonly volume: number;
}

export interface LineHardware {
  /** 1/m4 */
  readonly resistance: number;
  /** m3 */
  readonly volume: number;
  /** Heat exchange with the engine bay, W/K. */
  readonly conductance: number;
}

export interface ControlHardware {
  /** Fixed clutch: suction at which it opens and closes again (a pressure switch, or a thermostat told as pressure), Pa. */
  readonly clutchCutOut: number;
  readonly clutchCutIn: number;
  /** Variable or electric: suction that stroke or speed holds, and the band in which it goes from least to most, Pa. */
  readonly setPoint: number;
  readonly setPointBand: number;
  /** Externally controlled: set point at no command, Pa (`setPoint` is at full command). */
  readonly setPointAtNoCommand: number;
  /** Suction below which the compressor is locked out, Pa. */
  readonly lowCutOut: number;
  /** Pressure at the transducer above which the compressor stops, Pa. */
  readonly highCutOut: number;
  /** Pressure at the compressor that opens the relief valve, Pa. */
  readonly relief: number;
}

/** The air-conditioning system of a vehicle: every parameter of the model, SI. */
export interface PlatformHardware {
  readonly layout: Layout;
  readonly refrigerant: FluidName;
  /** Specified charge, kg. */
  readonly charge: number;
  readonly compressor: CompressorHardware;
  readonly condenser: CondenserHardware;
  readonly vessel: VesselHardware;
  readonly expansion: OrificeTubeHardware | ThermostaticValveHardware;
  readonly evaporator: EvaporatorHardware;
  readonly secondEvaporator: SecondEvaporatorHardware | null;
  /** Heat moved by an internal heat exchanger as a share of m cp (T liquid - T evaporating); 0 without one. */
  readonly internalExchanger: number;
  readonly dischargeLine: LineHardware;
  /** Condenser to drier, and drier to valve; the drier's own resistance stands between. */
  readonly liquidLine: LineHardware;
  readonly drierResistance: number;
  readonly suctionLine: LineHardware;
  /** Engine bay above the air at the condenser, K. */
  readonly bayRise: number;
  readonly control: ControlHardware;
  readonly highSidePort: HighSidePlace;
  readonly highSideTransducer: HighSidePlace;
  readonly lowSidePort: LowSidePlace;
}

/** How the air reaches the condenser: its own fan standing still, a shop fan in front besides, or driving. */
export type CondenserAir = 'fan' | 'fan-and-shop-fan' | 'road';

/** Air through the condenser relative to its own fan standing still. common practice for the shop fan; a road speed of about 60 km/h. */
export const CONDENSER_AIR_SHARE: Readonly<Record<CondenserAir, number>> = { fan: 1, 'fan-and-shop-fan': 1.3, road: 2 };

export interface Conditions {
  /** Air in front of the condenser, K. */
  readonly condenserAirTemperature: number;
  /** Air entering the evaporator, K and 0..1: what it really breathes, whatever the setting. */
  readonly evaporatorAirTemperature: number;
  readonly evaporatorAirHumidity: number;
  /** Local absolute pressure, Pa. */
  readonly barometricPressure: number;
  /** Compressor revolutions, 1/s; of an electric one the speed requested. */
  readonly compressorSpeed: number;
  readonly condenserAir: CondenserAir;
  /** Share of the blower's full flow, 0.1 to 1. */
  readonly blower: number;
  /** Outside air, for faults that let it in; absent means as at the condenser, 40 %. */
  readonly outsideTemperature?: number;
  readonly outsideHumidity?: number;
  /** Command to an externally controlled compressor, 0..1; absent means full. */
  readonly command?: number;
}

/** Air the evaporator breathes when a share of it is recirculated from the cabin and the rest comes from outside (humidity by mass). */
export interface AirSetting {
  readonly outsideTemperature: number;
  readonly outsideHumidity: number;
  readonly cabinTemperature: number;
  readonly cabinHumidity: number;
  /** 0 outside air only, 1 cabin air only. */
  readonly recirculation: number;
}
