import type {
  CompressorKind,
  FaultCode,
  FindingCode,
  Instrument,
  Layout,
  Place,
  PressureReference,
  ReadingMeaning,
  ReadingPhase,
  ReadingQuantity,
  ReadingStage,
  RefrigerantName,
} from './codes.js';

/** The air-conditioning system of a vehicle, as far as it is known. Layout, compressor and refrigerant always are. */
export interface EnginePlatform {
  readonly layout: Layout;
  readonly compressor: CompressorKind;
  readonly refrigerant: RefrigerantName;
  /** Specified charge, kg. */
  readonly chargeKg?: number | null;
  /** Where the high-side service port sits; unknown is integrated over. */
  readonly highSidePort?: Place | null;
  readonly highSideTransducer?: Place | null;
  readonly lowSidePort?: Place | null;
  readonly transducerReference?: PressureReference | null;
  /** Share of the charge the receiver or accumulator can lose before readings move, 0 to 1. */
  readonly reserveShare?: number | null;
  readonly dualEvaporator?: boolean | null;
  readonly condenserPasses?: number | null;
  /** Share of the condenser height used for subcooling, 0 to 1. */
  readonly subcoolShare?: number | null;
  /** Parts of the condenser face that stand in the warm air of another cooler; shares of width and height. */
  readonly coolerZones?: readonly { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number }[] | null;
}

/** One value. SI: pascal (in its own reference), kelvin, ratio, revolutions per second, kilogram, ampere, volt, second. */
export interface EngineReading {
  readonly id: string;
  readonly quantity: ReadingQuantity;
  readonly value: number;
  /** Other end of the span when the needle swings. */
  readonly to?: number;
  readonly place?: Place;
  readonly phase?: ReadingPhase;
  readonly stage?: ReadingStage;
  readonly meaning?: ReadingMeaning;
  readonly instrument?: Instrument;
  readonly reference?: PressureReference;
  /** The technician looked again and stands by it. */
  readonly confirmed?: boolean;
}

export interface EngineFinding {
  readonly code: FindingCode;
  readonly id?: string;
  readonly place?: Place;
  readonly stage?: ReadingStage;
}

/** What the test was made in. Unknown conditions are integrated over, never defaulted. */
export interface EngineConditions {
  readonly outsideAirK?: number;
  readonly condenserAirK?: number;
  readonly evaporatorAirK?: number;
  /** Ratio, 0 to 1, at the evaporator inlet. */
  readonly relativeHumidity?: number;
  readonly barometerPa?: number;
  readonly barometerKind?: 'station' | 'sea-level' | 'unknown';
  /** Revolutions per second. */
  readonly engineSpeedPerS?: number;
  readonly compressorSpeedPerS?: number;
  readonly airSource?: 'outside' | 'recirculated' | 'partial';
  /** Share of full blower. */
  readonly blower?: number;
  readonly doorsOpen?: boolean;
  readonly shopFan?: boolean;
  readonly runningS?: number;
  readonly soakedS?: number;
  readonly soakTemperatureK?: number;
  readonly compressorCommand?: number;
  readonly clutchEngaged?: boolean;
  readonly condenserFan?: 'off' | 'low' | 'high' | 'unknown';
  readonly roadSpeedMPerS?: number;
}

/** Temperatures over the condenser face: spots (x from the inlet side, y from the top, shares) or a grid (top row first), kelvin. */
export interface EngineThermalMap {
  readonly spots?: readonly { readonly x: number; readonly y: number; readonly temperatureK: number }[];
  readonly rowsK?: readonly (readonly number[])[];
  readonly stage?: ReadingStage;
  readonly bareMetal?: boolean;
}

/** A pressure sampled in time, Pa in its own reference. */
export interface EngineTrace {
  readonly place: Place;
  readonly reference?: PressureReference;
  readonly samples: readonly { readonly second: number; readonly pressurePa: number }[];
}

/** What is known before this case's readings: proved faults only, never the engine's own earlier guesses. */
export interface EnginePrior {
  /** Proved faults on this platform with their counts. */
  readonly platformProved?: readonly { readonly code: FaultCode; readonly count: number }[];
  /** Proved faults of this vehicle, most recent first, with their age in days. */
  readonly vehicleProved?: readonly { readonly code: FaultCode; readonly ageDays: number }[];
}

/** Known-good readings of other platforms of a kind. */
export interface RelatedSound {
  readonly platforms: number;
  readonly cases: number;
  readonly shops: number;
}

/** How a platform's sound vehicles differ from sound systems of their kind. Plain data: may be stored and sent as JSON. */
export interface PlatformCalibration {
  /** Calibration of the engine it belongs to; under another it is not used. */
  readonly calibration: string;
  readonly group: string;
  /** Of the platform itself; both 0 where too few shops have read it sound. */
  readonly cases: number;
  readonly shops: number;
  /** Other platforms of its kind, where they were used. */
  readonly related?: RelatedSound | null;
  /** Shift of the sound expectation in the engine's dimensions, K and shares. */
  readonly offset: readonly number[];
  /** What is still unknown of that shift: lower triangle of its covariance. */
  readonly remaining: readonly number[];
}

/** Readings of this very vehicle from an earlier visit, taken while it was sound: after a repair that was proved and held. */
export interface OwnSound {
  readonly elevationM?: number;
  readonly conditions: EngineConditions;
  /** All of them count, whatever their stage. */
  readonly readings: readonly EngineReading[];
  /** Day of that visit, YYYY-MM-DD. */
  readonly day?: string;
  /** Age at the time of the case. */
  readonly ageDays: number;
  /** Whether the shop that reads the vehicle now read it then: its instruments err alike. */
  readonly sameShop: boolean;
}

/** Shop equipment a next test may need. An absent list means the ordinary: gauges, thermometer, machine, scan tool. */
export type Equipment =
  | 'manifold-gauges'
  | 'thermometer'
  | 'thermal-imager'
  | 'service-machine'
  | 'identifier'
  | 'sealant-detector'
  | 'leak-detector'
  | 'scan-tool'
  | 'nitrogen'
  | 'strobe';

export interface EngineInput {
  readonly platform: EnginePlatform;
  /** Elevation of the shop above sea level, m; used when no barometer was read. */
  readonly elevationM?: number;
  readonly conditions: EngineConditions;
  readonly readings: readonly EngineReading[];
  readonly findings: readonly EngineFinding[];
  readonly thermalMaps: readonly EngineThermalMap[];
  readonly traces: readonly EngineTrace[];
  /** Which readings to judge; before any repair unless said otherwise. */
  readonly stage?: ReadingStage;
  readonly complaint?: string;
  /** Day of the visit, YYYY-MM-DD. */
  readonly day?: string;
  readonly prior?: EnginePrior;
  /** What known-good readings say about this platform; see `platformCalibration`. */
  readonly platformCalibration?: PlatformCalibration;
  /** Sound readings of this very vehicle; the three newest are used. */
  readonly ownSound?: readonly OwnSound[];
  readonly equipment?: readonly Equipment[];
}
