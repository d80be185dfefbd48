/** The catalogue's faults, as words, in the catalogue's order. */
export const FAULT_CODES = [
  'healthy',
  'undercharge',
  'overcharge',
  'air-in-system',
  'wrong-refrigerant',
  'moisture',
  'excess-oil',
  'low-oil',
  'condenser-dirt',
  'condenser-fan',
  'condenser-passages',
  'filter-cartridge',
  'liquid-line-restriction',
  'discharge-line-restriction',
  'valve-restricted',
  'valve-stuck-open',
  'orifice-clogged',
  'orifice-oversize',
  'suction-restriction',
  'compressor-leakage',
  'compressor-wear',
  'displacement-stuck-low',
  'displacement-stuck-high',
  'clutch-slip',
  'electric-compressor-limited',
  'evaporator-airflow',
  'evaporator-fouling',
  'air-door',
  'pressure-sensor-bias',
  'temperature-sensor-bias',
  'compressor-inhibited',
  'sealant',
  'second-circuit',
] as const;
export type FaultCode = (typeof FAULT_CODES)[number];

/** Mistakes of measurement, weighed beside the faults so that the vehicle is not blamed for them. */
export const MEASUREMENT_ERROR_CODES = [
  'manifold-valves-open',
  'port-not-opened',
  'gauge-bias',
  'transducer-bias',
  'sample-unsettled',
] as const;
export type MeasurementErrorCode = (typeof MEASUREMENT_ERROR_CODES)[number];
export type HypothesisCode = FaultCode | MeasurementErrorCode;
export const HYPOTHESIS_CODES: readonly HypothesisCode[] = [...FAULT_CODES, ...MEASUREMENT_ERROR_CODES];

/** Places of the circuit, the air streams and the machine. */
export const PLACES = [
  'evaporator-outlet',
  'accumulator',
  'compressor-suction',
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  'valve-inlet',
  'valve-outlet',
  'evaporator-core',
  'condenser-surface',
  'vent',
  'evaporator-air-inlet',
  'condenser-air-inlet',
  'outside',
  'low-side-port',
  'high-side-port',
  'high-side-transducer',
  'low-side-transducer',
  'service-machine',
  'compressor',
] as const;
export type Place = (typeof PLACES)[number];

export type ReadingQuantity =
  | 'pressure'
  | 'temperature'
  | 'relative-humidity'
  | 'speed'
  | 'mass'
  | 'fraction'
  | 'current'
  | 'voltage'
  | 'time';
export type ReadingPhase = 'rest' | 'running';
export type ReadingStage = 'before' | 'after';
export type Instrument =
  | 'manifold-gauge'
  | 'vehicle-transducer'
  | 'thermometer'
  | 'thermal-imager'
  | 'scale'
  | 'service-machine'
  | 'identifier'
  | 'hygrometer'
  | 'scan-tool'
  | 'other';
export type PressureReference = 'vented-gauge' | 'sealed-gauge' | 'absolute' | 'unknown';
export type ReadingMeaning =
  | 'recovered-charge'
  | 'charged'
  | 'oil-recovered'
  | 'compressor-command'
  | 'air-share'
  | 'refrigerant-purity'
  | 'engine-speed'
  | 'compressor-speed'
  | 'compressor-speed-requested'
  | 'equalisation-time'
  | 'vacuum-rise';

/** Things seen, heard or felt. */
export const FINDING_CODES = [
  'cartridge-black',
  'cartridge-clean',
  'desiccant-hard',
  'desiccant-loose',
  'metal-fines',
  'metal-fines-magnetic',
  'oil-black',
  'oil-clean',
  'oil-at-joint',
  'dye-at-joint',
  'sealant-positive',
  'sealant-negative',
  'orifice-screen-dark',
  'orifice-screen-clean',
  'orifice-screen-granules',
  'valve-screen-dark',
  'frost-at-valve',
  'frost-at-drier',
  'frost-at-line',
  'condenser-fins-dirty',
  'condenser-fins-clean',
  'condenser-fan-stopped',
  'condenser-fan-runs',
  'condenser-rows-cold',
  'condenser-even',
  'temperature-step-at-condenser',
  'temperature-step-at-cartridge',
  'temperature-drop-at-drier',
  'compressor-noise',
  'compressor-locked',
  'clutch-slips',
  'clutch-off',
  'hose-collapsed',
  'evaporator-iced',
  'cabin-filter-blocked',
  'blower-weak',
  'vents-differ-left-right',
  'heater-hose-hot',
  'bubbles-in-sight-glass',
  'cold-then-warm',
  'mist-drops-head',
  'valves-open-on-manifold',
  'port-core-closed',
] as const;
export type FindingCode = (typeof FINDING_CODES)[number];

export type Layout = 'orifice-accumulator' | 'valve-receiver' | 'valve-integral-receiver';
export type CompressorKind = 'fixed-clutch' | 'variable' | 'variable-commanded' | 'electric';
export type RefrigerantName = 'R-134a' | 'R-1234yf';
