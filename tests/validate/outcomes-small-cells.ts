import { betaQuantile, fitBetaBinomial, shrunkRates, smallCellRates } from '#libs/outcomes/index.js';
import { seeded } from './outcomes-random.js';

/** Share of true values inside nominal 95 % intervals, and their mean width. */
export interface Coverage {
  readonly covered: number;
  readonly width: number;
}

export interface CellStudy {
  readonly name: string;
  readonly carried: Coverage;
  /** Empirical Bayes with its fit taken for the truth. */
  readonly plugIn: Coverage;
}

const PLANS = [
  { name: '8 cells of 10', cells: 8, n: 10, mean: 0.2, size: 10, share: 1 },
  { name: '20 cells of 10, wide', cells: 20, n: 10, mean: 0.3, size: 4, share: 0.5 },
  { name: '200 cells of 5', cells: 200, n: 5, mean: 0.2, size: 20, share: 0.2 },
] as const;

/** Binomial cells under one mean: `studies` data sets of each plan (fewer of the large ones). */
export function cellStudy(studies: number, seed: number): readonly CellStudy[] {
  const random = seeded(seed);
  return PLANS.map(({ name, cells, n, mean, size, share }) => {
    const carried = tally();
    const plugIn = tally();
    for (let study = 0; study < Math.ceil(studies * share); study++) {
      const truth = Array.from({ length: cells }, () => random.beta(mean * size, (1 - mean) * size));
      const events = truth.map((p) => random.binomial(n, p));
      smallCellRates(events.map((x, i) => ({ path: [`${i}`, 'all'], n, events: x }))).forEach((rate, i) => {
        carried.add(truth[i]!, rate.low, rate.high);
      });
      if (!events.some((x) => x > 0)) continue;
      const { alpha, beta } = fitBetaBinomial(events.map((x) => ({ events: x, n })));
      events.forEach((x, i) => {
        plugIn.add(truth[i]!, betaQuantile(0.025, alpha + x, beta + n - x), betaQuantile(0.975, alpha + x, beta + n - x));
      });
    }
    return { name, carried: carried.result(), plugIn: plugIn.result() };
  });
}

/** A tree of 3 repairs, each with 4 faults, each with 4 families of 3 platforms: coverage of the cells' intervals. */
export function treeStudy(studies: number, seed: number): Coverage {
  const random = seeded(seed);
  const cover = tally();
  const below = (m: number, size: number) => Math.min(1 - 1e-9, Math.max(1e-9, random.beta(m * size, (1 - m) * size)));
  for (let study = 0; study < studies; study++) {
    const cells: { path: string[]; n: number; events: number; truth: number }[] = [];
    for (let repair = 0; repair < 3; repair++) {
      const top = 0.05 + 0.4 * random.uniform();
      for (let fault = 0; fault < 4; fault++) {
        const middle = below(top, 15);
        for (let family = 0; family < 4; family++) {
          const near = below(middle, 30);
          for (let platform = 0; platform < 3; platform++) {
            const truth = below(near, 40);
            const n = 1 + Math.floor(random.uniform() * 25);
            const keys = [`${platform}`, `${family}`, `${fault}`, `${repair}`];
            cells.push({ path: keys.map((_, i) => keys.slice(i).join('.')), n, events: random.binomial(n, truth), truth });
          }
        }
      }
    }
    smallCellRates(cells).forEach((rate, i) => {
      cover.add(cells[i]!.truth, rate.low, rate.high);
    });
  }
  return cover.result();
}

/** Poisson rates of 12 cells with unequal exposures. */
export function rateStudy(studies: number, seed: number): Coverage {
  const random = seeded(seed);
  const cover = tally();
  for (let study = 0; study < studies; study++) {
    const cells = Array.from({ length: 12 }, () => {
      const truth = random.gamma(2) * 0.5;
      const exposure = 1 + 9 * random.uniform();
      return { truth, exposure, events: random.poisson(truth * exposure) };
    });
    shrunkRates(cells).forEach((rate, i) => {
      cover.add(cells[i]!.truth, rate.low, rate.high);
    });
  }
  return cover.result();
}

function tally() {
  let total = 0;
  let inside = 0;
  let width = 0;
  return {
    add(truth: number, low: number, high: number) {
      total++;
      width += high - low;
      if (low <= truth && truth <= high) inside++;
    },
    result: (): Coverage => ({ covered: inside / total, width: width / total }),
  };
}
