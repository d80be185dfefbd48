import { BadSample } from '#libs/numeric/index.js';

/**
 * Adjusted p-values for many tests, and selection in two steps.
 *
 * Benjamini-Hochberg: q_(i) = min over j >= i of min(1, m p_(j)/j); rejecting q <= a keeps the expected share of false findings at a
 * Benjamini-Yekutieli: the same times 1 + 1/2 + .. + 1/m, for tests that depend on each other in any way
 * Holm: q_(i) = max over j <= i of min(1, (m - j + 1) p_(j)), the chance of even one false finding
 *
 * Result in the order given. Ties keep equal values. Empty in, empty out; BadSample for p outside 0..1.
 * Sources: Benjamini and Hochberg (1995), JRSS B 57:289; Benjamini and Yekutieli (2001); Holm (1979).
 */
export type Adjustment = 'benjamini-hochberg' | 'benjamini-yekutieli' | 'holm';

export function adjustedP(p: readonly number[], method: Adjustment = 'benjamini-hochberg'): readonly number[] {
  p.forEach((value, i) => {
    if (!(value >= 0 && value <= 1)) throw new BadSample(`p-value ${i} is ${value}, not in 0..1`);
  });
  const m = p.length;
  const order = p.map((_, i) => i).sort((a, b) => p[a]! - p[b]!);
  const adjusted = new Array<number>(m).fill(1);
  if (method === 'holm') {
    let most = 0;
    order.forEach((at, rank) => {
      most = Math.max(most, Math.min(1, (m - rank) * p[at]!));
      adjusted[at] = most;
    });
    return Object.freeze(adjusted);
  }
  let factor = m;
  if (method === 'benjamini-yekutieli') {
    let harmonic = 0;
    for (let i = 1; i <= m; i++) harmonic += 1 / i;
    factor *= harmonic;
  }
  let least = 1;
  for (let rank = m; rank >= 1; rank--) {
    const at = order[rank - 1]!;
    least = Math.min(least, (factor * p[at]!) / rank);
    adjusted[at] = least;
  }
  return Object.freeze(adjusted);
}

export interface Family<K> {
  readonly key: K;
  /** p-value of the family as a whole (a pair of faults over all platforms). */
  readonly p: number;
  /** p-values of its members (the pair on each platform). */
  readonly members: readonly number[];
}

export interface Selection<K> {
  readonly key: K;
  readonly q: number;
  readonly selected: boolean;
  /** Whether each member passes at level share * (families selected)/(families), empty in a family not selected. */
  readonly members: readonly boolean[];
}

/**
 * Selective testing: Benjamini-Hochberg over families, then inside each of the R selected families of m at level a R/m.
 *
 * Keeps the expected average share of false members over the selected families at a. Source: Benjamini and Bogomolov (2014), JRSS B 76:297.
 */
export function selectFamilies<K>(families: readonly Family<K>[], share = 0.05): readonly Selection<K>[] {
  const q = adjustedP(families.map((f) => f.p));
  const passed = q.filter((value) => value <= share).length;
  const inner = families.length === 0 ? 0 : (share * passed) / families.length;
  return Object.freeze(
    families.map((family, i) => {
      const selected = q[i]! <= share;
      const members = selected ? adjustedP(family.members).map((value) => value <= inner) : [];
      return Object.freeze({ key: family.key, q: q[i]!, selected, members: Object.freeze(members) });
    }),
  );
}
