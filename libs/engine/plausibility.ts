import type { Place, PressureReference, ReadingMeaning, ReadingPhase, ReadingQuantity } from './codes.js';
import type { EngineConditions, EnginePlatform } from './evidence.js';

/** The parts of a reading its plausibility hangs on; a whole reading fits. SI values. */
export interface JudgedReading {
  readonly quantity: ReadingQuantity;
  readonly value: number;
  readonly place?: Place;
  readonly phase?: ReadingPhase;
  readonly meaning?: ReadingMeaning;
  readonly reference?: PressureReference;
  readonly confirmed?: boolean;
  /** UCUM code as typed: narrows the guess at the slip. */
  readonly unit?: string;
}

export interface JudgingContext {
  readonly platform?: Pick<EnginePlatform, 'refrigerant' | 'chargeKg'>;
  /** Local (station) barometric pressure, Pa, when known. */
  readonly barometerPa?: number;
  readonly outsideAirK?: number;
}

export interface Judgement {
  readonly verdict: 'impossible' | 'unlikely' | 'plausible';
  readonly reason: string;
  /** Guess at the slip of the pen, e.g. `degF-typed-as-Cel`. */
  readonly slip?: string;
}

type Range = readonly [impossibleBelow: number, unlikelyBelow: number, unlikelyAbove: number, impossibleAbove: number];

const C = 273.15;
const BAR = 1e5;
const celsius = (a: number, b: number, c: number, d: number): Range => [a + C, b + C, c + C, d + C];

/**
 * What air and parts of a vehicle in service can show. Outer limits: coldest and hottest weather ever recorded for air (-90, +57 C) with
 * room for a closed cabin in the sun and a grille over hot ground; for the circuit, hoses and oil do not survive 200 C. Inner limits: common practice.
 */
const TEMPERATURES: Partial<Record<Place, Range>> = {
  outside: celsius(-60, 0, 50, 60),
  'condenser-air-inlet': celsius(-60, 0, 60, 90),
  'evaporator-air-inlet': celsius(-40, 5, 50, 75),
  vent: celsius(-20, -2, 40, 75),
  'evaporator-core': celsius(-40, -8, 40, 75),
  'evaporator-outlet': celsius(-50, -20, 50, 90),
  accumulator: celsius(-50, -20, 50, 90),
  'compressor-suction': celsius(-50, -20, 60, 100),
  'compressor-discharge': celsius(-40, 20, 140, 200),
  'condenser-inlet': celsius(-40, 15, 130, 190),
  'valve-outlet': celsius(-60, -25, 40, 90),
};
const OTHER_TEMPERATURE = celsius(-60, -20, 110, 200);

const LOW_SIDE = new Set<Place>([
  'evaporator-outlet',
  'accumulator',
  'compressor-suction',
  'low-side-port',
  'low-side-transducer',
  'valve-outlet',
  'evaporator-core',
]);

/** Absolute pressure limits, Pa. A relief valve opens near 35-40 bar (common practice), so more than 50 bar cannot stand on a port. */
function pressureRange(place: Place | undefined, phase: ReadingPhase | undefined): Range {
  if (place === 'outside') return [0.5 * BAR, 0.6 * BAR, 1.05 * BAR, 1.1 * BAR];
  if (phase === 'rest') return [0, 0.9 * BAR, 16 * BAR, 30 * BAR];
  if (place !== undefined && LOW_SIDE.has(place)) return [0, 1.0 * BAR, 9 * BAR, 26 * BAR];
  return [0, 4 * BAR, 34 * BAR, 50 * BAR];
}

const STANDARD_PA = 101_325;

