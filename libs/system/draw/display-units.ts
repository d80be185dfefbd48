/** Units a drawing writes. Gauge pressures need the barometer. */
export interface DisplayUnits {
  readonly pressure: 'bar' | 'psi' | 'kPa';
  readonly temperature: '°C' | '°F';
}

const PASCALS = { bar: 1e5, psi: 6_894.757, kPa: 1e3 } as const;

export function pressureIn(pascals: number, units: DisplayUnits): number {
  return pascals / PASCALS[units.pressure];
}

export function pressureText(pascals: number, units: DisplayUnits): string {
  const value = pressureIn(pascals, units);
  return `${value.toFixed(units.pressure === 'bar' ? 1 : 0)} ${units.pressure}`;
}

export function temperatureText(kelvins: number, units: DisplayUnits): string {
  const celsius = kelvins - 273.15;
  return `${Math.round(units.temperature === '°C' ? celsius : celsius * 1.8 + 32)} ${units.temperature}`;
}
