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

/** Splitmix-seeded sfc32 (C. Doty-Humphrey's small fast counting generator): 128 bits of state, plenty for a demo. */
export function drawsOf(seed: number, stream: number): Draw {
  let a = mix(seed);
  let b = mix(seed ^ mix(stream + 1));
  let c = mix(stream ^ 0x9e3779b9);
  let counter = 1;
  const next = () => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + t) | 0;
    return (t >>> 0) / 2 ** 32;
  };
  for (let i = 0; i < 12; i++) next();
  return {
    unit: next,
    below: (n) => Math.floor(next() * n),
    exponential: () => -Math.log1p(-next()),
    normal: () => Math.sqrt(-2 * Math.log1p(-next())) * Math.cos(2 * Math.PI * next()),
    weighted: (weights) => {
      let left = next() * weights.reduce((sum, weight) => sum + weight, 0);
      for (let i = 0; i < weights.length; i++) {
        left -= weights[i]!;
        if (left < 0) return i;
      }
      return weights.length - 1;
    },
  };
}

function mix(x: number): number {
  let z = (x + 0x9e3779b9) | 0;
  z = Math.imul(z ^ (z >>> 16), 0x85ebca6b);
  z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
  return (z ^ (z >>> 16)) | 0;
}
