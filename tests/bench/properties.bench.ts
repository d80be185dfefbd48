import { pathToFileURL } from 'node:url';
import { fastSaturationHumidity, saturationHumidityRatio } from '#libs/air/index.js';
import { FLUID_NAMES, fluid, fluidTables, saturationAtP, saturationAtT, stateAtPH, stateAtPS } from '#libs/refrigerant/index.js';

/** A cost as a multiple of a reference operation measured in the same process, so that it does not hang on the machine: small is fast. */
export interface BenchLine {
  readonly name: string;
  /** Cost of one call, as a multiple of the baseline's. */
  readonly ratio: number;
  readonly baseline: string;
  /** The ratio must not exceed this. */
  readonly aim: number;
  readonly detail: string;
}

/** Arguments that walk over the working range, so that neither the branch predictor nor the cache sees one case only. */
const COUNT = 4096;
const walk = (i: number, from: number, to: number): number => from + ((to - from) * ((i * 2654435761) % 4294967296)) / 4294967296;

/** Seconds a call: the best of several rounds. The sum keeps the calls from being optimised away. */
function seconds(run: (i: number) => number, calls: number): number {
  let best = Number.POSITIVE_INFINITY;
  let sum = 0;
  for (let round = 0; round < 5; round++) {
    const start = performance.now();
    for (let i = 0; i < calls; i++) sum += run(i & (COUNT - 1));
    best = Math.min(best, (performance.now() - start) / calls / 1000);
  }
  if (!Number.isFinite(sum)) throw new Error('a property was not finite');
  return best;
}

/** Run-time tables against the exact equation at the same arguments. Takes about five seconds. */
export function runPropertiesBench(): BenchLine[] {
  const lines: BenchLine[] = [];
  const add = (name: string, fast: (i: number) => number, baseline: string, exact: (i: number) => number, aim: number): void => {
    const exactCost = seconds(exact, COUNT / 2);
    const fastCost = seconds(fast, 20 * COUNT);
    lines.push({
      name,
      ratio: fastCost / exactCost,
      baseline,
      aim,
      detail: `${(fastCost * 1e9).toFixed(0)} ns against ${(exactCost * 1e9).toFixed(0)} ns: ${(exactCost / fastCost).toFixed(0)} times faster`,
    });
  };
  for (const name of FLUID_NAMES) {
    const start = performance.now();
    const tables = fluidTables(name);
    const built = performance.now() - start;
    const exact = fluid(name);
    const p = Float64Array.from({ length: COUNT }, (_, i) => walk(i, 1e5, 0.95 * tables.pMax));
    const T = Float64Array.from(p, (one) => tables.tSat(one));
    // Enthalpies from subcooled liquid through the dome to 40 K of superheat.
    const h = Float64Array.from(p, (one, i) => walk(i * 7 + 1, tables.hLiquid(one) - 3e4, tables.hPT(one, tables.tSat(one) + 40)));
    const s = Float64Array.from(p, (one, i) => tables.s(one, h[i]!));
    add(
      `${name}: tSat(p)`,
      (i) => tables.tSat(p[i]!),
      'exact saturation at p',
      (i) => saturationAtP(exact, p[i]!).T,
      1 / 200,
    );
    add(
      `${name}: pSat(T)`,
      (i) => tables.pSat(T[i]!),
      'exact saturation at T',
      (i) => saturationAtT(exact, T[i]!).p,
      1 / 20,
    );
    add(
      `${name}: T(p,h)`,
      (i) => tables.T(p[i]!, h[i]!),
      'exact flash at (p,h)',
      (i) => stateAtPH(exact, p[i]!, h[i]!).T,
      1 / 20,
    );
    add(
      `${name}: rho(p,h)`,
      (i) => tables.rho(p[i]!, h[i]!),
      'exact flash at (p,h)',
      (i) => stateAtPH(exact, p[i]!, h[i]!).rho,
      1 / 20,
    );
    add(
      `${name}: s(p,h)`,
      (i) => tables.s(p[i]!, h[i]!),
      'exact flash at (p,h)',
      (i) => stateAtPH(exact, p[i]!, h[i]!).s,
      1 / 20,
    );
    add(
      `${name}: h(p,s)`,
      (i) => tables.hPS(p[i]!, s[i]!),
      'exact flash at (p,s)',
      (i) => stateAtPS(exact, p[i]!, s[i]!).h,
      1 / 20,
    );
    const solve = seconds((i) => saturationAtP(exact, p[i]!).T, COUNT / 2);
    lines.push({
      name: `${name}: building the tables`,
      ratio: built / 1000 / solve,
      baseline: 'exact saturation at p',
      aim: 20_000,
      detail: `${built.toFixed(0)} ms, once a process`,
    });
  }
  const airT = Float64Array.from({ length: COUNT }, (_, i) => walk(i, 265, 320));
  add(
    'air: saturation humidity',
    (i) => fastSaturationHumidity(airT[i]!, 95_000),
    'psychrolib',
    (i) => saturationHumidityRatio(airT[i]!, 95_000),
    1,
  );
  return lines;
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  for (const line of runPropertiesBench()) console.log(JSON.stringify(line));
}
