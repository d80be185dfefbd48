import { CMD, D0, D1, DIMS, DUTY, E, L, Q1, Q2, TC, TD, TQ1, TQ2, TS, TV } from '../dims.js';

/**
 * What separates one sound model of a vehicle from another and from vehicles: an error of structure that no draw of parameters of one model
 * shows. Independent causes with their loadings, K and shares. Set on cases of the judging model drawn for this purpose alone
 * (seeds from 1,000,000 on; see docs/validation.md), never on the cases the published figures come from.
 */
const CAUSES: readonly Readonly<Record<number, number>>[] = [
  { [D0]: 1.6, [D1]: 1.6, [Q1]: 1.6, [Q2]: 1.6, [TQ1]: 1.6, [TQ2]: 1.6, [TD]: 1.6 },
  { [L]: 1.2, [E]: 1.2, [TS]: 1.2, [TV]: 0.7, [TC]: 0.7 },
  { [Q1]: 0.6, [Q2]: 0.6, [TQ1]: 0.6, [TQ2]: 0.6 },
  { [TQ1]: 2.5, [TQ2]: 2.5 },
  { [TS]: 2.5 },
  { [TD]: 9 },
  { [TV]: 0.9, [TC]: 0.9 },
  { [TV]: 0.6 },
  { [CMD]: 0.12 },
  { [DUTY]: 0.12 },
];

/** Covariance of the structural error, row-major DIMS x DIMS. */
export const STRUCTURE: Float64Array = (() => {
  const out = new Float64Array(DIMS * DIMS);
  for (const cause of CAUSES) {
    const dims = Object.keys(cause).map(Number);
    for (const i of dims) for (const j of dims) out[i * DIMS + j]! += cause[i]! * cause[j]!;
  }
  return out;
})();
