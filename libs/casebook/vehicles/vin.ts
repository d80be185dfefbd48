/**
 * Vehicle identification number: check digit, model year and the parts kept beside the hash.
 *
 * source   49 CFR 565.15 (17 characters; 1–3 maker, 9 check digit, 10 model year, 11 plant, 12–17 sequence). The
 *          transliteration and weights are from memory of 49 CFR 565.15(c), checked on 1M8GDM9AXKP042788 (check digit X)
 *          and on seventeen ones (check digit 1).
 * limits   The check digit binds only vehicles built for one market, so a wrong one is a warning, never a refusal.
 */
const TRANSLITERATION: Readonly<Record<string, number>> = {
  A: 1,
  B: 2,
  C: 3,
  D: 4,
  E: 5,
  F: 6,
  G: 7,
  H: 8,
  J: 1,
  K: 2,
  L: 3,
  M: 4,
  N: 5,
  P: 7,
  R: 9,
  S: 2,
  T: 3,
  U: 4,
  V: 5,
  W: 6,
  X: 7,
  Y: 8,
  Z: 9,
};
const WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2] as const;
const YEAR_LETTERS = 'ABCDEFGHJKLMNPRSTVWXY123456789';

export interface VinFacts {
  /** Upper case, without blanks and hyphens. */
  readonly vin: string;
  readonly maker: string | null;
  readonly plant: string | null;
  /** Build sequence in thousands; null where the last six are not digits. */
  readonly sequenceBucket: number | null;
  readonly modelYear: number | null;
  readonly doubts: readonly VinDoubt[];
}

export interface VinDoubt {
  readonly code: 'vin-length' | 'vin-letter' | 'vin-check-digit';
  readonly detail: string;
  readonly remedy: string;
}

/** The check digit of a 17-character VIN, or null when a character has no value. Position 9 has weight 0. */
export function vinCheckDigit(vin: string): string | null {
  if (vin.length !== 17) return null;
  let sum = 0;
  for (let i = 0; i < 17; i++) {
    const character = vin[i]!;
    const value = /\d/.test(character) ? Number(character) : TRANSLITERATION[character];
    if (value === undefined) return null;
    sum += value * WEIGHTS[i]!;
  }
  const rest = sum % 11;
  return rest === 10 ? 'X' : String(rest);
}

/**
 * Model year from position 10. The code repeats every 30 years; of the two candidates the later one that is not beyond
 * `latestYear` is taken, except that a digit in position 7 marks the first cycle (light vehicles).
 */
export function vinModelYear(vin: string, latestYear: number): number | null {
  const index = YEAR_LETTERS.indexOf(vin[9] ?? '?');
  if (index < 0) return null;
  const first = 1980 + index;
  const second = first + 30;
  if (/\d/.test(vin[6] ?? '')) return first;
  return second <= latestYear ? second : first;
}

/** Reads what a VIN tells. Odd VINs (short, foreign, mistyped) are kept and reported, since the car is real either way. */
export function readVin(typed: string, latestYear: number): VinFacts {
  const vin = typed.toUpperCase().replace(/[\s-]/g, '');
  const doubts: VinDoubt[] = [];
  if (vin.length !== 17) {
    doubts.push({
      code: 'vin-length',
      detail: `A VIN has 17 characters; this one has ${vin.length}.`,
      remedy: 'Read it again from the windscreen plate. If the car really carries a shorter number, set vinChecked to true.',
    });
    return Object.freeze({ vin, maker: null, plant: null, sequenceBucket: null, modelYear: null, doubts });
  }
  if (/[IOQ]/.test(vin)) {
    doubts.push({
      code: 'vin-letter',
      detail: 'A VIN has no letters I, O or Q.',
      remedy: 'They are usually the digits 1 and 0. Correct it, or set vinChecked to true.',
    });
  }
  const expected = vinCheckDigit(vin);
  if (expected !== null && expected !== vin[8]) {
    doubts.push({
      code: 'vin-check-digit',
      detail: `The check digit (ninth character) is ${vin[8]}, but the others give ${expected}.`,
      remedy:
        'Look for one mistyped or swapped pair of characters. Cars built for some markets carry no check digit: set vinChecked to true then.',
    });
  }
  const sequence = /^\d{6}$/.test(vin.slice(11)) ? Math.floor(Number(vin.slice(11)) / 1000) : null;
  return Object.freeze({
    vin,
    maker: vin.slice(0, 3),
    plant: vin[10]!,
    sequenceBucket: sequence,
    modelYear: vinModelYear(vin, latestYear),
    doubts,
  });
}

/** Whether the first eight characters fit a platform's pattern, where `?` stands for any character. */
export function vinMatches(vin: string, pattern: string): boolean {
  if (vin.length < 8) return false;
  for (let i = 0; i < 8; i++) if (pattern[i] !== '?' && pattern[i] !== vin[i]) return false;
  return true;
}
