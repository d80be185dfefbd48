import type { LedgerLine, NewReading } from '../client/generated/api.ts';

export type PressureUnit = '[psi]' | 'bar' | 'kPa';
export type TemperatureUnit = 'Cel' | '[degF]';
export interface Units {
  readonly pressure: PressureUnit;
  readonly temperature: TemperatureUnit;
}

/** UCUM codes as a person writes them. */
const UNIT_NAMES: Readonly<Record<string, string>> = {
  '[psi]': 'psi',
  Cel: '°C',
  '[degF]': '°F',
  '[oz_av]': 'oz',
  '[lb_av]': 'lb',
  '/min': '/min',
  '1': '',
};
export const unitName = (code: string): string => UNIT_NAMES[code] ?? code;

/** Pascals in one unit (the pound-force per square inch from the inch of 25.4 mm, the pound of 0.45359237 kg and 9.80665 m/s²). */
const PASCALS: Readonly<Record<string, number>> = { '[psi]': 6894.757293168, bar: 1e5, kPa: 1e3, Pa: 1 };
/** Kelvins in one degree of difference. */
const KELVINS: Readonly<Record<string, number>> = { Cel: 1, '[degF]': 5 / 9, K: 1 };

const rounded = (value: number, digits: number) => {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? (0).toFixed(digits) : text;
};
const PRESSURE_DIGITS: Readonly<Record<PressureUnit, number>> = { '[psi]': 0, bar: 1, kPa: 0 };

export const pressureDifference = (pascals: number, unit: PressureUnit): string =>
  `${rounded(pascals / PASCALS[unit]!, PRESSURE_DIGITS[unit])} ${unitName(unit)}`;
const temperatureDifference = (kelvins: number, unit: TemperatureUnit): string =>
  `${rounded(kelvins / KELVINS[unit]!, 0)} ${unit === 'Cel' ? 'K' : '°F'}`;

/** Observations whose value is that of one place, and not a difference between two. */
const ABSOLUTES: ReadonlySet<string> = new Set([
  'low-pressure',
  'discharge-pressure',
  'liquid-pressure',
  'discharge-temperature',
  'vent-temperature',
  'core-temperature',
]);

type Typed = Pick<NewReading, 'value' | 'unit'>;

/**
 * What a healthy system would have shown on the instrument that was read: the typed value moved by the difference between expected and seen,
 * so that the reader's own zero (gauge or absolute) is kept.
 */
export function expectedAsTyped(typed: Typed, line: Pick<LedgerLine, 'seen' | 'expectedHealthy' | 'unit'>): number | null {
  if (line.seen === null || line.expectedHealthy === null) return null;
  const scale = line.unit === 'Pa' ? PASCALS[typed.unit] : line.unit === 'K' ? KELVINS[typed.unit] : undefined;
  return scale === undefined ? null : typed.value + (line.expectedHealthy - line.seen) / scale;
}

export const isOfOnePlace = (line: Pick<LedgerLine, 'observation' | 'readings'>): boolean =>
  ABSOLUTES.has(line.observation) && line.readings.length === 1;

export function typedText({ value, unit }: Typed): string {
  return `${value} ${unitName(unit)}`.trim();
}

/** Seen and expected of one observation, in the units of the person who reads. */
export function seenAndExpected(
  line: LedgerLine,
  readings: ReadonlyMap<string, Typed>,
  units: Units,
): { seen: string | null; expected: string | null } {
  const typed = isOfOnePlace(line) ? readings.get(line.readings[0]!) : undefined;
  if (typed) {
    const expected = expectedAsTyped(typed, line);
    const digits = typed.unit === 'bar' ? 1 : 0;
    return { seen: typedText(typed), expected: expected === null ? null : `${rounded(expected, digits)} ${unitName(typed.unit)}` };
  }
  const text = (value: number | null): string | null => {
    if (value === null || line.unit === null) return null;
    if (line.unit === 'Pa') return `${pressureDifference(value, units.pressure)}${ABSOLUTES.has(line.observation) ? ' absolute' : ''}`;
    if (line.unit === 'K' && ABSOLUTES.has(line.observation)) return temperatureText(value, units.temperature);
    if (line.unit === 'K') return temperatureDifference(value, units.temperature);
    if (line.unit === '1') return `${rounded(100 * value, 0)} %`;
    return `${rounded(value, 1)} ${unitName(line.unit)}`;
  };
  return { seen: text(line.seen), expected: text(line.expectedHealthy) };
}

/** An absolute pressure in the unit of the page. */
export const pressureIn = (pascals: number, unit: PressureUnit): number => pascals / PASCALS[unit]!;

/** A pressure in the unit of its trace; its zero is that of the trace. */
export const inTraceUnit = (pascals: number, unit: string): number => pascals / (PASCALS[unit] ?? 1);

export const temperatureText = (kelvin: number, unit: TemperatureUnit): string =>
  unit === 'Cel' ? `${rounded(kelvin - 273.15, 0)} °C` : `${rounded(kelvin * 1.8 - 459.67, 0)} °F`;
