import { logBeta } from '../special/beta.js';
import { logGamma } from '../special/gamma.js';
import { type BetaPart, betaOf } from './beta-mixture.js';
import { betaKernel, type Kernel, MEAN_GRID, MEANS, momentsOf, passUp } from './kernel.js';

/**
 * Posterior of every node of a tree of beta-distributed means over binomial counts, the sizes of the levels integrated out.
 *
 * Upwards each node sends its parent the log likelihood of the parent's mean: a beta-binomial from a cell, an integral over its own mean from
 * the others. Downwards each node hears the same from everything outside it, summed up by the mean and variance of a beta. One such pass for
 * each combination of sizes; combinations are weighed by their evidence, those under 0.2 % of the weight left out.
 * Source: belief propagation on a tree (Pearl 1988); here on a grid of 121 means (kernel.ts).
 */
export interface Branch {
  readonly key: string;
  readonly level: number;
  readonly parent: Branch | null;
  readonly children: Branch[];
  /** Place among the branches of its level. */
  readonly place: number;
  n: number;
  events: number;
}

export interface Tree {
  /** levels[0] are the cells, the last level the roots. */
  readonly levels: readonly (readonly Branch[])[];
}

export interface TreePosterior {
  readonly leaves: readonly Branch[];
  /** Beta parts of a branch's posterior, keyed by the size it was drawn with. */
  parts(branch: Branch): readonly (BetaPart & { readonly key: number })[];
  borrowed(leaf: Branch): number;
}

const SIZES = [2, 6, 18, 60, 250] as const;
/** Median of the uniform shrinkage prior: half of the prior weight is on less borrowing than 12 episodes are worth. */
const MEDIAN_SIZE = 12;
// On a grid even in ln s, the density s0/(s + s0)^2 ds weighs s s0/(s + s0)^2.
const LOG_PRIOR = SIZES.map((s) => Math.log((s * MEDIAN_SIZE) / (s + MEDIAN_SIZE) ** 2));
const LEAST_WEIGHT = 2e-3;
/** In log evidence: a combination of under e^-9, a twentieth of the least weight, leads nowhere. */
const SEARCH = 9;

let kernels: readonly Kernel[] | undefined;

/** Made at first use: 40 ms. */
function kernelTable(): readonly Kernel[] {
  kernels ??= SIZES.map((size) => betaKernel(size));
  return kernels;
}

export function posteriorOfTree(tree: Tree): TreePosterior {
  const links = tree.levels.length - 1;
  const combinations = weighted(tree, links);
  const parts = tree.levels.map((level) => level.map((): (BetaPart & { key: number })[] => []));
  const borrowed = new Float64Array(tree.levels[0]!.length);
  for (const { sizes, weight, up } of combinations) passDown(tree, sizes, weight, up, parts, borrowed);
  return {
    leaves: tree.levels[0]!,
    parts: (branch) => parts[branch.level]![branch.place]!,
    borrowed: (leaf) => borrowed[leaf.place]!,
  };
}

/** What each branch says about its own mean (own) and about its parent's (message), by level and place, for one combination of sizes. */
interface Upward {
  readonly own: readonly (readonly Float64Array[])[];
  readonly message: readonly (readonly Float64Array[])[];
}

interface Combination {
  readonly sizes: readonly number[];
  readonly weight: number;
  readonly up: Upward;
}

// The last mean is uniform on 0..1: p(1 - p) in the measure of the log odds.
const ROOT_PRIOR = Float64Array.from(MEAN_GRID, (p) => Math.log(p * (1 - p)));

/**
 * The combinations of sizes that carry weight, searched for outwards from the middle of the grid: the most likely one not yet looked around is next, until
 * none is left within SEARCH of the best. What lies beyond is left out unseen: it would have to be another hill, cut off by a valley of under SEARCH.
 */