/** Unit slips: the number as typed in one unit is read again in the other. `toSi` acts on the typed number; pressures are left in their own reference. */
interface Unit {
  readonly code: string;
  readonly toSi: (x: number) => number;
  readonly fromSi: (si: number) => number;
}
const linear = (code: string, factor: number, offset = 0): Unit => ({
  code,
  toSi: (x) => x * factor + offset,
  fromSi: (si) => (si - offset) / factor,
});
const UNITS: Partial<Record<ReadingQuantity, readonly Unit[]>> = {
  temperature: [linear('Cel', 1, C), linear('[degF]', 5 / 9, C - 160 / 9), linear('K', 1)],
  pressure: [
    linear('[psi]', 6894.757293168),
    linear('kPa', 1000),
    linear('bar', BAR),
    linear("[in_i'Hg]", 3386.389),
    linear('MPa', 1e6),
    linear('Pa', 1),
  ],
  mass: [linear('g', 0.001), linear('kg', 1), linear('[oz_av]', 0.028349523125), linear('[lb_av]', 0.45359237)],
  speed: [linear('/min', 1 / 60), linear('/s', 1)],
  fraction: [linear('%', 0.01), linear('1', 1)],
  'relative-humidity': [linear('%', 0.01), linear('1', 1)],
  time: [linear('s', 1), linear('min', 60), linear('h', 3600)],
};
/** Units people mean when they slip; nobody means pascal. */
const USUAL = new Set(['Cel', '[degF]', '[psi]', 'kPa', 'bar', 'g', 'kg', '[oz_av]', '/min', '1', '%', 'min']);
/** UCUM spells some units in several ways; these are read as the unit on the right. */
const SAME: Record<string, string> = { m: 'min', psi: '[psi]', '{ratio}': '1' };

function absolute(value: number, reference: PressureReference | undefined, barometerPa: number): number {
  if (reference === 'absolute') return value;
  return value + (reference === 'sealed-gauge' ? STANDARD_PA : barometerPa);
}

/** A thermometer or weighing scale that reads outside [0] and [3] cannot be believed; between [0] and [1] or [2] and [3] it waits for one look again. */
function zone(x: number, range: Range): 'impossible' | 'unlikely' | 'plausible' {
  if (!(x >= range[0] && x <= range[3])) return 'impossible';
  return x < range[1] || x > range[2] ? 'unlikely' : 'plausible';
}

function rangeOf(reading: JudgedReading, context: JudgingContext): { range: Range; what: string; show: (x: number) => string } {
  const degrees = (x: number) => `${(x - C).toFixed(0)} °C (${((x - C) * 1.8 + 32).toFixed(0)} °F)`;
  switch (reading.quantity) {
    case 'temperature': {
      const range = (reading.place && TEMPERATURES[reading.place]) ?? OTHER_TEMPERATURE;
      const tight = reading.place === 'vent' && context.outsideAirK !== undefined ? Math.min(range[2], context.outsideAirK + 6) : range[2];
      return { range: [range[0], range[1], Math.max(tight, range[1]), range[3]], what: 'temperature', show: degrees };
    }
    case 'pressure':
      return {
        range: pressureRange(reading.place, reading.phase),
        what: 'absolute pressure',
        show: (x) => `${(x / BAR).toFixed(2)} bar absolute`,
      };
    case 'mass': {
      const charge = context.platform?.chargeKg;
      const most = charge ? charge * 2.5 : 6;
      const usual = charge ? charge * 1.5 : 1.6;
      if (reading.meaning === 'oil-recovered')
        return { range: [0, 0, 0.25, 0.6], what: 'oil mass', show: (x) => `${(x * 1000).toFixed(1)} g` };
      return { range: [0, charge ? charge * 0.05 : 0.02, usual, most], what: 'mass', show: (x) => `${(x * 1000).toFixed(1)} g` };
    }
    case 'relative-humidity':
    case 'fraction':
      return { range: [0, 0, 1, 1], what: 'share', show: (x) => `${(x * 100).toFixed(0)} %` };
    case 'speed':
      // Electric compressors reach about 8,600 /min, engines about 7,000 /min in a shop (common practice).
      return { range: [0, 0, 115, 200], what: 'speed', show: (x) => `${(x * 60).toFixed(0)} /min` };
    case 'current':
      return { range: [0, 0, 60, 300], what: 'current', show: (x) => `${x} A` };
    case 'voltage':
      return { range: [0, 0, 60, 1000], what: 'voltage', show: (x) => `${x} V` };
    case 'time':
      return { range: [0, 0, 48 * 3600, 1000 * 3600], what: 'time', show: (x) => `${x} s` };
  }
}

/**
 * Whether a value can be what it says.
 *
 * Impossible values lie outside what air, hoses, relief valves and scales allow; unlikely ones are possible and are believed once
 * `confirmed`. When reading the typed number in another unit or another pressure reference gives an ordinary value, that slip is named.
 *
 * Units: SI; a pressure in its own reference. Missing reference is read as a gauge open to the local air.
 * NaN and infinities are impossible. Limits are physical bounds and common practice, stated beside each table.
 */
