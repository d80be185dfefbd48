import { BadSample } from '#libs/numeric/index.js';
import { chiSquareUpper } from '../special/normal.js';
import { type RiskSets, riskSets, stepAt } from './risk-sets.js';
import { type Columns, columnsOf, type Sample } from './sample.js';

/**
 * Log-rank test of two or more groups, optionally within strata.
 *
 * E_g = sum d_j Y_gj/Y_j,  V_gh = sum d_j (Y_j - d_j)/(Y_j - 1) (Y_gj/Y_j) (1{g=h} - Y_hj/Y_j), summed over times and strata
 * each term weighted by 1 (log-rank) or by the pooled S(t-) of its stratum (peto-peto, which leans on early differences), squared in V
 * chi-square = (O - E)' V^- (O - E) with rank(V) degrees of freedom
 *
 * Every end > 0 is the event; for one kind of end among several pass `causeOnly(sample, cause)`.
 * strata[g][i] names the stratum of episode i of group g; left out, all are in one.
 * Null chi-square and p: no time at which two groups were both at risk and something happened.
 * Sources: Mantel (1966); Peto and Peto (1972); Klein and Moeschberger (2003), sections 7.3 and 7.5.
 */
export interface LogRank {
  readonly observed: readonly number[];
  readonly expected: readonly number[];
  readonly variance: readonly (readonly number[])[];
  readonly chiSquare: number | null;
  readonly degreesOfFreedom: number;
  readonly pValue: number | null;
}

export type LogRankWeight = 'log-rank' | 'peto-peto';

export function logRank(
  groups: readonly Sample[],
  strata?: readonly ArrayLike<number | string>[],
  weight: LogRankWeight = 'log-rank',
): LogRank {
  if (groups.length < 2) throw new BadSample('a log-rank test needs at least two groups');
  const size = groups.length;
  const observed = new Array<number>(size).fill(0);
  const expected = new Array<number>(size).fill(0);
  const variance = Array.from({ length: size }, () => new Array<number>(size).fill(0));
  for (const part of split(groups.map(columnsOf), strata)) {
    const sets = part.map((sample) => riskSets(sample));
    addStratum(sets, weight, { observed, expected, variance });
  }
  const { value, rank } = quadraticForm(
    variance,
    observed.map((o, g) => o - expected[g]!),
  );
  for (const row of variance) Object.freeze(row);
  return Object.freeze({
    observed: Object.freeze(observed),
    expected: Object.freeze(expected),
    variance: Object.freeze(variance),
    chiSquare: rank > 0 ? value : null,
    degreesOfFreedom: rank,
    pValue: rank > 0 ? chiSquareUpper(value, rank) : null,
  });
}

interface Totals {
  readonly observed: number[];
  readonly expected: number[];
  readonly variance: number[][];
}

function addStratum(sets: readonly RiskSets[], weight: LogRankWeight, { observed, expected, variance }: Totals): void {
  let survival = 1;
  const times = Float64Array.from(new Set(sets.flatMap((s) => Array.from(s.times)))).sort();
  for (const t of times) {
    const atRisk = sets.map((s) => {
      const j = stepAt(s.times, t);
      const next = s.times[j] === t ? j : j + 1;
      return next < s.times.length ? s.atRisk[next]! : 0;
    });
    const deaths = sets.map((s) => {
      const j = stepAt(s.times, t);
      return s.times[j] === t ? s.events.reduce((sum, column) => sum + column[j]!, 0) : 0;
    });
    const y = atRisk.reduce((a, b) => a + b, 0);
    const d = deaths.reduce((a, b) => a + b, 0);
    if (d === 0) continue;
    const w = weight === 'peto-peto' ? survival : 1;
    survival *= 1 - d / y;
    for (let g = 0; g < sets.length; g++) {
      const share = atRisk[g]! / y;
      observed[g]! += w * deaths[g]!;
      expected[g]! += w * d * share;
      if (y === 1) continue;
      for (let h = 0; h < sets.length; h++) {
        variance[g]![h]! += ((w * w * d * (y - d)) / (y - 1)) * share * ((g === h ? 1 : 0) - atRisk[h]! / y);
      }
    }
  }
}

function split(groups: readonly Columns[], strata?: readonly ArrayLike<number | string>[]): readonly (readonly Columns[])[] {
  if (strata === undefined) return [groups];
  const places = new Map<number | string, number[][]>();
  groups.forEach((sample, g) => {
    if (strata[g]?.length !== sample.time.length) throw new BadSample(`group ${g} has ${sample.time.length} episodes, not as many strata`);
    for (let i = 0; i < sample.time.length; i++) {
      const name = strata[g][i]!;
      let lists = places.get(name);
      if (lists === undefined) {
        lists = groups.map(() => []);
        places.set(name, lists);
      }
      lists[g]!.push(i);
    }
  });
  return [...places.values()].map((lists) =>
    lists.map((list, g) => ({
      time: Float64Array.from(list, (i) => groups[g]!.time[i]!),
      end: Int32Array.from(list, (i) => groups[g]!.end[i]!),
    })),
  );
}

// The rows of V sum to 0, so its last pivot is only rounding; a group never at risk with an event has an empty row.
const NO_PIVOT = 1e-9;

/** x' V^- x and the rank of V, V symmetric and non-negative definite, by elimination with diagonal pivots. */
function quadraticForm(variance: readonly (readonly number[])[], x: readonly number[]): { value: number; rank: number } {
  const v = variance.map((row) => row.slice());
  const r = x.slice();
  const left = new Set(r.keys());
  const scale = Math.max(...v.map((row, i) => row[i]!));
  let value = 0;
  let rank = 0;
  while (left.size > 0) {
    const pivot = [...left].reduce((a, b) => (v[b]![b]! > v[a]![a]! ? b : a));
    const diagonal = v[pivot]![pivot]!;
    if (!(diagonal > NO_PIVOT * scale)) break;
    left.delete(pivot);
    value += r[pivot]! ** 2 / diagonal;
    rank++;
    for (const i of left) {
      const factor = v[i]![pivot]! / diagonal;
      r[i]! -= factor * r[pivot]!;
      for (const j of left) v[i]![j]! -= factor * v[pivot]![j]!;
    }
  }
  return { value, rank };
}
