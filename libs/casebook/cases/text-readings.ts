import type { NewReading } from '#libs/contracts/index.js';

/** A value somebody wrote into a sentence, and the words it stood in. */
export interface TextReading {
  readonly quote: string;
  readonly reading: NewReading;
}

/** What shops call the two sides, the vents and the weighed charge, in the words of English, German and Spanish notes (common practice). */
const LOW = 'low(?:[- ]?side)?|suction|lp|niederdruck|nd|baja';
const HIGH = 'high(?:[- ]?side)?|head|discharge|hp|hochdruck|hd|alta';
const VENT = 'vents?|outlet|duct|ausströmer|salida';
const RECOVERED = 'recovered|reclaimed|abgesaugt|recuperad[oa]s?';
const NUMBER = String.raw`(-?\d{1,4}(?:[.,]\d{1,2})?)`;
const PRESSURE = '(psig?|bar|kpa|mpa)';
const TEMPERATURE = String.raw`(°\s?[cf]|deg\.? ?[cf]|celsius|fahrenheit|[cf])`;
const MASS = '(g|gr|grams?|kg|oz|lbs?)';
/** Few words between a name and its value: what stands further off is said of something else. */
const GAP = String.raw`[^\d\n.;!?,-]{0,16}?`;
const named = (words: string, unit: string) =>
  new RegExp(String.raw`(?<![\p{L}\d])(${words})(?![\p{L}])${GAP}${NUMBER}\s?${unit}(?![\p{L}\d])`, 'giu');
const AT_REST = /(?:static|at rest|resting|engine off|compressor off|ruhe|stillstand|en reposo)[^.;!?\n]{0,24}$/iu;
const LONGEST_QUOTE = 200;
/** UCUM codes of the units as they are written, small letters and without blanks. */
const CODES: Readonly<Record<string, string>> = {
  ...{ psi: '[psi]', psig: '[psi]', bar: 'bar', kpa: 'kPa', mpa: 'MPa' },
  ...{ '°c': 'Cel', degc: 'Cel', c: 'Cel', celsius: 'Cel', '°f': '[degF]', degf: '[degF]', f: '[degF]', fahrenheit: '[degF]' },
  ...{ g: 'g', gr: 'g', gram: 'g', grams: 'g', kg: 'kg', oz: '[oz_av]', lb: '[lb_av]', lbs: '[lb_av]' },
};

interface Pattern {
  readonly find: RegExp;
  readonly reading: Pick<NewReading, 'quantity' | 'place' | 'instrument' | 'meaning'>;
}
const pressureAt = (place: 'low-side-port' | 'high-side-port') => ({ quantity: 'pressure', place }) as const;
const PATTERNS: readonly Pattern[] = [
  { find: named(LOW, PRESSURE), reading: pressureAt('low-side-port') },
  { find: named(HIGH, PRESSURE), reading: pressureAt('high-side-port') },
  { find: named(VENT, TEMPERATURE), reading: { quantity: 'temperature', place: 'vent' } },
  {
    find: named(RECOVERED, MASS),

    reading: { quantity: 'mass', place: 'service-machine', instrument: 'service-machine', meaning: 'recovered-charge' },
  },
];
/** "28/210 psi": the low side first, as gauges stand (common practice). */
const PAIR = new RegExp(String.raw`(?<![\p{L}\d/.])${NUMBER}\s?/\s?${NUMBER}\s?${PRESSURE}(?![\p{L}\d])`, 'giu');

/** Every expression that a shop's sentences are searched with. */
export const SEARCHED_WITH: readonly RegExp[] = [...PATTERNS.map(({ find }) => find), PAIR, AT_REST];

/**
 * Readings that stand in what somebody wrote. Proposals, never facts: a sentence may speak of another day, of what should be, or of the value after
 * the repair. What the words do not say (phase, instrument, what zero means) is left out; a value without a unit is none.
 */
export function readingsInText(text: string): TextReading[] {
  const found: (TextReading & { readonly at: number })[] = [];
  const add = (match: RegExpExecArray, reading: Pattern['reading'], value: string, unit: string) => {
    const code = CODES[unit.toLowerCase().replaceAll(/[\s.]/g, '')];
    if (code === undefined) return;
    const phase = reading.quantity === 'pressure' && AT_REST.test(text.slice(0, match.index)) ? ({ phase: 'rest' } as const) : {};
    const quote = match[0].trim().slice(0, LONGEST_QUOTE);
    found.push({ at: match.index, quote, reading: { ...reading, ...phase, value: Number(value.replace(',', '.')), unit: code } });
  };
  for (const { find, reading } of PATTERNS) {
    for (const match of text.matchAll(find)) add(match, reading, match[2]!, match[3]!);
  }
  for (const match of text.matchAll(PAIR)) {
    add(match, pressureAt('low-side-port'), match[1]!, match[3]!);
    add(match, pressureAt('high-side-port'), match[2]!, match[3]!);
  }
  return found.sort((a, b) => a.at - b.at).map(({ quote, reading }) => ({ quote, reading }));
}
