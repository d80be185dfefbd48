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
export type KilogramPerCubicMetre = Quantity<'kg/m3'>;
export type JoulePerKilogram = Quantity<'J/kg'>;
export type JoulePerKilogramKelvin = Quantity<'J/(kg K)'>;
export type Watt = Quantity<'W'>;
export type Metre = Quantity<'m'>;
export type CubicMetre = Quantity<'m3'>;
export type PerSecond = Quantity<'1/s'>;

/** Exact by definition: 0 °C and 0 °F. */
const CELSIUS_ZERO = 273.15;
const FAHRENHEIT_ZERO = 459.67 * (5 / 9);

export function kelvinFromCelsius(celsius: number): Kelvin {
  return (celsius + CELSIUS_ZERO) as Kelvin;
}

export function celsiusFromKelvin(kelvin: Kelvin): number {
  return kelvin - CELSIUS_ZERO;
}

export function kelvinFromFahrenheit(fahrenheit: number): Kelvin {
  return (fahrenheit * (5 / 9) + FAHRENHEIT_ZERO) as Kelvin;
}

export function fahrenheitFromKelvin(kelvin: Kelvin): number {
  return (kelvin - FAHRENHEIT_ZERO) * (9 / 5);
}

/** The difference a - b of two temperatures: never itself a temperature. */
export function temperatureDifference(a: Kelvin, b: Kelvin): KelvinDifference {
  return (a - b) as KelvinDifference;
}

/** Absolute from gauge: p = p_gauge + p_barometric. A gauge reading means nothing without the local atmosphere. */
export function absoluteFromGauge(gauge: GaugePascal, barometric: Pascal): Pascal {
  return (gauge + barometric) as Pascal;
}

export function gaugeFromAbsolute(absolute: Pascal, barometric: Pascal): GaugePascal {
  return (absolute - barometric) as GaugePascal;
}
