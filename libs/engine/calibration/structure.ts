import { CMD, D0, D1, DIMS, DUTY, E, L, Q1, Q2, TC, TD, TQ1, TQ2, TS, TV } from '../dims.js';

/**
 * What separates one sound model of a vehicle from another and from vehicles: an error of structure that no draw of parameters of one model
 * shows. Independent causes with their loadings, K and shares. Set on cases of the judging model drawn for this purpose alone
 * (seeds from 1,000,000 on; see docs/validation.md), never on the cases the published figures come from.
 */
const CAUSES: readonly Readonly<Record<number, number>>[] = [
  { [D0]: 1.6, [D1]: 1.6, [Q1]: 1.6, [Q2]: 1.6, [TQ1]: 1.6, [TQ2]: 1.6, [TD]: 1.6 },
  { [L]: 1.3, [E]: 1.3, [TS]: 1.3, [TV]: 0.8, [TC]: 0.8 },
  { [Q1]: 0.6, [Q2]: 0.6, [TQ1]: 0.6, [TQ2]: 0.6 },
  { [TQ1]: 2.8, [TQ2]: 2.8 },
  { [TS]: 2.2 },
  { [TD]: 6 },
  { [TV]: 1.3, [TC]: 1.3 },
  { [TV]: 0.8 },
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
