import { sfc32 } from '#libs/numeric/index.js';

/** Draws of one vehicle: a stream of its own, so that adding vehicles changes none of those before. */
export interface Draw {
  /** 0 ≤ u < 1 */
  unit(): number;
  /** Whole number from 0 up to, not including, n. */
  below(n: number): number;
  /** Mean 1. */
  exponential(): number;
  /** Standard normal. */
  normal(): number;
  /** Index drawn in proportion to the weights. */
  weighted(weights: readonly number[]): number;
}

/** The stream of one vehicle: its own seed, mixed from the region's and the vehicle's number. */
export function drawsOf(seed: number, stream: number): Draw {
  const random = sfc32((mix(seed) ^ mix(stream + 1)) >>> 0);
  return {
    unit: random.uniform,
    below: random.below,
    exponential: () => -Math.log1p(-random.uniform()),
    normal: random.normal,
    weighted: (weights) => {
      let left = random.uniform() * weights.reduce((sum, weight) => sum + weight, 0);
      for (let i = 0; i < weights.length; i++) {
        left -= weights[i]!;
        if (left < 0) return i;
      }
      return weights.length - 1;
    },
  };
}

/** Spreads neighbouring numbers over all 32 bits (the finaliser of MurmurHash3, in the public domain). */
function mix(x: number): number {
  let z = (x + 0x9e3779b9) | 0;
  z = Math.imul(z ^ (z >>> 16), 0x85ebca6b);
  z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
  return (z ^ (z >>> 16)) >>> 0;
}
