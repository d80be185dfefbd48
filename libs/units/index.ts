export * from './quantity.js';
export { editDistance, findUnit, fromSI, nearest, suggestUnit, toSI, UNIT_CODES, type UnitCode, type UnitKind } from './ucum.js';