function weighted(tree: Tree, links: number): readonly Combination[] {
  const upTo = new Map<string, Upward>([['', { own: [[]], message: [] }]]);
  const upward = (sizes: readonly number[]): Upward => {
    const key = sizes.join();
    let up = upTo.get(key);
    if (!up) {
      const level = sizes.length - 1;
      const s = sizes[level]!;
      const { own, message } = upward(sizes.slice(0, level));
      const sent = level === 0 ? cellMessages(tree.levels[0]!, SIZES[s]!) : own[level]!.map((log) => passUp(log, kernelTable()[s]!));
      const heard = tree.levels[level + 1]!.map((branch) => add(branch.children.map((child) => sent[child.place]!)));
      up = { own: [...own, heard], message: [...message, sent] };
      upTo.set(key, up);
    }
    return up;
  };
  const found = new Map<string, { readonly sizes: readonly number[]; readonly log: number; readonly up: Upward; isAround: boolean }>();
  const look = (sizes: readonly number[]): void => {
    if (found.has(sizes.join())) return;
    const up = upward(sizes);
    let log = sizes.reduce((sum, s) => sum + LOG_PRIOR[s]!, 0);
    for (const root of up.own[links]!) log += momentsOf(root.map((v, i) => v + ROOT_PRIOR[i]!)).logMass;
    found.set(sizes.join(), { sizes, log, up, isAround: false });
  };
  look(Array.from({ length: links }, () => SIZES.length >> 1));
  for (;;) {
    const all = [...found.values()];
    const most = all.reduce((a, f) => Math.max(a, f.log), Number.NEGATIVE_INFINITY);
    const next = all.filter((f) => !f.isAround && most - f.log < SEARCH).sort((a, b) => b.log - a.log)[0];
    if (!next) break;
    next.isAround = true;
    for (let level = 0; level < links; level++) {
      for (const step of [-1, 1]) {
        const s = next.sizes[level]! + step;
        if (s >= 0 && s < SIZES.length) look(next.sizes.with(level, s));
      }
    }
  }
  const all = [...found.values()];
  const most = all.reduce((a, f) => Math.max(a, f.log), Number.NEGATIVE_INFINITY);
  const total = all.reduce((sum, f) => sum + Math.exp(f.log - most), 0);
  const kept = all.filter((f) => Math.exp(f.log - most) / total > LEAST_WEIGHT);
  const mass = kept.reduce((sum, f) => sum + Math.exp(f.log - most), 0);
  return kept.map(({ sizes, log, up }) => ({ sizes, weight: Math.exp(log - most) / mass, up }));
}

function add(vectors: readonly Float64Array[]): Float64Array {
  const sum = new Float64Array(MEANS);
  for (const v of vectors) for (let i = 0; i < MEANS; i++) sum[i]! += v[i]!;
  return sum;
}

/** ln B(m s + x, (1 - m) s + n - x)/B(m s, (1 - m) s) for every mean of the grid; equal counts share one vector. */
function cellMessages(cells: readonly Branch[], size: number): readonly Float64Array[] {
  const known = new Map<string, Float64Array>();
  const base = MEAN_GRID.map((m) => logGamma(m * size) + logGamma((1 - m) * size) - logGamma(size));
  return cells.map(({ n, events }) => {
    const id = `${n},${events}`;
    let vector = known.get(id);
    if (!vector) {
      const shared = logGamma(size + n);
      vector = Float64Array.from(
        MEAN_GRID,
        (m, i) => logGamma(m * size + events) + logGamma((1 - m) * size + n - events) - shared - base[i]!,
      );
      known.set(id, vector);
    }
    return vector;
  });
}

/** The child's prior from all that is known of its parent's mean but for the child's own word on it. */
function priorOf(parent: Float64Array, message: Float64Array, size: number): { readonly a: number; readonly b: number } {
  const { mean, variance } = momentsOf(parent.map((v, i) => v - message[i]!));
  return betaOf(mean, variance + (mean - mean * mean - variance) / (size + 1));
}

function passDown(
  tree: Tree,
  sizes: readonly number[],
  weight: number,
  up: Upward,
  parts: (BetaPart & { key: number })[][][],
  borrowed: Float64Array,
): void {
  const links = sizes.length;
  let full: readonly Float64Array[] = tree.levels[links]!.map((root) => up.own[links]![root.place]!.map((v, i) => v + ROOT_PRIOR[i]!));
  tree.levels[links]!.forEach((root) => {
    const { mean, variance } = momentsOf(full[root.place]!);
    parts[links]![root.place]!.push({ key: 0, weight, ...betaOf(mean, variance) });
  });
  for (let level = links - 1; level >= 0; level--) {
    const key = sizes[level]!;
    const size = SIZES[key]!;
    const next: Float64Array[] = [];
    // Children with equal messages to one parent hear the same from it.
    const heard = full.map(() => new Map<Float64Array, { readonly a: number; readonly b: number }>());
    for (const branch of tree.levels[level]!) {
      const message = up.message[level]![branch.place]!;
      const known = heard[branch.parent!.place]!;
      const prior = known.get(message) ?? priorOf(full[branch.parent!.place]!, message, size);
      known.set(message, prior);
      if (level === 0) {
        const { n, events } = branch;
        const a = prior.a + events;
        const b = prior.b + n - events;
        parts[0]![branch.place]!.push({ key, weight, a, b });
        const drawn = prior.a + prior.b;
        borrowed[branch.place]! += (weight * drawn) / (drawn + n);
        continue;
      }
      const scale = logBeta(prior.a, prior.b);
      const own = up.own[level]![branch.place]!;
      const posterior = own.map((v, i) => v + prior.a * Math.log(MEAN_GRID[i]!) + prior.b * Math.log1p(-MEAN_GRID[i]!) - scale);
      next[branch.place] = posterior;
      const moments = momentsOf(posterior);
      parts[level]![branch.place]!.push({ key, weight, ...betaOf(moments.mean, moments.variance) });
    }
    full = next;
  }
}
