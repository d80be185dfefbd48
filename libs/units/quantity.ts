/**
 * Branded SI types: a number that says what it is, at no cost at run time. Temperatures and temperature differences are different types, and so
 * are gauge and absolute pressures, because adding the wrong pair is the commonest mistake of the trade.
 */
declare const unit: unique symbol;
export type Quantity<U extends string> = number & { readonly [unit]: U };

export type Kelvin = Quantity<'K'>;
export type KelvinDifference = Quantity<'K difference'>;
/** Absolute pressure. */
export type Pascal = Quantity<'Pa absolute'>;
/** Pressure above the local atmosphere. */
export type GaugePascal = Quantity<'Pa gauge'>;
export type PascalDifference = Quantity<'Pa difference'>;
export type Kilogram = Quantity<'kg'>;
export type KilogramPerSecond = Quantity<'kg/s'>;
export type JoulePerKilogram = Quantity<'J/kg'>;
export type Metre = Quantity<'m'>;

/** Absolute from gauge: p = p_gauge + p_barometric. A gauge reading means nothing without the local atmosphere. */
export function absoluteFromGauge(gauge: GaugePascal, barometric: Pascal): Pascal {
  return (gauge + barometric) as Pascal;
}

export function gaugeFromAbsolute(absolute: Pascal, barometric: Pascal): GaugePascal {
  return (absolute - barometric) as GaugePascal;
}
