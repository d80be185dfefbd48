/** Seeded random numbers for the simulation studies: the same seed gives the same study on any machine. */
export interface Random {
  uniform(): number;
  normal(): number;
  exponential(): number;
  gamma(shape: number): number;
  beta(a: number, b: number): number;
  poisson(mean: number): number;
  binomial(n: number, p: number): number;
  /** Gamma-mixed Poisson: variance mean + mean^2/size. */
  negativeBinomial(mean: number, size: number): number;
}

export function seeded(seed: number): Random {
  // Mulberry32: 2^32 states, enough for the some 10^7 numbers of a study. Never 0, whose logarithm is not finite.
  let state = seed >>> 0;
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return (((t ^ (t >>> 14)) >>> 0) + 0.5) / 4294967296;
  };
  const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
  // Marsaglia and Tsang (2000); a shape under 1 is raised by one and scaled back.
  const gamma = (shape: number): number => {
    if (shape < 1) return gamma(shape + 1) * uniform() ** (1 / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = normal();
      const v = (1 + c * x) ** 3;
      if (v > 0 && Math.log(uniform()) < (x * x) / 2 + d - d * v + d * Math.log(v)) return d * v;
    }
  };
  const beta = (a: number, b: number) => {
    const x = gamma(a);
    return x / (x + gamma(b));
  };
  // Large counts are halved by order statistics (Ahrens and Dieter 1974), small ones counted out.
  const poisson = (mean: number): number => {
    if (mean > 30) {
      const m = Math.floor((mean * 7) / 8);
      const at = gamma(m);
      return at > mean ? binomial(m - 1, mean / at) : m + poisson(mean - at);
    }
    const least = Math.exp(-mean);
    let k = -1;
    for (let product = 1; product > least || k < 0; k++) product *= uniform();
    return k;
  };
  const binomial = (n: number, p: number): number => {
    if (n > 60) {
      const i = Math.floor(1 + n / 2);
      const at = beta(i, n + 1 - i);
      return at <= p ? i + binomial(n - i, (p - at) / (1 - at)) : binomial(i - 1, p / at);
    }
    let k = 0;
    for (let i = 0; i < n; i++) if (uniform() < p) k++;
    return k;
  };
  return {
    uniform,
    normal,
    exponential: () => -Math.log(uniform()),
    gamma,
    beta,
    poisson,
    binomial,
    negativeBinomial: (mean, size) => (size === Number.POSITIVE_INFINITY ? poisson(mean) : poisson((gamma(size) * mean) / size)),
  };
}
