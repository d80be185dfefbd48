export * from './quantity.js';
export {
  differenceFromSI,
  differenceToSI,
  editDistance,
  findUnit,
  fromSI,
  nearest,
  suggestUnit,
  toSI,
  UNIT_CODES,
  type UnitCode,
  type UnitKind,
} from './ucum.js';
