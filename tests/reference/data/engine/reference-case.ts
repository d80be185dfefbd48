import type { HypothesisCode } from '#libs/engine/index.js';

/** Values of a case in the units of the trade: psi gauge, degrees Fahrenheit, share of the charge. */
export interface ReferenceCase {
  readonly name: string;
  /** Where the statement comes from that this picture means this fault. */
  readonly source: string;
  readonly system: 'orifice' | 'valve' | 'integral' | 'variable' | 'electric';
  readonly air?: number;
  readonly outsideAirIn?: boolean;
  readonly rpm?: number;
  readonly minutes?: number;
  readonly soakedHours?: number;
  readonly elevationFt?: number;
  readonly low?: number;
  /** Pressure before the condenser, psig. */
  readonly dis?: number;
  /** Pressure after the condenser, psig. */
  readonly liq?: number;
  readonly restGauge?: number;
  readonly restLow?: number;
  readonly restTransducer?: number;
  readonly vent?: number;
  readonly core?: number;
  readonly suction?: number;
  readonly liquid?: number;
  readonly afterDrier?: number;
  readonly discharge?: number;
  readonly charge?: number;
  readonly command?: number;
  readonly speedRatio?: number;
  readonly equaliseS?: number;
  readonly airShare?: number;
  readonly purity?: number;
  readonly oilG?: number;
  readonly findings?: readonly string[];
  /** Condenser rows top to bottom, F. */
  readonly rows?: readonly number[];
  readonly complaint?: string;
  readonly accept: readonly HypothesisCode[];
}

export const ARMY_TABLE = 'US Army TM 5-3805-290-23-1 WP 0018, Table 1 pressure range';
export const ARMY_MANUAL = 'US Army TM 9-2320-387-24-2 para 14-5/14-6';
export const ARMY_TXV = 'US Army TB 9-2320-360-13&P-1 WP 0041';
export const ARMY_255 = 'US Army TM 9-4110-255-14 para 5-16';
export const ARMY_303 = 'US Army TM 9-2320-303-24-2 WP 0227';
export const PRACTICE = 'common practice';
