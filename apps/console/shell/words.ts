import {
  clockValues,
  compressorKindValues,
  episodeEndValues,
  faultCodeValues,
  layoutValues,
  observationSetValues,
  proofMethodValues,
  repairActionValues,
  repairIntentValues,
} from '../client/generated/api.ts';

/** Codes of the service are words already; on screen they lose their hyphens and gain a capital. */
export function words(code: string): string {
  const plain = SPECIAL[code] ?? code.replaceAll('-', ' ');
  return plain.charAt(0).toUpperCase() + plain.slice(1);
}

/** The same within a sentence. */
export function inSentence(code: string): string {
  const whole = words(code);
  return code.startsWith('R-') ? whole : whole.charAt(0).toLowerCase() + whole.slice(1);
}

const SPECIAL: Readonly<Record<string, string>> = {
  'cools-not': 'does not cool',
  'cools-at-times': 'cools at times',
  'permanent-later': 'full repair later',
  left: 'not seen again',
  running: 'still holding',
  'same-fault': 'came back: same fault',
  'consequent-fault': 'came back: fault that follows',
  'same-complaint': 'came back: same complaint',
  'repair-caused': 'came back: caused by the repair',
  'orifice-accumulator': 'orifice tube and accumulator',
  'valve-receiver': 'expansion valve and receiver-drier',
  'valve-integral-receiver': 'expansion valve, receiver on the condenser',
  'fixed-clutch': 'fixed stroke with clutch',
  'variable-commanded': 'variable stroke, commanded',
  variable: 'variable stroke',
  'R-134a': 'R-134a',
  'R-1234yf': 'R-1234yf',
  'degree-days': 'cooling degree-days',
};

/** A share in percent; what is nearly sure is not rounded to sure. */
export function percent(share: number): string {
  if (share > 0.995 && share < 1) return '> 99 %';
  return `${(100 * share).toFixed(share < 0.095 && share > 0 ? 1 : 0)} %`;
}

const wholeNumber = new Intl.NumberFormat('en', { maximumFractionDigits: 0 });
export const count = (n: number): string => wholeNumber.format(n);
export const plural = (n: number, one: string, many = `${one}s`): string => `${count(n)} ${n === 1 ? one : many}`;

const dayFormat = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' });
/** A calendar day or the day of an instant, e.g. 2 Jun 2025. */
export const day = (instant: string): string => dayFormat.format(new Date(instant));
const momentFormat = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short' });
export const moment = (instant: string): string => momentFormat.format(new Date(instant));

/** A ratio or a small quantity: two figures that mean something. */
export function decimal(value: number): string {
  const size = Math.abs(value);
  return value.toFixed(size >= 20 ? 0 : size >= 0.995 || size === 0 ? 1 : 2);
}

/** A difference as a share, with its sign. */
export const signedPercent = (share: number): string =>
  `${share > 0 ? '+' : share < 0 ? '−' : '±'}${(100 * Math.abs(share)).toFixed(Math.abs(share) < 0.0995 ? 1 : 0)} %`;

const CODES = new Set<string>(
  [
    faultCodeValues,
    repairActionValues,
    repairIntentValues,
    episodeEndValues,
    layoutValues,
    compressorKindValues,
    observationSetValues,
    proofMethodValues,
    clockValues,
  ].flat(),
);
const monthFormat = new Intl.DateTimeFormat('en-GB', { month: 'long', year: 'numeric', timeZone: 'UTC' });
/** A month as it is stored, YYYY-MM, in words. */
export const monthWords = (month: string): string => monthFormat.format(new Date(`${month}-01T00:00:00Z`));
const shortMonthFormat = new Intl.DateTimeFormat('en-GB', { month: 'short', year: 'numeric', timeZone: 'UTC' });
export const shortMonth = (month: string): string => shortMonthFormat.format(new Date(`${month}-01T00:00:00Z`));

/** A whole number of four digits or more that something is counted in. */
const COUNTED =
  /\b\d{4,}(?= (?:of (?:\d|the )|(?:such |whole |proved |judged )?(?:repairs|returns|cases|charges|cars|vehicles|cells|episodes|degree-days)\b))/g;

/** A sentence of the service as people read it: its codes as words, its days and months as dates, its thousands apart. */
export const said = (sentence: string): string =>
  sentence
    // Before dates are written out: a year that was a part of one must not be taken for a count.
    .replace(COUNTED, (n) => count(Number(n)))
    .replace(/\b[a-z]+(?:-[a-z]+)+/g, (code) => (CODES.has(code) ? inSentence(code) : code))
    .replace(/\b\d{4}-\d{2}-\d{2}\b/g, day)
    .replace(/\b\d{4}-(?:0[1-9]|1[0-2])\b(?!-)/g, monthWords);

/** Where a period begins and ends, in words. */
export const periodWords = (since: string, until: string | null): string =>
  `since ${day(since)}${until === null ? '' : ` and before ${day(until)}`}`;
