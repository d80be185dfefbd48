/** The catalogue of circuit and control faults, as words. The order is the catalogue's. */
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

export const HYPOTHESIS_CODES = [...FAULT_CODES, ...MEASUREMENT_ERROR_CODES] as const;
export type HypothesisCode = (typeof HYPOTHESIS_CODES)[number];
