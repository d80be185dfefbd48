/** Orifice tube with accumulator; thermostatic valve with a remote receiver-drier; thermostatic valve with the receiver on the condenser. */
export const LAYOUTS = ['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver'] as const;
export type Layout = (typeof LAYOUTS)[number];

export const COMPRESSOR_KINDS = ['fixed-clutch', 'variable', 'variable-commanded', 'electric'] as const;
export type CompressorKind = (typeof COMPRESSOR_KINDS)[number];

export const REFRIGERANT_NAMES = ['R-134a', 'R-1234yf'] as const;
export type RefrigerantName = (typeof REFRIGERANT_NAMES)[number];
