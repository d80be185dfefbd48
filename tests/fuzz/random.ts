/** Numbers from a seed, the same every time (mulberry32): what a run found can be found again. */
export interface Random {
  /** At least 0, below 1. */
  unit(): number;
  /** Whole, at least 0, below `n`. */
  below(n: number): number;
  pick<T>(list: readonly T[]): T;
}

export function randomOf(seed: number): Random {
  let state = seed >>> 0;
  const unit = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const below = (n: number) => Math.floor(unit() * n);
  return { unit, below, pick: (list) => list[below(list.length)]! };
}
