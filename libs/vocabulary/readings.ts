/** Where in the circuit, the air stream or the machine a value was taken. */
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

export const READING_QUANTITIES = [
  'pressure',
  'temperature',
  'relative-humidity',
  'speed',
  'mass',
  'fraction',
  'current',
  'voltage',
  'time',
] as const;
export type ReadingQuantity = (typeof READING_QUANTITIES)[number];

/** Compressor off or on when the value was taken. */
export const READING_PHASES = ['rest', 'running'] as const;
export type ReadingPhase = (typeof READING_PHASES)[number];

/** Before any repair of the visit, or after it. */
export const READING_STAGES = ['before', 'after'] as const;
export type ReadingStage = (typeof READING_STAGES)[number];

export const INSTRUMENTS = [
  'manifold-gauge',
  'vehicle-transducer',
  'thermometer',
  'thermal-imager',
  'scale',
  'service-machine',
  'identifier',
  'hygrometer',
  'scan-tool',
  'other',
] as const;
export type Instrument = (typeof INSTRUMENTS)[number];

/** What zero means. */
export const PRESSURE_REFERENCES = ['vented-gauge', 'sealed-gauge', 'absolute', 'unknown'] as const;
export type PressureReference = (typeof PRESSURE_REFERENCES)[number];

/** What a value means where quantity and place do not say it. */
export const READING_MEANINGS = [
  'recovered-charge',
  'charged',
  'oil-recovered',
  'compressor-command',
  'air-share',
  'refrigerant-purity',
  'engine-speed',
  'compressor-speed',
  'compressor-speed-requested',
  'equalisation-time',
  'vacuum-rise',
] as const;
export type ReadingMeaning = (typeof READING_MEANINGS)[number];
