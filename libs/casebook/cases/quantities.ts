import type { ProblemIssue, Quantity, ReadingQuantity } from '#libs/contracts/index.js';
import { findUnit, suggestUnit, toSI, type UnitKind } from '#libs/units/index.js';
import { ImplausibleEvidence } from './cases.errors.js';

/** Which kinds of unit each quantity of a reading may be typed in. */
const KINDS: Readonly<Record<ReadingQuantity, readonly UnitKind[]>> = {
  pressure: ['pressure'],
  temperature: ['temperature'],
  'relative-humidity': ['ratio'],
  speed: ['frequency'],
  mass: ['mass'],
  fraction: ['ratio'],
  current: ['current'],
  voltage: ['voltage'],
  time: ['time'],
};

export type Converted =
  | { readonly ok: true; readonly si: number; readonly siUnit: string }
  | { readonly ok: false; readonly issue: ProblemIssue };

/** The value in SI, or what is wrong with its unit and which one was likely meant. */
export function convert(value: number, unit: string, kinds: readonly UnitKind[], pointer: string): Converted {
  const known = findUnit(unit);
  if (known && kinds.includes(known.kind)) return { ok: true, si: toSI(value, known), siUnit: known.si };
  const meant = suggestUnit(unit, kinds);
  if (known) {
    return {
      ok: false,
      issue: {
        pointer: `${pointer}/unit`,
        code: 'units/wrong_kind',
        detail: `"${unit}" is a unit of ${known.kind}; this value needs a unit of ${kinds.join(' or ')}.`,
        remedy: meant ? `Did you mean "${meant.code}"?` : 'See GET /v1/units for the units of each kind.',
      },
    };
  }
  return {
    ok: false,
    issue: {
      pointer: `${pointer}/unit`,
      code: 'units/unknown',
      detail: `"${unit}" is not a UCUM code of ${kinds.join(' or ')} that this service knows.`,
      remedy: meant ? `Did you mean "${meant.code}" (${meant.name})?` : 'See GET /v1/units for the codes.',
    },
  };
}

export function convertReading(quantity: ReadingQuantity, value: number, unit: string, pointer: string): Converted {
  return convert(value, unit, KINDS[quantity], pointer);
}

/** SI value of a quantity that must be of one kind. @throws ImplausibleEvidence */
export function requireSi(quantity: Quantity, kind: UnitKind, pointer: string): number {
  const converted = convert(quantity.value, quantity.unit, [kind], pointer);
  if (!converted.ok) throw new ImplausibleEvidence([converted.issue]);
  return converted.si;
}

const MAX_ODOMETER_KM = 3_000_000;

/** Odometer in km. @throws ImplausibleEvidence for a wrong unit or an impossible distance. */
export function odometerKm(quantity: Quantity, pointer: string): number {
  const km = requireSi(quantity, 'length', pointer) / 1000;
  if (km < 0 || km > MAX_ODOMETER_KM) {
    throw new ImplausibleEvidence([
      {
        pointer: `${pointer}/value`,
        code: 'cases/impossible_odometer',
        detail: `An odometer of ${Math.round(km)} km cannot be right.`,
        remedy: 'Check the digits and the unit (km or [mi_i]).',
      },
    ]);
  }
  return Math.round(km * 10) / 10;
}