export function judgeReading(reading: JudgedReading, context: JudgingContext = {}): Judgement {
  if (!Number.isFinite(reading.value)) return { verdict: 'impossible', reason: 'The value is not a number.' };
  const barometerPa = context.barometerPa ?? STANDARD_PA;
  const isPressure = reading.quantity === 'pressure';
  const reference = reading.place === 'outside' && isPressure ? 'absolute' : reading.reference;
  const comparable = (si: number) => (isPressure ? absolute(si, reference, barometerPa) : si);
  const { range, what, show } = rangeOf(reading, context);
  const x = comparable(reading.value);
  // A gauge may read a few millibar below zero absolute by its own error.
  const verdict = isPressure && x < 0 && x > -3000 ? 'unlikely' : zone(x, range);
  if (verdict === 'plausible') return { verdict, reason: `This ${what} is within what is seen in service.` };
  if (verdict === 'unlikely' && reading.confirmed) {
    return { verdict: 'plausible', reason: `This ${what} is unusual, but it was looked at again and confirmed.` };
  }
  const slip = guessSlip(reading, context, range, comparable);
  const limit =
    x < range[verdict === 'impossible' ? 0 : 1]
      ? `below ${show(range[verdict === 'impossible' ? 0 : 1])}`
      : `above ${show(range[verdict === 'impossible' ? 3 : 2])}`;
  const where = reading.place ? ` at ${reading.place}` : '';
  const vacuum =
    isPressure && x < 0 ? ` No vacuum can be deeper than the local barometer, ${(barometerPa / 3386.389).toFixed(1)} inHg.` : '';
  return {
    verdict,
    reason: `A ${what} of ${show(x)}${where} is ${verdict === 'impossible' ? 'not possible' : 'seldom seen'}: ${limit}.${vacuum}`,
    ...(slip === undefined ? {} : { slip }),
  };
}

function guessSlip(reading: JudgedReading, context: JudgingContext, range: Range, comparable: (si: number) => number): string | undefined {
  if (reading.quantity === 'pressure') {
    const barometerPa = context.barometerPa ?? STANDARD_PA;
    if (reading.reference === 'absolute' && zone(reading.value + barometerPa, range) === 'plausible') return 'gauge-typed-as-absolute';
    if (reading.reference !== 'absolute' && zone(reading.value, range) === 'plausible') return 'absolute-typed-as-gauge';
  }
  const units = UNITS[reading.quantity] ?? [];
  const typedCode = reading.unit === undefined ? undefined : (SAME[reading.unit] ?? reading.unit);
  for (const typed of units) {
    if (typedCode !== undefined && typed.code !== typedCode) continue;
    const number = typed.fromSi(reading.value);
    for (const meant of units) {
      if (meant.code === typed.code || !USUAL.has(meant.code)) continue;
      if (zone(comparable(meant.toSi(number)), range) === 'plausible') return `${bare(meant.code)}-typed-as-${bare(typed.code)}`;
    }
  }
  return undefined;
}

function bare(code: string): string {
  return (
    {
      '[degF]': 'degF',
      '[psi]': 'psi',
      "[in_i'Hg]": 'inHg',
      '[oz_av]': 'oz',
      '[lb_av]': 'lb',
      '/min': 'per-minute',
      '/s': 'per-second',
      '1': 'ratio',
      '%': 'percent',
    }[code] ?? code
  );
}

/** A judgement on one of the conditions, named by its field. */
export interface ConditionJudgement extends Judgement {
  readonly field: keyof EngineConditions;
}

/** The same judgement for the conditions of a test; only fields that are not plausible are returned. */
export function judgeConditions(conditions: EngineConditions, context: JudgingContext = {}): ConditionJudgement[] {
  const checks: [keyof EngineConditions, JudgedReading][] = [];
  const add = (field: keyof EngineConditions, quantity: ReadingQuantity, place?: Place) => {
    const value = conditions[field];
    if (typeof value === 'number') checks.push([field, { quantity, value, place }]);
  };
  add('outsideAirK', 'temperature', 'outside');
  add('condenserAirK', 'temperature', 'condenser-air-inlet');
  add('evaporatorAirK', 'temperature', 'evaporator-air-inlet');
  add('soakTemperatureK', 'temperature', 'condenser-air-inlet');
  add('relativeHumidity', 'relative-humidity');
  add('barometerPa', 'pressure', 'outside');
  add('engineSpeedPerS', 'speed');
  add('compressorSpeedPerS', 'speed');
  return checks.flatMap(([field, reading]) => {
    const judgement = judgeReading(reading, context);
    return judgement.verdict === 'plausible' ? [] : [{ field, ...judgement }];
  });
}
