/**
 * The UCUM unit codes this service accepts, with their exact conversion to SI.
 *
 *   si = value * factor + offset
 *
 * Exact by definition: pound-force per square inch from 0.45359237 kg, 9.80665 m/s2 and 0.0254 m; columns of mercury from the conventional density
 * 13,595.1 kg/m3 (0 °C). UCUM's own table rounds m[Hg] to 133.3220 kPa, 3 parts in a million lower; we follow NIST.
 * A code cannot say whether a pressure is gauge or absolute, nor whether a temperature is a difference: that is the reading's to say.
 *
 * source   Unified Code for Units of Measure (codes); NIST SP 811 (2008) appendix B (factors)
 */
export type UnitKind = 'pressure' | 'temperature' | 'mass' | 'length' | 'frequency' | 'ratio' | 'time' | 'voltage' | 'current';

export interface UnitCode {
  readonly code: string;
  readonly kind: UnitKind;
  /** SI unit of the converted value. */
  readonly si: 'Pa' | 'K' | 'kg' | 'm' | '/s' | '1' | 's' | 'V' | 'A';
  readonly factor: number;
  readonly offset: number;
  readonly name: string;
  /** What people type for it. Only used to suggest the code, never accepted in its place. */
  readonly typedAs: readonly string[];
}

const POUND = 0.45359237;
const PSI = (POUND * 9.80665) / 0.0254 ** 2;
const MMHG = 13_595.1 * 9.80665 * 1e-3;
const unitOf = (
  code: string,
  kind: UnitKind,
  si: UnitCode['si'],
  factor: number,
  name: string,
  typedAs: readonly string[],
  offset = 0,
): UnitCode => Object.freeze({ code, kind, si, factor, offset, name, typedAs });

export const UNIT_CODES: readonly UnitCode[] = Object.freeze([
  unitOf('Pa', 'pressure', 'Pa', 1, 'pascal', ['pascal', 'pa']),
  unitOf('kPa', 'pressure', 'Pa', 1e3, 'kilopascal', ['kpa', 'KPa', 'kilopascal']),
  unitOf('MPa', 'pressure', 'Pa', 1e6, 'megapascal', ['mpa', 'megapascal']),
  unitOf('bar', 'pressure', 'Pa', 1e5, 'bar', ['bars', 'barg', 'bara', 'Bar', 'BAR']),
  unitOf('hPa', 'pressure', 'Pa', 100, 'hectopascal', ['hpa', 'hectopascal']),
  unitOf('mbar', 'pressure', 'Pa', 100, 'millibar', ['millibar', 'mb', 'MBAR']),
  unitOf('[psi]', 'pressure', 'Pa', PSI, 'pound per square inch', ['psi', 'psig', 'psia', 'PSI', 'lb/in2', 'lbs']),
  unitOf("[in_i'Hg]", 'pressure', 'Pa', MMHG * 25.4, 'inch of mercury', ['inHg', 'inhg', 'in Hg', '"Hg', "[in_i'hg]"]),
  unitOf('mm[Hg]', 'pressure', 'Pa', MMHG, 'millimetre of mercury', ['mmHg', 'mmhg', 'torr', 'Torr']),
  unitOf('um[Hg]', 'pressure', 'Pa', MMHG / 1e3, 'micrometre of mercury (micron)', ['micron', 'microns', 'umHg', 'µmHg']),
  unitOf('kgf/cm2', 'pressure', 'Pa', 98066.5, 'kilogram-force per square centimetre', ['kg/cm2', 'at', 'kgf/cm²', 'kg/cm²']),
  unitOf('K', 'temperature', 'K', 1, 'kelvin', ['kelvin', 'k']),
  unitOf('Cel', 'temperature', 'K', 1, 'degree Celsius', ['C', '°C', 'degC', 'celsius', 'c', 'cel', 'ºC'], 273.15),
  unitOf('[degF]', 'temperature', 'K', 5 / 9, 'degree Fahrenheit', ['F', '°F', 'degF', 'fahrenheit', 'f', 'ºF'], 459.67 * (5 / 9)),
  unitOf('kg', 'mass', 'kg', 1, 'kilogram', ['kilogram', 'KG', 'kgs']),
  unitOf('g', 'mass', 'kg', 1e-3, 'gram', ['gram', 'grams', 'gr', 'G']),
  unitOf('[oz_av]', 'mass', 'kg', POUND / 16, 'ounce', ['oz', 'ounce', 'ounces']),
  unitOf('[lb_av]', 'mass', 'kg', POUND, 'pound', ['lb', 'lbs', 'pound', 'pounds']),
  unitOf('m', 'length', 'm', 1, 'metre', ['metre', 'meter', 'M']),
  unitOf('mm', 'length', 'm', 1e-3, 'millimetre', ['millimetre', 'millimeter', 'MM']),
  unitOf('cm', 'length', 'm', 1e-2, 'centimetre', ['centimetre', 'centimeter', 'CM']),
  unitOf('[in_i]', 'length', 'm', 0.0254, 'inch', ['in', 'inch', 'inches', '"']),
  unitOf('km', 'length', 'm', 1e3, 'kilometre', ['kilometre', 'kilometer', 'KM', 'kms']),
  unitOf('[mi_i]', 'length', 'm', 1609.344, 'mile', ['mi', 'mile', 'miles']),
  unitOf('[ft_i]', 'length', 'm', 0.3048, 'foot', ['ft', 'feet', 'foot']),
  unitOf('/min', 'frequency', '/s', 1 / 60, 'per minute', ['rpm', 'RPM', 'r/min', '1/min']),
  unitOf('/s', 'frequency', '/s', 1, 'per second', ['rps', '1/s', 'hz']),
  unitOf('Hz', 'frequency', '/s', 1, 'hertz', ['hertz', 'HZ']),
  unitOf('%', 'ratio', '1', 0.01, 'percent', ['percent', 'pct', '%RH', 'RH']),
  unitOf('1', 'ratio', '1', 1, 'ratio', ['ratio', 'share']),
  unitOf('s', 'time', 's', 1, 'second', ['sec', 'seconds', 'second']),
  unitOf('min', 'time', 's', 60, 'minute', ['minute', 'minutes', 'mins']),
  unitOf('h', 'time', 's', 3600, 'hour', ['hour', 'hours', 'hr', 'hrs']),
  unitOf('d', 'time', 's', 86_400, 'day', ['day', 'days']),
  unitOf('V', 'voltage', 'V', 1, 'volt', ['volt', 'volts', 'v']),
  unitOf('mV', 'voltage', 'V', 1e-3, 'millivolt', ['millivolt', 'mv']),
  unitOf('A', 'current', 'A', 1, 'ampere', ['amp', 'amps', 'ampere', 'a']),
  unitOf('mA', 'current', 'A', 1e-3, 'milliampere', ['milliamp', 'ma', 'MA']),
]);

