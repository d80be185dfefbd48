import { BadSample } from '#libs/numeric/index.js';
import { checkLevel } from '../survival/sample.js';
import { type BetaPart, mergeParts, mixtureMean, mixtureQuantile } from './beta-mixture.js';
import { type Branch, posteriorOfTree, type Tree } from './hierarchy.js';

/**
 * Probabilities of many small cells, each shrunk towards its family, its fault and its repair, with intervals that carry the uncertainty of
 * the shrinkage itself.
 *
 * x ~ Binomial(n, p), p ~ Beta(m s_0, (1 - m) s_0) around the family's mean m, m ~ Beta(M s_1, (1 - M) s_1) around the fault's mean M, and so on;
 * the last mean is uniform on 0..1; each level has one size s (prior episodes), with the uniform shrinkage prior 12/(s + 12)^2
 *
 * path: keys from the finest to the coarsest (platform x fault x repair, family x fault x repair, fault x repair, repair): 2 to 5 of them, all
 * cells the same number; a cell appears once. n, events: counts, may be fractional (effective counts of a censored sample), 0 <= events <= n.
 * estimate: posterior mean. low, high: posterior quantiles, sizes and all means integrated out. borrowed: share of the estimate that comes
 * from the prior, s/(s + n) averaged. shown: the finest level of the path with at least `minimum` episodes (the coarsest if none has).
 * Cost about 0.5 s for 1,000 cells with 4 levels. Empty in, empty out.
 * Accuracy: sizes on five points from 2 to 250, means on 121 points of the log odds; posteriors are summed up as mixtures of betas with equal moments.
 * Coverage of nominal 95 % intervals is simulated in tests/validate: 92-97 %, where the plug-in interval of empirical Bayes has 84 %.
 * Sources: Morris (1983), JASA 78:47, on the interval; Daniels (1999), Can. J. Stat. 27:567, on the uniform shrinkage prior.
 */
export interface SmallCell {
  readonly path: readonly string[];
  readonly n: number;
  readonly events: number;
}

export interface ShrunkRate {
  readonly estimate: number;
  readonly low: number;
  readonly high: number;
  readonly n: number;
  readonly events: number;
}

export interface ShownRate extends ShrunkRate {
  /** Place in the path: 0 is the cell itself. */
  readonly level: number;
  readonly key: string;
}

export interface SmallCellRate extends ShrunkRate {
  readonly borrowed: number;
  readonly shown: ShownRate;
}

export interface SmallCellOptions {
  readonly level?: number;
  readonly minimum?: number;
}

export function smallCellRates(
  cells: readonly SmallCell[],
  { level = 0.95, minimum = 5 }: SmallCellOptions = {},
): readonly SmallCellRate[] {
  checkLevel(level);
  if (cells.length === 0) return Object.freeze([]);
  const posterior = posteriorOfTree(treeOf(cells));
  const tail = (1 - level) / 2;
  const known = new Map<string, ShrunkRate>();
  const rateOf = (branch: Branch): ShrunkRate => {
    // Cells of one family with equal counts have one posterior; of 1,000 small cells most are such.
    const id = branch.level === 0 ? `${branch.parent!.place} ${branch.n} ${branch.events}` : `${branch.level}:${branch.place}`;
    let rate = known.get(id);
    if (!rate) {
      rate = summary(posterior.parts(branch), tail, branch.n, branch.events);
      known.set(id, rate);
    }
    return rate;
  };
  return Object.freeze(
    posterior.leaves.map((leaf) => {
      let branch = leaf;
      while (branch.n < minimum && branch.parent) branch = branch.parent;
      const shown = Object.freeze({ level: branch.level, key: branch.key, ...rateOf(branch) });
      return Object.freeze({ ...rateOf(leaf), borrowed: Math.min(1, posterior.borrowed(leaf)), shown });
    }),
  );
}

// Parts of the mixture under this weight move a 95 % limit by less than its own resolution.
const NEGLIGIBLE = 1e-3;

function summary(parts: readonly (BetaPart & { readonly key: number })[], tail: number, n: number, events: number): ShrunkRate {
  const merged = mergeParts(parts).filter((p) => p.weight > NEGLIGIBLE);
  const total = merged.reduce((sum, p) => sum + p.weight, 0);
  const scaled = merged.map((p) => ({ ...p, weight: p.weight / total }));
  return Object.freeze({
    estimate: mixtureMean(scaled),
    low: mixtureQuantile(scaled, tail),
    high: mixtureQuantile(scaled, 1 - tail),
    n,
    events,
  });
}

function treeOf(cells: readonly SmallCell[]): Tree {
  const depth = cells[0]!.path.length;
  if (!(depth >= 2 && depth <= 5)) throw new BadSample(`a path of ${depth} keys, not 2 to 5`);
  const branches = new Map<string, Branch>();
  const levels: Branch[][] = Array.from({ length: depth }, () => []);
  for (const { path, n, events } of cells) {
    if (path.length !== depth) throw new BadSample(`paths of ${depth} and of ${path.length} keys`);
    if (!(n >= 0 && n < Number.POSITIVE_INFINITY && events >= 0 && events <= n * (1 + 1e-12))) {
      throw new BadSample(`cell ${path[0]}: ${events} events of ${n}`);
    }
    let parent: Branch | null = null;
    let id = '';
    for (let level = depth - 1; level >= 0; level--) {
      id = `${id}\u0000${path[level]}`;
      let branch = branches.get(id);
      if (branch && level === 0) throw new BadSample(`cell ${path[0]} is given twice`);
      if (!branch) {
        branch = { key: path[level]!, level, parent, children: [], n: 0, events: 0, place: levels[level]!.length };
        branches.set(id, branch);
        levels[level]!.push(branch);
        parent?.children.push(branch);
      }
      branch.n += n;
      branch.events += Math.min(events, n);
      parent = branch;
    }
  }
  return { levels };
}
