/** A source of reproducible random numbers. */
export interface Random {
  /** Uniform on [0, 1) with 53 bits. */
  uniform(): number;
  /** Standard normal. */
  normal(): number;
  /** Whole number, 0 to n - 1. */
  below(n: number): number;
  /** The next 32 bits, 0 to 2^32 - 1. */
  bits(): number;
}

/**
 * Random numbers from a seed by sfc32, a small fast chaotic generator with 96 bits of state and a 32-bit counter, so that no seed has a period
 * below 2^32. The same seed gives the same numbers on every machine. Not for secrets.
 *
 * seed   whole number from 0 to 2^53
 * source C. Doty-Humphrey, PractRand (public domain): recurrence, seeding from two 32-bit halves, 12 rounds to mix them.
 */
export function sfc32(seed: number): Random {
  let a = 0;
  let b = seed >>> 0;
  let c = Math.floor(seed / 2 ** 32) >>> 0;
  let counter = 1;
  let spare: number | null = null;
  const bits = (): number => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + t) | 0;
    return t >>> 0;
  };
  for (let i = 0; i < 12; i++) bits();
  const uniform = (): number => ((bits() >>> 5) * 67_108_864 + (bits() >>> 6)) / 9_007_199_254_740_992;
  return Object.freeze({
    bits,
    uniform,
    below: (n: number) => Math.floor(uniform() * n),
    normal(): number {
      if (spare !== null) {
        const kept = spare;
        spare = null;
        return kept;
      }
      // Marsaglia's polar method: two numbers from a point inside the unit circle.
      for (;;) {
        const u = 2 * uniform() - 1;
        const v = 2 * uniform() - 1;
        const q = u * u + v * v;
        if (q > 0 && q < 1) {
          const factor = Math.sqrt((-2 * Math.log(q)) / q);
          spare = v * factor;
          return u * factor;
        }
      }
    },
  });
}