const BY_CODE: ReadonlyMap<string, UnitCode> = new Map(UNIT_CODES.map((one) => [one.code, one]));

/** The unit with this code, or null: codes are matched exactly, as UCUM's case-sensitive form demands. */
export function findUnit(code: string): UnitCode | null {
  return BY_CODE.get(code) ?? null;
}

/** A value in this unit as SI: si = value * factor + offset. */
export function toSI(value: number, one: UnitCode): number {
  return value * one.factor + one.offset;
}

/** An SI value in this unit. */
export function fromSI(si: number, one: UnitCode): number {
  return (si - one.offset) / one.factor;
}

/** A difference in this unit (5 Cel of superheat, 9 [degF]) as SI: the zero point of the scale does not matter. */
export function differenceToSI(value: number, one: UnitCode): number {
  return value * one.factor;
}

/** An SI difference in this unit. */
export function differenceFromSI(si: number, one: UnitCode): number {
  return si / one.factor;
}

/** The code someone most likely meant, among the units of the given kinds (all when empty); null when nothing is near. */
export function suggestUnit(typed: string, kinds: readonly UnitKind[] = []): UnitCode | null {
  const candidates = UNIT_CODES.filter((one) => kinds.length === 0 || kinds.includes(one.kind));
  const exact = candidates.find((one) => one.typedAs.includes(typed) || one.code === typed);
  if (exact) return exact;
  const plain = typed.toLowerCase().replace(/[^a-z%]/g, '');
  let best: UnitCode | null = null;
  let bestDistance = Math.min(2, Math.max(0, plain.length - 1));
  for (const one of candidates) {
    for (const form of [one.code, one.name, ...one.typedAs]) {
      const distance = editDistance(plain, form.toLowerCase().replace(/[^a-z%]/g, ''));
      if (distance <= bestDistance && (best === null || distance < bestDistance)) {
        best = one;
        bestDistance = distance;
      }
    }
  }
  return best;
}

/** Levenshtein distance: fewest insertions, deletions and replacements of one letter. */
export function editDistance(a: string, b: string): number {
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      row[j] = Math.min(row[j - 1]! + 1, previous[j]! + 1, previous[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1));
    }
    previous = row;
  }
  return previous[b.length]!;
}

/** The candidate nearest to a mistyped word, when it is near enough to be worth suggesting. */
export function nearest(typed: string, candidates: readonly string[]): string | null {
  const word = typed.toLowerCase();
  let best: string | null = null;
  let bestDistance = Math.max(1, Math.floor(word.length / 3)) + 1;
  for (const candidate of candidates) {
    const distance = editDistance(word, candidate.toLowerCase());
    if (distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}
